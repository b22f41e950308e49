"""How is what follows from a job told to the page? In the words and digits of the reports."""

from __future__ import annotations

from contextlib import suppress
from math import degrees

from photomeasure.errors import JobError
from photomeasure.exporters import words
from photomeasure.exporters.overlay import drawn_strokes
from photomeasure.exporters.titles import quantity_titles
from photomeasure.geometry.camera import camera_centre, tilt_rad
from photomeasure.records.job import Job, MeasurementEntry, ReadingEntry
from photomeasure.records.report import Decision, Measurement, Offer, Quantity, Report
from photomeasure.records.shapes import DrawnLabel
from photomeasure.records.view import View
from photomeasure.rules.judging import sizes_of
from photomeasure.rules.limits import limit_words, missing_sizes
from photomeasure.vision.pictures import box_mm
from photomeasure.vision.targets import planes_of, target_of
from photomeasure.web import answers
from photomeasure.web.desk import Views
from photomeasure.web.locating import chain, located
from photomeasure.web.results import Outcome


def results_answer(revision: str, outcome: Outcome) -> answers.Results:
    """The same for the page."""
    report = outcome.report
    overall = words.overall(report) if report else None
    return answers.Results(
        revision=revision,
        photos=photo_answers(outcome.job, outcome.views),
        features=[_feature(name.name, outcome) for name in outcome.job.features],
        measurements=[_measurement(entry, outcome) for entry in outcome.job.judged],
        overall=overall.value if overall else "",
        problem=outcome.problem,
        warnings=list(report.warnings) if report else [],
        cautions=list(report.cautions) if report else [],
        not_checked=list(report.not_checked) if report else [],
    )


def photo_answers(job: Job, views: Views) -> list[answers.PhotoAnswer]:
    """Every photo of the job with where the camera stood, or what is wrong with it."""
    seen = {s.entry.name: s for s in views.seen}
    solved = views.solution.views if views.solution else ()
    return [
        answers.PhotoAnswer(
            name=entry.name,
            sha256=seen[entry.name].sha256 if entry.name in seen else entry.sha256 or "",
            size_px=seen[entry.name].size_px if entry.name in seen else None,
            views=[_view(v) for v in solved if v.photo == entry.name],
            planes=_planes(job, entry.name, [v.sheet for v in solved if v.photo == entry.name]),
            problem=views.problems.get(entry.name, "" if views.solution else views.problem),
        )
        for entry in job.photos
    ]


def _planes(job: Job, photo: str, seen: list[str]) -> dict[str, str]:
    """Plane → what it is measured from in a photo that shows these sheets and cards."""
    planes = {}
    for name in planes_of(job) if seen else ():
        with suppress(JobError):
            planes[name] = target_of(job, photo, name, seen)
    return planes


def _view(view: View) -> answers.PhotoView:
    return answers.PhotoView(
        sheet=view.sheet,
        camera=view.camera.tolist(),
        pose=view.pose.tolist(),
        tilt_deg=degrees(tilt_rad(view.parameters)),
        camera_height_mm=float(camera_centre(view.parameters)[2]),
        residual_px=view.residual_px,
        box_mm=box_mm(view),
    )


def _feature(name: str, outcome: Outcome) -> answers.FeatureAnswer:
    report = outcome.report
    found = {f.name: f for f in report.features.features} if report else {}
    if report is None or name not in found:
        said = outcome.features.get(name) or outcome.problem or _photo_problem(name, outcome)
        return answers.FeatureAnswer(name=name, located=None, problem=said)
    one = found[name]
    height_mm = report.heights_mm[one.plane]
    return answers.FeatureAnswer(name=name, located=located(one, height_mm, report.solution))


def _photo_problem(name: str, outcome: Outcome) -> str:
    photo = next(f.photo for f in outcome.job.features if f.name == name)
    return outcome.views.problems.get(photo, f"Photo {photo!r} cannot be measured in.")


