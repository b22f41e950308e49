"""Every number of a report for another program: JSON whose keys are all documented.

Numbers are written in full and come back bit for bit. It refuses a number that is not
finite rather than write what JSON does not know.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from photomeasure import __version__
from photomeasure.errors import ExportError
from photomeasure.exporters.titles import quantity_titles
from photomeasure.exporters.words import (
    coverage_words,
    limit_words,
    measurement_of,
    offer_words,
    overall,
    replaced_words,
    verdict_words,
)
from photomeasure.geometry.camera import camera_centre, tilt_rad
from photomeasure.records.feature import Feature
from photomeasure.records.job import Job, Rule
from photomeasure.records.report import Check, Decision, Measurement, Offer, Quantity, Report
from photomeasure.records.view import CAMERA_PARAMETERS, POSE_PARAMETERS, View

FORMAT = 1
"""Raised when a key changes its meaning or goes; new keys do not raise it."""

_RULE_KEYS = {
    "name": "the rule's name",
    "quantity": "the quantity that it judges; empty for advice in words",
    "limit": "its limit in words, or its advice",
    "unit": "unit of its limits",
    "at_least": "lower limit or null",
    "at_most": "upper limit or null",
    "can_fail": "whether breaking it fails the job rather than advises",
    "status": "law, standard, supplier, practice or user",
    "unverified": "whether nobody checked its figure, so that it only advises",
    "condition": "where the rule holds",
    "why": "the reason for the rule",
    "source": "where the rule comes from",
    "edition": "edition of the source",
}

KEYS: dict[str, str] = {
    "format": "version of this layout; raised when a key changes its meaning or goes",
    "program.name": "photomeasure",
    "program.version": "version of the program that measured",
    "verdict": "worst verdict of the rules that can fail the job, or null when there is none; "
    "never conforms where something could not be measured",
    "job.title": "what the user called the job",
    "job.position": "the position that the machine was in",
    "job.note": "what the user noted",
    "job.unit": "the user's unit, mm or in; all lengths here are in mm all the same",
    "job.hazards[]": "what the job touches that can hurt",
    "job.photos[].name": "the photo's name in the job",
    "job.photos[].file": "the file, relative to the job's folder",
    "job.photos[].sha256": "SHA-256 of the file's bytes, or null",
    "job.photos[].camera": "SHA-256 of the camera record used, or null",
    "job.prints[].sheet": "identity of a printed sheet whose check bars were read",
    "job.prints[].bar_x_mm": "caliper reading of its x bar",
    "job.prints[].bar_y_mm": "caliper reading of its y bar",
    "job.prints[].plus_minus_mm": "half width of the readings' 95 % interval",
    "job.planes[].name": "a plane's name",
    "job.planes[].height_mm": "the height as stated, above the sheet or card",
    "job.planes[].depth_mm": "how far down walls go from it, or null where it was not said",
    "job.planes[].lean_deg": "by how much it may lean (95 %), or null where it was not said",
    "job.planes[].on": "identity of what it is measured from, or null where it was not said",
    "job.planes[].plus_minus_mm": "half width of its 95 % interval",
    "heights_mm.*": "plane → the height used, in mm above the sheet or card",
    "measurements[].name": "the measurement's name in the job",
    "measurements[].kind": "the kind of measurement",
    "measurements[].instrument": "what it was read with by hand; empty for what photos gave",
    "measurements[].features[]": "names of the features measured",
    "measurements[].remarks[]": "remarks in words",
    "measurements[].doubts[].short": "what weakens it and can be mended at once, in a word",
    "measurements[].doubts[].words": "the same in full, with the remedy",
    "measurements[].doubts[].mend": "bars to read, or a height to state",
    "measurements[].doubts[].features[]": "the features whose height is meant",
    "measurements[].quantities[].name": "the quantity's name",
    "measurements[].quantities[].words": "the same in plain words",
    "measurements[].quantities[].unit": "mm or deg",
    "measurements[].quantities[].primary": "whether it is the number asked for",
    "measurements[].quantities[].value": "best estimate",
    "measurements[].quantities[].u": "standard uncertainty",
    "measurements[].quantities[].U": "half width of the 95 % interval",
    "measurements[].quantities[].interval[]": "the 95 % interval, low then high",
    "measurements[].quantities[].coverage": "how the interval was found: k = 2 or Monte Carlo",
    "measurements[].quantities[].budget.*": "source → standard uncertainty from it alone",
    "decisions[].measurement": "the measurement judged",
    "decisions[].instrument": "what the number was read with by hand; empty for what photos gave",
    "decisions[].quantity": "the quantity judged",
    "decisions[].verdict": "conforms, does not conform or cannot tell (ISO 14253-1)",
    "decisions[].words": "the verdict as shown; a rule that only advises says so",
    "decisions[].probability": "probability that the true value obeys the rule",
    "decisions[].reason": "why, in words",
    "decisions[].settle": "what would settle it, in words",
    "decisions[].worked_out": "how the limits follow from a size or a tolerance; else empty",
    "decisions[].replaced": "the built-in rule that the job's own overrides, in words; else empty",
    **{f"decisions[].rule.{key}": meaning for key, meaning in _RULE_KEYS.items()},
    "offers[].measurement": "a measurement for which a rule is offered, not judged",
    "offers[].words": "how it would come out; empty for advice in words",
    "offers[].missing": "the size that would have to be stated first; else empty",
    "offers[].probability": "probability that the true value obeys it, or null",
    **{f"offers[].rule.{key}": meaning for key, meaning in _RULE_KEYS.items()},
    "checks[].measurement": "the measurement checked",
    "checks[].quantity": "the quantity checked",
    "checks[].instrument": "what it was checked with",
    "checks[].reading_mm": "the instrument's reading",
    "checks[].plus_minus_mm": "half width of the reading's 95 % interval",
    "checks[].measured_mm": "the photo's value",
    "checks[].e_n": "difference over the root sum of squares of both U (ISO/IEC 17043)",
    "checks[].agrees": "whether |E_n| is at most 1",
    "features[].name": "the feature's name in the job",
    "features[].kind": "point, edge, circle, curve, tube or row",
    "features[].photo": "the photo it was pointed at in",
    "features[].plane": "the plane it lies on",
    "features[].target": "identity of the sheet or card in whose frame its numbers are",
    "features[].numbers_mm[]": "point x y; edge x0 y0 x1 y1; circle x y r; curve and row x0 y0 "
    "x1 y1 …; tube x0 y0 x1 y1 of its axis, then r",
    "features[].u_mm[]": "standard uncertainty of each number",
    "features[].spread_px": "rms distance of the located points from the fitted shape",
    "features[].points": "how many edge points were located",
    "features[].chosen": "which of the edges that fit was used, counted from 1",
    "features[].alternatives[].number": "number of another edge that fits, for the job's choice",
    "features[].alternatives[].words": "which edge it is, in words",
    "features[].alternatives[].offset_mm": "its distance from the one used",
    "features[].warnings[]": "warnings about the feature",
    "views[].photo": "the photo",
    "views[].sheet": "identity of a sheet or card found in it",
    "views[].used": "whether a feature lies on a plane measured from it",
    "views[].size_px[]": "width and height of the upright photo",
    "views[].camera.*": "f, cx, cy in px of the upright photo; distortion k1 k2 p1 p2 k3",
    "views[].pose.*": "rotation vector in rad and translation in mm, camera from sheet",
    "views[].residual_px": "rms residual of the sheet's corners",
    "views[].held_out_mm": "error at corners that were not used, or null",
    "views[].tilt_deg": "angle between optical axis and the sheet's normal",
    "views[].camera_height_mm": "how high the camera stood above the sheet",
    "missing[].words": "why something could not be measured: what was seen, limit and remedy",
    "missing[].measurements[]": "the measurements of the job that it cost",
    "warnings[]": "what weakens the numbers",
    "cautions[]": "what can hurt",
    "not_checked[]": "what this report does not say",
}
"""Every key of the document, with its meaning. [] stands for a list, .* for any name."""


def render(report: Report) -> bytes:
    """UTF-8 JSON, lengths in mm, angles in degrees unless the key says rad.

    Raises ExportError when a number is not finite, naming its key.
    """
    document = _plain(_document(report))
    for path, value in _leaves(document):
        if isinstance(value, float) and not math.isfinite(value):
            raise ExportError(
                f"{path} is {value}, and JSON holds finite numbers only. "
                "Remove this measurement from the job, or correct its features."
            )
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8")


def _document(report: Report) -> dict[str, Any]:
    worst = overall(report)
    return {
        "format": FORMAT,
        "program": {"name": "photomeasure", "version": __version__},
        "verdict": worst.value if worst else None,
        "job": _job(report.job),
        "heights_mm": dict(report.heights_mm),
        "measurements": [_measurement(m, report) for m in report.measurements],
        "decisions": [_decision(d, report) for d in report.decisions],
        "offers": [_offer(o) for o in report.offers],
        "checks": [_check(c) for c in report.checks],
        "features": [_feature(f, report) for f in report.features.features],
        "views": [_view(v, report) for v in report.solution.views],
        "missing": [vars(missing) for missing in report.missing],
        "warnings": report.warnings,
        "cautions": report.cautions,
        "not_checked": report.not_checked,
    }


def _job(job: Job) -> dict[str, Any]:
    return {
        "title": job.title,
        "position": job.position,
        "note": job.note,
        "unit": job.unit,
        "hazards": job.hazards,
        "photos": [vars(photo) for photo in job.photos],
        "prints": [vars(sheet) for sheet in job.prints],
        "planes": [vars(plane) for plane in job.planes],
    }


def _measurement(measurement: Measurement, report: Report) -> dict[str, Any]:
    titles = quantity_titles(report)
    return {
        "name": measurement.name,
        "kind": measurement.kind,
        "instrument": measurement.instrument,
        "features": measurement.features,
        "remarks": measurement.remarks,
        "doubts": [vars(doubt) for doubt in report.doubts.get(measurement.name, ())],
        "quantities": [
            _quantity(q, titles[measurement.name, q.name]) for q in measurement.quantities
        ],
    }


def _quantity(quantity: Quantity, title: str) -> dict[str, Any]:
    return {
        "name": quantity.name,
        "words": title,
        "unit": quantity.unit,
        "primary": quantity.primary,
        "value": quantity.value,
        "u": quantity.u,
        "U": quantity.expanded,
        "interval": quantity.interval,
        "coverage": coverage_words(quantity),
        "budget": dict(quantity.budget),
    }


def _decision(decision: Decision, report: Report) -> dict[str, Any]:
    return {
        "measurement": decision.measurement,
        "instrument": measurement_of(report, decision.measurement).instrument,
        "quantity": decision.quantity,
        "verdict": decision.verdict.value,
        "words": verdict_words(decision),
        "probability": decision.probability,
        "reason": decision.reason,
        "settle": decision.settle,
        "worked_out": decision.worked_out,
        "replaced": replaced_words(decision),
        "rule": _rule(decision.rule),
    }


def _offer(offer: Offer) -> dict[str, Any]:
    return {
        "measurement": offer.measurement,
        "words": offer_words(offer),
        "missing": offer.missing,
        "probability": offer.decision.probability if offer.decision else None,
        "rule": _rule(offer.decision.rule if offer.decision else offer.rule),
    }


def _rule(rule: Rule) -> dict[str, Any]:
    facts = {**vars(rule), "can_fail": rule.can_fail, "limit": limit_words(rule)}
    return {key: facts[key] for key in _RULE_KEYS}


def _check(check: Check) -> dict[str, Any]:
    return {
        "measurement": check.entry.measurement,
        "quantity": check.quantity,
        "instrument": check.entry.instrument,
        "reading_mm": check.entry.value_mm,
        "plus_minus_mm": check.entry.plus_minus_mm,
        "measured_mm": check.measured_mm,
        "e_n": check.e_n,
        "agrees": check.agrees,
    }


def _feature(feature: Feature, report: Report) -> dict[str, Any]:
    image, indices = feature.image, feature.indices
    variances = sum(
        (np.diag(c)[indices] for c in report.features.covariances.values()),
        np.zeros(len(indices)),
    )
    return {
        "name": feature.name,
        "kind": feature.kind,
        "photo": feature.photo,
        "plane": feature.plane,
        "target": feature.target,
        "numbers_mm": feature.shape.numbers,
        "u_mm": np.sqrt(variances),
        "spread_px": image.spread_px,
        "points": len(image.points_px),
        "chosen": image.chosen,
        "alternatives": [
            {"number": a.number, "words": a.words, "offset_mm": a.offset_mm}
            for a in image.alternatives
        ],
        "warnings": image.warnings,
    }


def _view(view: View, report: Report) -> dict[str, Any]:
    return {
        "photo": view.photo,
        "sheet": view.sheet,
        "used": (view.photo, view.sheet) in report.targets,
        "size_px": view.size_px,
        "camera": dict(zip(CAMERA_PARAMETERS, view.camera, strict=True)),
        "pose": dict(zip(POSE_PARAMETERS, view.pose, strict=True)),
        "residual_px": view.residual_px,
        "held_out_mm": view.held_out_mm if math.isfinite(view.held_out_mm) else None,
        "tilt_deg": math.degrees(tilt_rad(view.parameters)),
        "camera_height_mm": camera_centre(view.parameters)[2],
    }


def _plain(value: Any) -> Any:
    """Arrays, tuples and numpy numbers as what JSON knows."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [_plain(item) for item in value]
    return value.item() if isinstance(value, np.generic) else value


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _leaves(item, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for k, item in enumerate(value):
            yield from _leaves(item, f"{path}[{k}]")
    else:
        yield path, value
