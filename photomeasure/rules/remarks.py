"""What should a person know beside the numbers: what weakens them, what nobody looked at?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import degrees

from photomeasure.geometry.camera import tilt_rad
from photomeasure.records.feature import SET_CHOICE, Feature, Features
from photomeasure.records.job import Job
from photomeasure.records.report import Measurement
from photomeasure.records.view import MarkerObservation, Solution, View

_SQUARE_ON_DEG = 10.0
_STEEP_DEG = 45.0
_FEW_CORNERS = 0.6
_LARGE_RESIDUAL_PX = 0.5
_SHORT_ARC_DEG = 90.0


def job_warnings(
    job: Job,
    observations: Sequence[MarkerObservation],
    solution: Solution,
    features: Features,
    choices: Mapping[str, str],
) -> tuple[str, ...]:
    """Everything that widens an uncertainty or needs a second look, and what to do.

    choices : feature → what the other edges that fit would make of its numbers, in words.
    """
    return (
        *_scale_warnings(job, observations),
        *(w for o in observations for w in _observation_warnings(o)),
        *(w for v in solution.views for w in _view_warnings(job, v)),
        *solution.warnings,
        *(w for f in features.features for w in _feature_warnings(f, choices.get(f.name, ""))),
        *_arc_warnings(features),
    )


def not_checked(job: Job, measurements: Sequence[Measurement]) -> tuple[str, ...]:
    """What this report says nothing about."""
    ruled = {entry.name for entry in job.judged if entry.rules}
    checked = {entry.measurement for entry in job.checks}
    lines = [
        f"{m.name}: measured, but judged by no rule." for m in measurements if m.name not in ruled
    ]
    if not checked:
        lines.append("No number was compared with a caliper; one reading would do.")
    position = f"the position {job.position!r}" if job.position else "the one position shown"
    lines.append(f"Only {position} was looked at: not travel, heat, load, vibration or wear.")
    lines.append("Only what was pointed at was measured: not the gaps beside it or behind it.")
    lines.append("Material, strength, threads, pressure and tightness were not looked at.")
    return tuple(lines)


def print_warnings(job: Job, observations: Sequence[MarkerObservation]) -> Iterator[str]:
    """What is not known of the scale of the prints in sight."""
    for identity in unread_prints(job, observations):
        yield (
            f"Sheet {identity}: {unread_words('its two check bars')}, and then so is every "
            "length here. Measure both bars with a caliper."
        )
    yield from _scale_warnings(job, observations)


def unread_prints(job: Job, observations: Sequence[MarkerObservation]) -> list[str]:
    """Sheets and pages of cards in sight whose check bars nobody read."""
    read = {entry.sheet for entry in job.prints}
    return [identity for identity in _prints_seen(job, observations) if identity not in read]


def unread_words(bars: str) -> str:
    """What is assumed of a print whose check bars nobody read, and what that may cost."""
    return (
        f"{bars} were not measured, so an honest printer is assumed, right within ± 0.6 %. A page "
        "printed 'fit to page' is about 3 % off"
    )


def _prints_seen(job: Job, observations: Sequence[MarkerObservation]) -> list[str]:
    read = {entry.sheet for entry in job.prints}
    return list(dict.fromkeys(o.printed_on(read) for o in observations if o.is_printed))


def _scale_warnings(job: Job, observations: Sequence[MarkerObservation]) -> Iterator[str]:
    """What else there is to say of scale; bars that nobody read are told by `doubts`."""
    for thing in dict.fromkeys((o.photo, o.sheet) for o in observations if not o.is_printed):
        yield (
            f"{thing[0]}: part of its scale comes from a {thing[1]}, not from a printed sheet; "
            "what lies on its plane is as uncertain as that thing's size and edges."
        )
    seen = _prints_seen(job, observations)
    for identity in sorted({entry.sheet for entry in job.prints} - set(seen)):
        yield (
            f"Bar readings are given for sheet {identity}, which is in no photo, so they count "
            f"for nothing; seen: {', '.join(seen) or 'none'}. Correct `sheet` in [[prints]]."
        )


def _observation_warnings(seen: MarkerObservation) -> Iterator[str]:
    share = len(seen.saddles_px) / seen.expected
    if share < _FEW_CORNERS:
        yield (
            f"{seen.photo}: {share:.0%} of the corners of {seen.sheet} were found; "
            f"{_FEW_CORNERS:.0%} or more are wanted. Show more of it."
        )


def _view_warnings(job: Job, view: View) -> Iterator[str]:
    entry = next(p for p in job.photos if p.name == view.photo)
    tilt = degrees(tilt_rad(view.parameters))
    alone = len(job.photos) == 1
    if entry.camera is None and alone and tilt < _SQUARE_ON_DEG:
        yield (
            f"{view.photo}: taken almost square-on ({tilt:.0f}°) by an unknown camera, which "
            "cannot tell its focal length. A camera record, a second photo or 20° of tilt would."
        )
    if tilt > _STEEP_DEG:
        yield (
            f"{view.photo}: tilted by {tilt:.0f}°; heights count fully at such a slant. "
            "Stay below 35°."
        )
    if view.residual_px > _LARGE_RESIDUAL_PX:
        yield (
            f"{view.photo}: the corners of {view.sheet} lie {view.residual_px:.2f} px from where "
            f"they should be (rms); {_LARGE_RESIDUAL_PX:g} px can be borne. Is the paper flat, "
            "and the picture as the camera made it?"
        )


def _feature_warnings(feature: Feature, choices: str) -> Iterator[str]:
    told = f"{choices} {SET_CHOICE}" if choices else SET_CHOICE
    for words in feature.image.warnings:
        yield f"{feature.name}: {words.replace(SET_CHOICE, told)}"


def _arc_warnings(features: Features) -> Iterator[str]:
    for feature in features.features:
        arc = getattr(feature.shape, "arc_deg", 360.0)
        if arc < _SHORT_ARC_DEG:
            yield (
                f"{feature.name}: only {arc:.0f}° of the circle were seen; its radius is poorly "
                "known. Show at least 90°."
            )
