"""Job → report: the whole line, in order.

    photo → sheet seen → view → feature in the picture → feature in mm → measurement
    → decision → report

Needs no disk: photos come from `load`, camera records from a mapping.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import JobError
from photomeasure.estimation.calibrate import Calibration, calibrate_camera
from photomeasure.estimation.features import Height, place_features
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import TakenWith, lens_of
from photomeasure.estimation.priors import PRINTER_SCALE_U
from photomeasure.estimation.views import estimate_views
from photomeasure.measurements.evaluate import check_measurements, evaluate_measurements
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.photo import Photo
from photomeasure.records.report import Measurement, Picture, Report
from photomeasure.records.view import CameraRecord, MarkerObservation, Solution, View
from photomeasure.rules.cautions import cautions
from photomeasure.rules.checks import check_readings
from photomeasure.rules.decide import decide, find_rule, judged_quantity
from photomeasure.rules.remarks import job_warnings, not_checked
from photomeasure.vision.detection import detect_sheets, grey_of
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.pictures import rectified_picture, reduced_picture
from photomeasure.vision.sheets import identities, sheet
from photomeasure.vision.tone import estimate_tone

Array = NDArray[np.float64]
Load = Callable[[PhotoEntry], Photo]
Progress = Callable[[str], None]

SHEET_PLANE = "sheet"
_LEAST_READING_U_MM = 0.002  # no caliper reads a printed bar better than this


def _silent(message: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class _Seen:
    """One photo as far as its sheet goes."""

    entry: PhotoEntry
    sha256: str
    observation: MarkerObservation
    size_px: tuple[int, int]
    taken_with: TakenWith


def measure(
    job: Job,
    load: Load,
    cameras: Mapping[str, CameraRecord] | None = None,
    progress: Progress = _silent,
) -> Report:
    """Measure everything that a job asks for.

    load : gives the pixels of a photo entry. cameras : SHA-256 → record, for the photos
    that name one. progress : is told in words what happens.
    Raises PhotomeasureError, always in words a person can act on.
    """
    _refuse_loose_ends(job)
    check_measurements(job)
    once = _keep_last(load)
    seen = [_see(entry, once, cameras or {}, progress) for entry in job.photos]
    progress("working out where the camera stood")
    solution = _solve(job, seen)
    heights = _heights(job)
    located: list[ImageFeature] = []
    pictures: list[Picture] = []
    for one, view in zip(seen, solution.views, strict=True):
        features, shown = _look(job, one, view, once, heights, progress)
        located += features
        pictures += shown
    order = [entry.name for entry in job.features]
    located.sort(key=lambda f: order.index(f.name))
    progress("working out the numbers")
    _refuse_two_frames(job, solution)
    features_mm = place_features(located, solution, heights)
    measurements = evaluate_measurements(job, features_mm)
    return _report(job, seen, solution, features_mm, measurements, pictures, heights)


def calibrate(photos: Sequence[Photo], progress: Progress = _silent) -> Calibration:
    """A camera record from board photos, with what a plot of it needs."""
    sightings, facts = [], []
    for photo in photos:
        progress(f"looking for the board in {photo.name}")
        taken = lens_of(photo.name, photo.exif, photo.size_px, None, {})
        seen = detect_sheets(photo)[0]
        sightings.append(Sighting(seen, photo.size_px, taken.orientation, taken.key))
        facts.append((photo.exif, taken))
    progress("fitting the lens")
    return calibrate_camera(sightings, facts)


def _refuse_loose_ends(job: Job) -> None:
    """Raise JobError, listing every fault, for what names nothing that is there."""
    photos = {p.name for p in job.photos}
    features = {f.name for f in job.features}
    problems = [
        f"Feature {f.name!r} is in photo {f.photo!r}, which the job has not. Add it or rename."
        for f in job.features
        if f.photo not in photos
    ]
    problems += [
        f"Measurement {m.name!r} is of {name!r}, which the job has not. Add it or rename."
        for m in job.measurements
        for _, names in m.of
        for name in names
        if name not in features
    ]
    problems += [
        f"Bar readings are given for sheet {p.sheet!r}, which does not exist. Copy the identity "
        "that is printed on the sheet."
        for p in job.prints
        if p.sheet not in identities()
    ]
    if not job.measurements:
        problems.append(
            f"The job {job.title!r} has no measurements, so there is nothing to work out. Add "
            "at least one feature and one measurement to its job.toml."
        )
    if problems:
        raise JobError(problems)


def _refuse_two_frames(job: Job, solution: Solution) -> None:
    """Raise JobError where one measurement has features on two sheets."""
    sheets = {view.photo: view.sheet for view in solution.views}
    on = {f.name: sheets[f.photo] for f in job.features}
    for entry in job.measurements:
        seen = sorted({on[name] for _, names in entry.of for name in names})
        if len(seen) > 1:
            raise JobError(
                f"Measurement {entry.name!r} has features on {' and '.join(seen)}; where one "
                "sheet lies from the other is not known. Point at all of them on one sheet."
            )


def _keep_last(load: Load) -> Load:
    """A photo is looked at twice; one photo's pixels are kept, not all."""
    kept: dict[str, Photo] = {}

    def once(entry: PhotoEntry) -> Photo:
        if entry.name not in kept:
            kept.clear()
            kept[entry.name] = replace(load(entry), name=entry.name)
        return kept[entry.name]

    return once


