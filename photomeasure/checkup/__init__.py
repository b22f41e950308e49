"""Is this photo good enough to measure in, and what would make it better?

Runs the first half of the line (target seen → view), looks at blur, light and paper on the
way, and propagates what a length would come out with. Needs no clicks, no job and no disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import degrees

import numpy as np
from numpy.typing import NDArray

from photomeasure.checkup.improvements import improvements
from photomeasure.checkup.origins import Taken, origin_findings, switched_findings
from photomeasure.checkup.paper import moved_findings, paper_findings, print_findings
from photomeasure.checkup.targets import target_findings
from photomeasure.errors import PhotomeasureError
from photomeasure.estimation.diagnosis import diagnose, refuse_strained_lens
from photomeasure.estimation.foresight import (
    Stand,
    expected_length,
    foreseen_length,
    px_per_mm,
    seen_doubt_px,
    with_bars,
)
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import TakenWith, lens_of
from photomeasure.estimation.misfits import misfits
from photomeasure.estimation.priors import PRINTER_SCALE_U, LensPrior
from photomeasure.estimation.views import Fit, estimate_views
from photomeasure.geometry.camera import tilt_rad
from photomeasure.records.check import Finding, Fitness, Improvement, PhotoCheck, TargetCheck
from photomeasure.records.job import PrintEntry
from photomeasure.records.photo import Photo
from photomeasure.records.view import CameraRecord, MarkerObservation, Solution
from photomeasure.vision.detection import Detection, detect_targets, grey_of
from photomeasure.vision.quality_blur import look_at_edges
from photomeasure.vision.quality_coverage import missing_places
from photomeasure.vision.sheets import bars_of, sheet

Array = NDArray[np.float64]
Progress = Callable[[str], None]

READING_U_MM = 0.05  # a caliper's ± 0.1 mm


def _silent(message: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Known:
    """What is known beside the photos: a camera record, caliper readings of the bars."""

    record: CameraRecord | None = None
    prints: Sequence[PrintEntry] = field(default_factory=tuple)


@dataclass(frozen=True, eq=False)
class _Seen:
    """What is kept of one photo once its pixels are gone."""

    check: PhotoCheck
    taken: Taken
    sightings: tuple[Sighting, ...] = ()
    prior: LensPrior | None = None


def check_photo(
    photo: Photo, known: Known | None = None, detection: Detection | None = None
) -> PhotoCheck:
    """Everything that can be said of one photo alone; never raises for a bad one.

    detection : what was seen in it before; None to look now.
    """
    return _see(photo, known or Known(), detection).check


def check_photos(
    photos: Iterable[Photo], known: Known | None = None, progress: Progress = _silent
) -> tuple[PhotoCheck, ...]:
    """The same of several, one after another, and what they say together.

    photos : drawn one at a time, so that one photo's pixels are held, not all.
    """
    known = known or Known()
    seen = []
    for photo in photos:
        progress(f"looking at {photo.name}")
        seen.append(_see(photo, known))
    progress("comparing the photos")
    together = switched_findings([s.taken for s in seen])
    for name, finding in _moved(seen, known):
        together.setdefault(name, []).append(finding)
    return tuple(_with(s.check, together.get(s.check.photo, [])) for s in seen)


def _with(check: PhotoCheck, more: Sequence[Finding]) -> PhotoCheck:
    return replace(check, findings=_worst_first([*check.findings, *more]))


def _worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda f: -f.fitness.rank))


def _see(photo: Photo, known: Known, detection: Detection | None = None) -> _Seen:
    taken = Taken(photo.name, photo.exif, photo.size_px)
    findings = list(origin_findings(photo))
    try:
        detection = detection or detect_targets(photo, size_told=True)  # in `findings`
        with_ = _taken_with(photo, known)
        sightings = _sightings(detection.sheets, photo, with_, known)
        fit, solution = _solve(sightings, with_.prior, known)
        refuse_strained_lens(fit)
    except PhotomeasureError as error:
        findings.append(Finding("target", str(error), Fitness.RETAKE))
        return _Seen(PhotoCheck(photo.name, photo.size_px, (), _worst_first(findings)), taken)
    targets, better = _targets(photo, sightings, solution, with_, known)
    diagnoses = diagnose(sightings, fit, solution)
    findings += print_findings(fit, diagnoses)
    findings += paper_findings(diagnoses, () if diagnoses else misfits(sightings, fit))
    findings += [Finding("missed", w, Fitness.WITH_CARE) for w in detection.missed.values()]
    findings += _usable_findings(targets)
    check = PhotoCheck(photo.name, photo.size_px, targets, _worst_first(findings), better)
    return _Seen(check, taken, sightings, with_.prior)


def _usable_findings(targets: Sequence[TargetCheck]) -> list[Finding]:
    """A target that is no good asks for care only, where another one is good."""
    each = [list(target_findings(t)) for t in targets]
    worst = [max((f.fitness.rank for f in found), default=0) for found in each]
    cap = Fitness.WITH_CARE if min(worst) < Fitness.RETAKE.rank else Fitness.RETAKE
    return [
        replace(f, fitness=min(f.fitness, cap, key=lambda x: x.rank)) for fs in each for f in fs
    ]


def _taken_with(photo: Photo, known: Known) -> TakenWith:
    records: Mapping[str, CameraRecord] = {"record": known.record} if known.record else {}
    name = "record" if known.record else None
    return lens_of(photo.name, photo.exif, photo.size_px, name, records)


def _sightings(
    observations: Sequence[MarkerObservation], photo: Photo, taken: TakenWith, known: Known
) -> tuple[Sighting, ...]:
    stated = {entry.sheet for entry in known.prints}
    return tuple(
        Sighting(o, photo.size_px, taken.orientation, taken.key, o.printed_on(stated))
        for o in observations
    )


def _solve(sightings: Sequence[Sighting], prior: LensPrior, known: Known) -> tuple[Fit, Solution]:
    scales = {s.print_name: _scale(s.print_name, known) for s in sightings}
    return estimate_views(sightings, {s.lens: prior for s in sightings}, scales)


def _scale(printed: str, known: Known) -> ScalePrior:
    """What caliper readings say of a print, else an honest printer."""
    for entry in known.prints:
        if entry.sheet == printed:
            lengths = np.array([bar.length_mm for bar in bars_of(printed)])
            read = np.array([entry.bar_x_mm, entry.bar_y_mm])
            return ScalePrior(read / lengths, entry.plus_minus_mm / 2 / lengths)
    return ScalePrior(np.ones(2), np.full(2, PRINTER_SCALE_U))


def _targets(
    photo: Photo,
    sightings: Sequence[Sighting],
    solution: Solution,
    taken: TakenWith,
    known: Known,
) -> tuple[tuple[TargetCheck, ...], tuple[Improvement, ...]]:
    """Each target looked at, and what would better the length beside the best seen."""
    grey = grey_of(photo)
    targets: list[TargetCheck] = []
    better: tuple[Improvement, ...] = ()
    for k, sighting in enumerate(sightings):
        view = solution.views[k]
        u_px = seen_doubt_px(view, sighting.observation.u_px)
        scale = _scale(sighting.print_name, known)
        stand = Stand(sighting, view, taken.prior, scale, u_px)
        read = with_bars(stand, READING_U_MM)
        now, budget = expected_length(solution, view)
        bars = min(now, foreseen_length([read]))
        targets.append(_target(grey, stand, now, bars, budget))
        if k == 0:
            better = tuple(improvements(stand, read, now, bars))
    return tuple(targets), better


def _target(
    grey: NDArray[np.uint8], stand: Stand, now: float, bars: float, budget: dict[str, float]
) -> TargetCheck:
    observation, view = stand.sighting.observation, stand.view
    design = sheet(observation.sheet)
    looked = look_at_edges(grey, design, observation)
    return TargetCheck(
        sheet=observation.sheet,
        found=len(observation.saddles_px),
        expected=observation.expected,
        px_per_mm=px_per_mm(view),
        square_px=observation.square_px,
        residual_px=view.residual_px,
        tilt_deg=degrees(tilt_rad(view.parameters)),
        distance_mm=float(np.linalg.norm(view.pose[3:])),
        missing=missing_places(design, observation, view, looked[0].blur_px if looked else 0.0),
        sharpness=looked[0] if looked else None,
        exposure=looked[1] if looked else None,
        length_u_mm=now,
        length_u_bars_mm=bars,
        budget=budget,
    )


def _moved(seen: Sequence[_Seen], known: Known) -> Iterable[tuple[str, Finding]]:
    """What moved between photos that show the same targets."""
    sightings = [x for s in seen for x in s.sightings]
    lenses = {x.lens: s.prior for s in seen for x in s.sightings if s.prior is not None}
    scales = {x.print_name: _scale(x.print_name, known) for x in sightings}
    if len({x.photo for x in sightings}) < 2 or len({x.observation.sheet for x in sightings}) < 2:
        return []
    try:
        _, solution = estimate_views(sightings, lenses, scales)
    except PhotomeasureError as error:
        return [(sightings[0].photo, Finding("together", str(error), Fitness.WITH_CARE))]
    return moved_findings(solution)


__all__ = ["Known", "check_photo", "check_photos"]