def _measurement(
    entry: MeasurementEntry | ReadingEntry, outcome: Outcome
) -> answers.MeasurementAnswer:
    name = entry.name
    kind = entry.kind if isinstance(entry, MeasurementEntry) else ""
    report = outcome.report
    found = {m.name: m for m in report.measurements} if report else {}
    if report is None or name not in found:
        said = outcome.measurements.get(name) or outcome.problem
        return answers.MeasurementAnswer(name=name, kind=kind, problem=said)
    one = found[name]
    titles = quantity_titles(report)
    return answers.MeasurementAnswer(
        name=name,
        kind=kind,
        by_hand=words.hand_words(one),
        numbers=[_number(q, titles[name, q.name], outcome.job.unit) for q in one.quantities],
        judged=[_judged(d, report) for d in report.decisions if d.measurement == name],
        readings=[
            answers.Reading(
                quantity=c.quantity, words=words.check_words(c, report), agrees=c.agrees
            )
            for c in report.checks
            if c.entry.measurement == name
        ],
        remarks=list(one.remarks),
        doubts=[answers.Doubt.model_validate(vars(d)) for d in report.doubts[name]],
        offers=[_offered(o, entry, one) for o in report.offers if o.measurement == name],
        drawing=_drawing(one, report),
    )


def _offered(
    offer: Offer, entry: MeasurementEntry | ReadingEntry, one: Measurement
) -> answers.Offered:
    rule = offer.rule
    return answers.Offered(
        rule=rule.name,
        limit=limit_words(rule) if rule.judges else "",
        advice=rule.advice,
        words=words.offer_words(offer),
        needs=list(missing_sizes(rule, sizes_of(entry, one))) if offer.missing else [],
        source=words.source_words(rule),
        standing=words.standing_words(rule),
        condition=rule.condition,
        why=rule.why,
    )


def _number(quantity: Quantity, title: str, unit: str) -> answers.Number:
    total = sum(u * u for u in quantity.budget.values())
    ordered = sorted(quantity.budget.items(), key=lambda item: -item[1])
    return answers.Number(
        name=quantity.name,
        words=title,
        unit=quantity.unit,
        primary=quantity.primary,
        value=quantity.value,
        u=quantity.u,
        expanded=quantity.expanded,
        figure=words.figure(quantity, unit),
        second=words.second_figure(quantity, unit),
        interval=words.interval_words(quantity, unit),
        budget=[
            answers.Source(
                source=source,
                u=words.standard_uncertainty(u, quantity.unit),
                share=u * u / total if total else 0.0,
            )
            for source, u in ordered
        ],
    )


def _judged(decision: Decision, report: Report) -> answers.Judged:
    rule = decision.rule
    return answers.Judged(
        rule=rule.name,
        quantity=decision.quantity,
        limit=limit_words(rule),
        verdict=decision.verdict.value,
        words=words.verdict_words(decision),
        can_fail=rule.can_fail,
        reason=decision.reason,
        settle=decision.settle,
        worked_out=decision.worked_out,
        source=words.source_words(rule),
        standing=words.standing_words(rule),
        condition=rule.condition,
        why=rule.why,
    )


def _drawing(measurement: Measurement, report: Report) -> answers.Drawing | None:
    if not measurement.features:
        return None
    first = report.features[measurement.features[0]]
    return answers.Drawing(
        photo=first.photo,
        sheet=first.target,
        height_mm=report.heights_mm[first.plane],
        strokes=[
            answers.Stroke(chain_mm=chain(s.points_px), role=s.role, arrows=s.arrows)
            for shape in measurement.drawing
            for s in drawn_strokes(shape, lambda mm: mm)
        ],
        labels=[
            answers.Label(at_mm=shape.at_mm, quantity=shape.quantity)
            for shape in measurement.drawing
            if isinstance(shape, DrawnLabel)
        ],
    )
