"""What follows from a job? Every number as the command line gives it, or why there is none.

The command line refuses a job with a fault in it; the page is where the job is being made,
so each photo, feature and measurement stands or falls by itself here. Where all of them
stand, the numbers are the command line's to the last digit: it is the same line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from photomeasure import pipeline
from photomeasure.errors import GeometryError, PhotomeasureError
from photomeasure.estimation.features import place_features
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import Job
from photomeasure.records.report import Measurement, Report
from photomeasure.vision.siblings import like_siblings
from photomeasure.web.desk import Desk, Views
from photomeasure.web.kept import Kept


@dataclass(frozen=True, eq=False)
class Outcome:
    """A report of everything that can be measured, and what is wrong with the rest.

    report : None where nothing at all can be said. problems : of features and measurements.
    """

    job: Job
    views: Views
    report: Report | None
    features: dict[str, str] = field(default_factory=dict)
    measurements: dict[str, str] = field(default_factory=dict)
    problem: str = ""


class Results:
    """The numbers of one job folder, kept as long as what they depend on stays."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._outcomes: Kept[Outcome] = Kept(8)
        self._measured: Kept[Measurement] = Kept(400)

    def of(self, job: Job) -> Outcome:
        """Everything that follows from a job."""
        key = (job, *(self._desk.stamp(p) for p in job.photos))
        return self._outcomes.get(key, lambda: self._work_out(job))

    def _work_out(self, job: Job) -> Outcome:
        views = self._desk.views(job)
        if views.solution is None:
            return Outcome(job, views, None, problem=views.problem)
        usable = views.usable(job)
        images, wrong = self._locate(usable)
        features, not_placed = _place(usable, views, images)
        wrong |= not_placed
        measured, without = self._measure(usable, features, wrong)
        outcome = Outcome(job, views, None, wrong, without)
        try:
            report = _report(usable, views, features, measured)
        except PhotomeasureError as error:
            return replace(outcome, problem=str(error))
        return replace(outcome, report=report)

    def _locate(self, job: Job) -> tuple[list[ImageFeature], dict[str, str]]:
        images, wrong = [], {}
        for entry in job.features:
            try:
                images.append(self._desk.locate(job, entry))
            except PhotomeasureError as error:
                wrong[entry.name] = str(error)
        return self._like_siblings(job, images), wrong

    def _like_siblings(self, job: Job, images: Sequence[ImageFeature]) -> list[ImageFeature]:
        """The features plane by plane, as `pipeline.measure` has them."""
        suited: dict[str, ImageFeature] = {}
        for where in dict.fromkeys((image.photo, image.plane) for image in images):
            on_plane = [i for i in images if (i.photo, i.plane) == where]
            again = partial(self._desk.locate, job)
            found = like_siblings(job, on_plane, self._desk.ground(job, on_plane[0]), again)
            suited |= {image.name: image for image in found}
        return [suited[image.name] for image in images]

    def _measure(
        self, job: Job, features: Features, wrong: dict[str, str]
    ) -> tuple[list[Measurement], dict[str, str]]:
        on_planes = features.features
        known = {f.name for f in on_planes}
        there = tuple(f for f in job.features if f.name in known)
        measured, without = [], {}
        for entry in job.measurements:
            missing = [n for _, names in entry.of for n in names if n not in known]
            if missing:
                without[entry.name] = f"Not found yet: {', '.join(missing)}."
                continue
            one = replace(job, measurements=(entry,), features=there)
            try:
                pipeline.refuse_two_frames(one, {(f.photo, f.plane): f.target for f in on_planes})
                measured.append(self._one(one, features))
            except PhotomeasureError as error:
                without[entry.name] = str(error)
        return measured, without

    def _one(self, job: Job, features: Features) -> Measurement:
        (entry,) = job.measurements
        used = [features[name] for _, names in entry.of for name in names]
        numbers = tuple(f.shape.numbers.tobytes() for f in used)
        blocks = tuple(
            c[f.indices][:, g.indices].tobytes()
            for c in features.covariances.values()
            for f in used
            for g in used
        )
        planes = tuple(f.plane for f in used)
        key = (replace(entry, rules=(), note=""), planes, numbers, blocks)
        return self._measured.get(key, lambda: evaluate_measurements(job, features)[0])


def _place(
    job: Job, views: Views, images: Sequence[ImageFeature]
) -> tuple[Features, dict[str, str]]:
    """All features in mm at once; where one cannot be, all but those that cannot."""
    found = {image.name for image in images}
    located = replace(job, features=tuple(f for f in job.features if f.name in found))
    heights = pipeline.heights_of(located)
    targets = pipeline.targets_of(located, views.seen)
    assert views.solution is not None
    place = partial(place_features, solution=views.solution, heights=heights, targets=targets)
    try:
        return place(images), {}
    except GeometryError:
        pass
    wrong = {}
    for image in images:
        try:
            place([image])
        except GeometryError as error:
            wrong[image.name] = str(error)
    return place([image for image in images if image.name not in wrong]), wrong


def _report(job: Job, views: Views, features: Features, measured: Sequence[Measurement]) -> Report:
    """The report of what could be measured, without pictures."""
    names = {m.name for m in measured}
    told = replace(
        job,
        measurements=tuple(m for m in job.measurements if m.name in names),
        checks=tuple(c for c in job.checks if c.measurement in names),
    )
    assert views.solution is not None
    return pipeline.collect(told, views.seen, views.solution, features, measured, ())
