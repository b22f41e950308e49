"""What should be changed about a photo? Every change is propagated anew, none is guessed."""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees

import numpy as np

from photomeasure.estimation.foresight import (
    Stand,
    fill_share,
    foreseen_length,
    from_other_side,
    nearer,
    tilted,
    with_record,
)
from photomeasure.geometry.camera import tilt_rad
from photomeasure.records.check import Improvement

_BEST_TILT_DEG = 25.0
_LITTLE_TILT_DEG = 10.0
_GAIN = 0.85  # a change that brings less than this is not worth saying
_NEAREST_MM = 120.0  # phones focus no nearer with their main lens; "common practice, no source"
_FILLS = 0.88  # a target that fills this share of the picture is near enough


def improvements(stand: Stand, read: Stand, now: float, bars: float) -> Iterator[Improvement]:
    """Every single change that brings something; all but the bars are judged with the bars read,
    as an unread print hides everything else."""
    if bars < _GAIN * now:
        yield Improvement("measure the two check bars with a caliper", now, bars)
    for words, changed in _changes(stand, read):
        after = foreseen_length(changed)
        if after < _GAIN * bars:
            yield Improvement(words, bars, after)


def _changes(stand: Stand, read: Stand) -> Iterator[tuple[str, list[Stand]]]:
    view = stand.view
    distance = float(np.linalg.norm(view.pose[3:]))
    fill = fill_share(view, stand.sighting.observation.saddles_mm)
    tilt = degrees(tilt_rad(view.parameters))
    if fill < _FILLS:
        near = max(fill, _NEAREST_MM / distance)
        yield f"step closer, from {distance:.0f} to {distance * near:.0f} mm", [nearer(read, near)]
    if not stand.prior.known:
        yield "use a camera record", [with_record(read)]
        yield (
            "take a second photo tilted to the other side",
            [read, from_other_side(read, _BEST_TILT_DEG)],
        )
    if tilt < _LITTLE_TILT_DEG:
        yield f"tilt more, {tilt:.0f}° to {_BEST_TILT_DEG:.0f}°", [tilted(read, _BEST_TILT_DEG)]
    if tilt > _BEST_TILT_DEG + 10:
        yield f"tilt less, {tilt:.0f}° to {_BEST_TILT_DEG:.0f}°", [tilted(read, _BEST_TILT_DEG)]
