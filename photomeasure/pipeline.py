"""Job → report: the whole line, in order.

    photo → sheets seen → views → feature in the picture → feature in mm → measurement
    → decision → report

A photo has one view for each sheet and card in it; a feature is seen in the view of the one
that its plane is measured from.

Needs no disk: photos come from `load`, camera records from a mapping. `measure` walks the
whole line; its steps are public for those who walk it piece by piece.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError, JobError, PhotoError
from photomeasure.estimation.calibrate import Calibration, calibrate_camera
from photomeasure.estimation.features import Height, place_features, view_on
from photomeasure.estimation.honest import honest_views
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import TakenWith, lens_of
from photomeasure.estimation.priors import PRINTER_SCALE_U
from photomeasure.measurements.evaluate import check_measurements, evaluate_measurements
from photomeasure.measurements.otherwise import by_other_edges
from photomeasure.measurements.readings import read_by_hand
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import FeatureEntry, Job, PhotoEntry, ScaleEntry
from photomeasure.records.photo import Photo
from photomeasure.records.report import Measurement, Picture, Report
from photomeasure.records.view import CameraRecord, Solution, View
from photomeasure.rules.cautions import cautions
from photomeasure.rules.checks import check_readings
from photomeasure.rules.judging import decisions, offers, rule_warnings, rules_named
from photomeasure.rules.lookup import with_standard_sizes
from photomeasure.rules.remarks import job_warnings, not_checked
from photomeasure.rules.rivals import choice_words
from photomeasure.vision.detection import Detection, detect_sheets, detect_targets, grey_of
from photomeasure.vision.floors import locate_above_floor
from photomeasure.vision.known_shapes import known_scale, observe_known
from photomeasure.vision.locate import Scenery
from photomeasure.vision.pictures import box_mm, rectified_picture, reduced_picture
from photomeasure.vision.sheets import bars_of, identities, printed, prints_of, sheet
from photomeasure.vision.siblings import Ground, like_siblings
from photomeasure.vision.targets import (
    PhotoPlane,
    not_found,
    planes_of,
    planes_to_targets,
    target_of,
)
from photomeasure.vision.tone import Tone, estimate_tone

Array = NDArray[np.float64]
Load = Callable[[PhotoEntry], Photo]
Progress = Callable[[str], None]

_LEAST_READING_U_MM = 0.002  # no caliper reads a printed bar better than this


def _silent(message: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Seen:
    """One photo as far as its sheets and cards go. known : how sure things of known size are."""

    entry: PhotoEntry
    sha256: str
    detection: Detection
    size_px: tuple[int, int]
    taken_with: TakenWith
    known: dict[str, ScalePrior] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class LinearLight:
    """One photo with its tone curve undone. light : (H, W)."""

    light: NDArray[np.float32]
    tone: Tone


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
    heights = heights_of(job)
    once = _keep_last(load)
    seen = [_see(entry, job, once, cameras or {}, progress) for entry in job.photos]
    targets = targets_of(job, seen)
    refuse_two_frames(job, targets)
    progress("working out where the camera stood")
    solution = solve(job, seen, targets)
    located: list[ImageFeature] = []
    pictures: list[Picture] = []
    for one in seen:
        features, shown = _look(job, one, solution, once, targets, progress)
        located += features
        pictures += shown
    order = [entry.name for entry in job.features]
    located.sort(key=lambda f: order.index(f.name))
    progress("working out the numbers")
    features_mm = place_features(located, solution, heights, targets)
    measurements = evaluate_measurements(job, features_mm)
    return collect(job, seen, solution, features_mm, measurements, pictures)


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
        "that is printed on the sheet or on the page that a card was cut from."
        for p in job.prints
        if p.sheet not in printed()
    ]
    problems += [
        f"Plane {p.name!r} is on {p.on!r}, which does not exist. Copy the identity that is "
        "printed on the sheet or card."
        for p in job.planes
        if p.on is not None and p.on not in identities()
    ]
    if not job.judged:
        problems.append(
            f"The job {job.title!r} has no measurements, so there is nothing to work out. Add "
            "at least one feature and one measurement to its job.toml."
        )
    if problems:
        raise JobError(problems)


def refuse_two_frames(job: Job, targets: Mapping[PhotoPlane, str]) -> None:
    """Raise JobError where one measurement has features on two sheets or cards."""
    on = {f.name: targets[f.photo, f.plane] for f in job.features}
    for entry in job.measurements:
        seen = sorted({on[name] for _, names in entry.of for name in names})
        if len(seen) > 1:
            raise JobError(
                f"Measurement {entry.name!r} has features on {' and '.join(seen)}; where one "
                "lies from the other is not known. Point at all of them on one sheet or card."
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
    entry: PhotoEntry,
    job: Job,
    load: Load,
    cameras: Mapping[str, CameraRecord],
    progress: Progress,
) -> Seen:
    progress(f"looking for sheets and cards in {entry.name}")
    photo = load(entry)
    seen = see(entry, photo, cameras, [s for s in job.scales if s.photo == entry.name])
    _refuse_missing(job, photo, seen.detection)
    return seen


def see(
    entry: PhotoEntry,
    photo: Photo,
    cameras: Mapping[str, CameraRecord],
    scales: Sequence[ScaleEntry] = (),
) -> Seen:
    """Which sheets, cards and things of known size are in a photo.

    Raises PhotoError, CalibrationError.
    """
    taken_with = lens_of(entry.name, photo.exif, photo.size_px, entry.camera, cameras)
    detection = detect_targets(photo, needed=not scales)
    things = [observe_known(photo, s, taken_with.camera) for s in scales]
    known = {o.sheet: known_scale(s, o.sheet) for s, o in zip(scales, things, strict=True)}
    detection = replace(detection, sheets=(*detection.sheets, *things))
    return Seen(entry, photo.sha256, detection, photo.size_px, taken_with, known)


def _refuse_missing(job: Job, photo: Photo, detection: Detection) -> None:
    """Raise PhotoError where a feature's plane is measured from what is not to be seen."""
    used = {f.plane for f in job.features if f.photo == photo.name}
    wanted = {p.on for p in planes_of(job).values() if p.on is not None and p.name in used}
    missing = wanted - {o.sheet for o in detection.sheets}
    if missing:
        raise PhotoError(
            " ".join(detection.missed.get(t) or not_found(photo, t) for t in sorted(missing))
        )