def _see(
    entry: PhotoEntry, load: Load, cameras: Mapping[str, CameraRecord], progress: Progress
) -> _Seen:
    progress(f"looking for the sheet in {entry.name}")
    photo = load(entry)
    taken_with = lens_of(entry.name, photo.exif, photo.size_px, entry.camera, cameras)
    return _Seen(entry, photo.sha256, detect_sheets(photo)[0], photo.size_px, taken_with)


def _solve(job: Job, seen: Sequence[_Seen]) -> Solution:
    sightings = [
        Sighting(s.observation, s.size_px, s.taken_with.orientation, s.taken_with.key)
        for s in seen
    ]
    lenses = {s.taken_with.key: s.taken_with.prior for s in seen}
    sheets = dict.fromkeys(s.observation.sheet for s in seen)
    _, solution = estimate_views(sightings, lenses, {s: _scale(job, s) for s in sheets})
    return solution


def _scale(job: Job, identity: str) -> ScalePrior:
    """What the two bar readings say of the print, else an honest printer."""
    for entry in job.prints:
        if entry.sheet == identity:
            lengths = np.array([bar.length_mm for bar in sheet(identity).bars])
            read = np.array([entry.bar_x_mm, entry.bar_y_mm])
            u_mm = max(entry.plus_minus_mm / 2, _LEAST_READING_U_MM)
            return ScalePrior(read / lengths, u_mm / lengths)
    return ScalePrior(np.ones(2), np.full(2, PRINTER_SCALE_U))


def _heights(job: Job) -> dict[str, Height]:
    heights = {SHEET_PLANE: Height(0.0, 0.0)}
    heights |= {p.name: Height(p.height_mm, p.plus_minus_mm / 2) for p in job.planes}
    unknown = sorted({f.plane for f in job.features} - set(heights))
    if unknown:
        raise JobError(
            [f"Plane {name!r} is not in the job. Add it or rename." for name in unknown]
        )
    return heights


def _look(
    job: Job,
    seen: _Seen,
    view: View,
    load: Load,
    heights: Mapping[str, Height],
    progress: Progress,
) -> tuple[list[ImageFeature], list[Picture]]:
    """Locate what was pointed at in one photo, and make its pictures."""
    entries = [f for f in job.features if f.photo == seen.entry.name]
    photo = load(seen.entry)
    progress(f"locating {len(entries)} feature(s) in {seen.entry.name}")
    grey = grey_of(photo)
    tone = estimate_tone(grey, sheet(view.sheet), seen.observation)
    light = tone.table.astype(np.float32)[grey]
    scenery = Scenery(light, tone, view.parameters)
    located = [locate(e, scenery, heights[e.plane].mm) for e in entries]
    pictures = [reduced_picture(photo)]
    for plane in dict.fromkeys(e.plane for e in entries):
        box = _box_mm(view)
        pictures.append(rectified_picture(photo, view.parameters, plane, heights[plane].mm, box))
    return located, pictures


def _box_mm(view: View) -> tuple[float, float, float, float]:
    design = sheet(view.sheet)
    return design.window or design.page


def _report(
    job: Job,
    seen: Sequence[_Seen],
    solution: Solution,
    features: Features,
    measurements: Sequence[Measurement],
    pictures: Sequence[Picture],
    heights: Mapping[str, Height],
) -> Report:
    by_name = {m.name: m for m in measurements}
    rules = {
        name: find_rule(name, job.rules) for entry in job.measurements for name in entry.rules
    }
    decisions = tuple(
        decide(rules[name], judged_quantity(rules[name], by_name[entry.name]))
        for entry in job.measurements
        for name in entry.rules
    )
    observations = tuple(s.observation for s in seen)
    photos = tuple(replace(s.entry, sha256=s.sha256) for s in seen)
    return Report(
        job=replace(job, photos=photos),
        observations=observations,
        solution=solution,
        features=features,
        measurements=tuple(measurements),
        decisions=decisions,
        checks=check_readings(job.checks, by_name),
        pictures=tuple(pictures),
        warnings=job_warnings(job, observations, solution, features),
        not_checked=not_checked(job, measurements),
        cautions=cautions(job, rules.values()),
        heights_mm={name: h.mm for name, h in heights.items()},
    )
