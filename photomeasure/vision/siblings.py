"""Of several rims that fit, which makes a hole as large as its siblings?

Where one hole alone came out of another size, and another of its rims is of the size of the
rest, that rim was meant: a chamfer's lower one was taken, or the foot of the wall.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import plane_from_image
from photomeasure.geometry.circles import fit_circle
from photomeasure.geometry.odd_sizes import ODD, odd_sizes
from photomeasure.records.feature import ImageFeature
from photomeasure.records.job import FeatureEntry, Job

Array = NDArray[np.float64]

_FEWEST = 3
_FEWEST_ALIKE = 2  # enough here, as another rim of just their size must bear witness too
_NEARER = 0.4  # of how far off the rim taken is: another one must be so much nearer


@dataclass(frozen=True, eq=False)
class Ground:
    """What holes of one plane are seen on. view : (14,), height_mm : of their plane."""

    view: Array
    height_mm: float

    def diameter_mm(self, points_px: Array) -> float:
        """Of the circle through points (N, 2) of the picture. Raises GeometryError."""
        return 2 * fit_circle(plane_from_image(points_px, self.view, self.height_mm))[1]


def like_siblings(
    job: Job,
    located: Sequence[ImageFeature],
    ground: Ground,
    again: Callable[[FeatureEntry], ImageFeature],
) -> list[ImageFeature]:
    """Features of one plane in one photo, odd holes by the rim that suits their pattern.

    again : locates an entry, whose `choice` is set here. An entry with a choice of the
    user's own is left alone.
    """
    entries = {entry.name: entry for entry in job.features}
    kept = {feature.name: feature for feature in located}
    for names in _patterns(job):
        holes = [kept[name] for name in names if name in kept]
        for number, usual_mm in _odd_ones(holes, ground).items():
            entry = entries[holes[number].name]
            if entry.choice is None:
                kept[entry.name] = _suited(holes[number], entry, usual_mm, ground, again)
    return list(kept.values())


def _patterns(job: Job) -> list[tuple[str, ...]]:
    """The circles of each place of a measurement that takes several of them."""
    kinds = {entry.name: entry.kind for entry in job.features}
    several = (
        tuple(name for name in names if kinds.get(name) == "circle")
        for entry in job.measurements
        for _, names in entry.of
    )
    return [names for names in several if len(names) >= _FEWEST]


def _odd_ones(holes: Sequence[ImageFeature], ground: Ground) -> dict[int, float]:
    """Those that are of another size than most: their index → the usual diameter in mm."""
    if len(holes) < _FEWEST:
        return {}
    try:
        found = odd_sizes([ground.diameter_mm(hole.points_px) for hole in holes], _FEWEST_ALIKE)
    except GeometryError:
        return {}
    return dict.fromkeys(found.odd, found.usual_mm) if found else {}


def _suited(
    hole: ImageFeature,
    entry: FeatureEntry,
    usual_mm: float,
    ground: Ground,
    again: Callable[[FeatureEntry], ImageFeature],
) -> ImageFeature:
    """The hole by another of its rims, if one is of the usual size; else as it is."""
    now_mm = ground.diameter_mm(hole.points_px)
    limit_mm = min(_NEARER * abs(now_mm - usual_mm), ODD * usual_mm)
    try:
        rims = {a.number: ground.diameter_mm(a.points_px) for a in hole.alternatives}
        number = min(rims, key=lambda n: abs(rims[n] - usual_mm))
        other = again(replace(entry, choice=number))
        other_mm = ground.diameter_mm(other.points_px)
    except (GeometryError, ValueError):
        return hole
    if abs(other_mm - usual_mm) > limit_mm:
        return hole
    words = (
        f"Number {number} was taken as it makes this hole as large as its siblings, about "
        f"{usual_mm:.2f} mm; by itself number {hole.chosen}, {now_mm:.2f} mm, fits better. If "
        f"the hole is of another size, set `choice = {hole.chosen}`."
    )
    return replace(other, warnings=(*other.warnings, words))