def targets_of(job: Job, seen: Sequence[Seen]) -> dict[PhotoPlane, str]:
    """(photo, plane) → the sheet or card that it is measured from there. Raises JobError."""
    return planes_to_targets(
        job, {s.entry.name: [o.sheet for o in s.detection.sheets] for s in seen}
    )


def view_of(entry: FeatureEntry | ImageFeature, job: Job, solution: Solution) -> View:
    """The view in which a feature is seen. Raises JobError where several could be meant."""
    in_photo = [view.sheet for view in solution.views if view.photo == entry.photo]
    target = target_of(job, entry.photo, entry.plane, in_photo)
    return view_on(solution, entry.photo, target)


def solve(
    job: Job, seen: Sequence[Seen], targets: Mapping[PhotoPlane, str] | None = None
) -> Solution:
    """One view for each sheet and card of each photo.

    What cannot be explained is left out where nothing lies on it by `targets`, with a warning.
    Raises PhotoError or CalibrationError otherwise.
    """
    stated = {entry.sheet for entry in job.prints}
    sightings = [
        Sighting(o, s.size_px, s.taken_with.orientation, s.taken_with.key, o.printed_on(stated))
        for s in seen
        for o in s.detection.sheets
    ]
    lenses = {s.taken_with.key: s.taken_with.prior for s in seen}
    scales = {s.print_name: _scale(job, s.observation.sheet) for s in sightings}
    scales |= {name: prior for s in seen for name, prior in s.known.items()}
    try:
        return honest_views(sightings, lenses, scales)
    except (PhotoError, CalibrationError) as error:
        used = {(photo, target) for (photo, _), target in (targets or {}).items()}
        kept = [s for s in sightings if (s.photo, s.observation.sheet) in used]
        if len(kept) in (0, len(sightings)):
            raise
        lenses = {s.lens: lenses[s.lens] for s in kept}
        scales = {s.print_name: scales[s.print_name] for s in kept}
        solution = honest_views(kept, lenses, scales)
        return replace(solution, warnings=(*solution.warnings, f"Left out: {error}"))


