"""Job → report: the whole line, in order.

    photo → sheets seen → views → feature in the picture → feature in mm → measurement
    → decision → report

A photo has one view for each sheet and card in it; a feature is seen in the view of the one
that its plane is measured from.

Needs no disk: photos come from `load`, camera records from a mapping. `measure` walks the
whole line; its steps are public for those who walk it piece by piece. Each photo, feature and
measurement stands or falls by itself (`standing`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError, JobError, PhotoError, PhotomeasureError
from photomeasure.estimation.features import Height, place_features, view_on
from photomeasure.estimation.honest import honest_views
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import TakenWith, lens_of
from photomeasure.estimation.priors import PRINTER_SCALE_U
from photomeasure.measurements.evaluate import check_measurements
from photomeasure.measurements.otherwise import by_other_edges
from photomeasure.measurements.readings import read_by_hand
from photomeasure.pipeline.calibrating import Progress, calibrate, silent
from photomeasure.pipeline.loose_ends import refuse_loose_ends
from photomeasure.pipeline.standing import Faults, measured_each, noted, placed_each
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import FeatureEntry, Job, PhotoEntry, ScaleEntry
from photomeasure.records.photo import Photo
from photomeasure.records.report import Measurement, Missing, Picture, Report
from photomeasure.records.view import CameraRecord, Solution, View
from photomeasure.rules.cautions import cautions
from photomeasure.rules.checks import check_readings
from photomeasure.rules.doubts import doubts
from photomeasure.rules.judging import decisions, offers, rule_warnings, rules_named
from photomeasure.rules.lookup import with_standard_sizes
from photomeasure.rules.remarks import job_warnings, not_checked
from photomeasure.rules.rivals import choice_words
from photomeasure.vision.detection import Detection, detect_targets, grey_of
from photomeasure.vision.floors import locate_above_floor
from photomeasure.vision.known_shapes import known_scale, observe_known
from photomeasure.vision.locate import Scenery
from photomeasure.vision.pictures import box_mm, rectified_picture, reduced_picture
from photomeasure.vision.sheets import bars_of, prints_of, sheet
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

_LEAST_READING_U_MM = 0.002  # no caliper reads a printed bar better than this


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
    progress: Progress = silent,
) -> Report:
    """Measure everything that a job asks for.

    load : gives the pixels of a photo entry. cameras : SHA-256 → record, for the photos
    that name one. progress : is told in words what happens. What could not be measured stands
    in the report with the reason. Raises PhotomeasureError, always in words a person can act on,
    where the job is at fault or nothing at all could be measured.
    """
    refuse_loose_ends(job)
    check_measurements(job)
    heights = heights_of(job)
    once, faults = _keep_last(load), Faults()
    seen: list[Seen] = []
    for entry in job.photos:
        with noted(faults.photos, entry.name):
            seen.append(_see(entry, job, once, cameras or {}, faults, progress))
    usable = faults.spared(job)
    targets = targets_of(usable, seen)
    progress("working out where the camera stood")
    solution = solve(usable, seen, targets)
    located: list[ImageFeature] = []
    pictures: list[Picture] = []
    for one in seen:
        features, shown = _look(usable, one, solution, once, targets, faults, progress)
        located += features
        pictures += shown
    order = [entry.name for entry in job.features]
    located.sort(key=lambda f: order.index(f.name))
    progress("working out the numbers")
    place = partial(place_features, solution=solution, heights=heights, targets=targets)
    features_mm = placed_each(located, place, faults)
    measurements = measured_each(usable, features_mm, faults)
    if not measurements and not job.readings:
        raise faults.error()
    missing = faults.missing(job)
    return collect(usable, seen, solution, features_mm, measurements, pictures, missing)


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
    faults: Faults,
    progress: Progress,
) -> Seen:
    """What is in a photo; features on a sheet or card that is not to be seen are at fault."""
    progress(f"looking for sheets and cards in {entry.name}")
    photo = load(entry)
    seen = see(entry, photo, cameras, [s for s in job.scales if s.photo == entry.name])
    faults.features.update(_on_what_is_not_seen(job, photo, seen.detection))
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


def _on_what_is_not_seen(
    job: Job, photo: Photo, detection: Detection
) -> dict[str, PhotomeasureError]:
    """Feature → what to do where its plane is measured from what is not to be seen."""
    seen, planes = {o.sheet for o in detection.sheets}, planes_of(job)
    on = {f.name: planes[f.plane].on for f in job.features if f.photo == photo.name}
    return {
        name: PhotoError(detection.missed.get(target) or not_found(photo, target))
        for name, target in on.items()
        if target is not None and target not in seen
    }


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
    if not seen:
        return Solution((), np.empty(0), {})
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
    faults: Faults,
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
        on_plane: list[ImageFeature] = []
        for entry in (e for e in entries if e.plane == plane):
            with noted(faults.features, entry.name):
                on_plane.append(find(entry))
        if not on_plane:
            continue
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
    missing: Sequence[Missing] = (),
) -> Report:
    """The report: numbers judged, and what to know beside them.

    missing : why the measurements of the job that are not among these could not be made.
    """
    job = _told(job, measurements)
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
        doubts={m.name: doubts(m, job, observations, solution, features) for m in measurements},
        missing=tuple(missing),
    )


def _told(job: Job, measurements: Sequence[Measurement]) -> Job:
    """The job without what could not be measured."""
    names = {m.name for m in measurements} | {r.name for r in job.readings}
    return replace(
        job,
        measurements=tuple(m for m in job.measurements if m.name in names),
        checks=tuple(c for c in job.checks if c.measurement in names),
    )


__all__ = [
    "LinearLight",
    "Seen",
    "calibrate",
    "collect",
    "heights_of",
    "linearise",
    "locate_feature",
    "measure",
    "see",
    "solve",
    "targets_of",
    "view_of",
]