def _scale(job: Job, identity: str) -> ScalePrior:
    """What the two bar readings say of the print, else an honest printer."""
    entries = [entry for entry in job.prints if entry.sheet in prints_of(identity)]
    if len(entries) > 1:
        raise JobError(
            f"Bar readings are given for {' and '.join(e.sheet for e in entries)}, and {identity} "
            "is on both. Keep those of the page that it was cut from."
        )
    for entry in entries:
        lengths = np.array([bar.length_mm for bar in bars_of(entry.sheet)])
        read = np.array([entry.bar_x_mm, entry.bar_y_mm])
        u_mm = max(entry.plus_minus_mm / 2, _LEAST_READING_U_MM)
        return ScalePrior(read / lengths, u_mm / lengths)
    return ScalePrior(np.ones(2), np.full(2, PRINTER_SCALE_U))


def heights_of(job: Job) -> dict[str, Height]:
    """Every plane's height and its doubt. Raises JobError for a plane that is not there."""
    planes = planes_of(job)
    heights = {
        name: Height(
            p.height_mm,
            p.plus_minus_mm / 2,
            p.depth_mm,
            None if p.lean_deg is None else p.lean_deg / 2,
        )
        for name, p in planes.items()
    }
    unknown = sorted({f.plane for f in job.features} - set(heights))
    if unknown:
        raise JobError(
            [f"Plane {name!r} is not in the job. Add it or rename." for name in unknown]
        )
    return heights


def _look(
    job: Job,
    seen: Seen,
    solution: Solution,
    load: Load,
    targets: Mapping[PhotoPlane, str],
    progress: Progress,
) -> tuple[list[ImageFeature], list[Picture]]:
    """Locate what was pointed at in one photo, and make its pictures."""
    name = seen.entry.name
    entries = [f for f in job.features if f.photo == name]
    photo = load(seen.entry)
    progress(f"locating {len(entries)} feature(s) in {name}")
    light, heights = linearise(photo, seen), heights_of(job)
    located: list[ImageFeature] = []
    pictures = [reduced_picture(photo)]
    for plane in dict.fromkeys(e.plane for e in entries):
        view, height = view_on(solution, name, targets[name, plane]), heights[plane]
        find = partial(locate_feature, light=light, view=view, height=height)
        on_plane = [find(e) for e in entries if e.plane == plane]
        on_plane = like_siblings(job, on_plane, Ground(view.parameters, height.mm), find)
        box = box_mm(view, height.mm, on_plane)
        pictures.append(rectified_picture(photo, view.parameters, plane, height.mm, box))
        located += on_plane
    return located, pictures


def linearise(photo: Photo, seen: Seen) -> LinearLight:
    """A photo's linear light, from the printed edges of all that is seen in it."""
    grey = grey_of(photo)
    first, *others = ((sheet(o.sheet), o) for o in seen.detection.sheets)
    tone = estimate_tone(grey, *first, others)
    return LinearLight(tone.light(grey), tone)


def locate_feature(
    entry: FeatureEntry, light: LinearLight, view: View, height: Height
) -> ImageFeature:
    """What was pointed at, on a plane at this height. Raises GeometryError."""
    scenery = Scenery(light.light, light.tone, view.parameters)
    return locate_above_floor(entry, scenery, height, beside_card=sheet(view.sheet).is_card)


def collect(
    job: Job,
    seen: Sequence[Seen],
    solution: Solution,
    features: Features,
    measurements: Sequence[Measurement],
    pictures: Sequence[Picture],
) -> Report:
    """The report: numbers judged, and what to know beside them."""
    measurements = with_standard_sizes(job, (*measurements, *read_by_hand(job)))
    by_name = {m.name: m for m in measurements}
    judged = decisions(job, by_name)
    observations = tuple(o for s in seen for o in s.detection.sheets)
    photos = tuple(replace(s.entry, sha256=s.sha256) for s in seen)
    heights_mm = {name: h.mm for name, h in heights_of(job).items()}
    others = by_other_edges(job, features, measurements, solution, heights_mm)
    choices = choice_words(features, measurements, others, job.unit)
    return Report(
        job=replace(job, photos=photos),
        observations=observations,
        solution=solution,
        features=features,
        measurements=measurements,
        decisions=judged,
        checks=check_readings(job.checks, by_name),
        pictures=tuple(pictures),
        warnings=(
            *job_warnings(job, observations, solution, features, choices),
            *rule_warnings(job, judged),
        ),
        not_checked=not_checked(job, measurements),
        cautions=cautions(job, rules_named(job)),
        heights_mm=heights_mm,
        offers=offers(job, by_name),
    )
