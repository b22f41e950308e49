"""Of several edges side by side, which one lies on the plane that was stated?

A thick part shows two: the edge of its face, and the foot of its wall on the sheet, which
appears displaced by an amount that the view and the stated height predict. So a pair at
that distance is told apart by geometry, not by brightness. A chamfer shows two edges at the
same height or nearly; the one on the face is meant, the other is offered.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.vision.band import Band
from photomeasure.vision.ridges import Ridge

Array = NDArray[np.float64]

_APART_PX = 2.0  # feet nearer than this are one edge with its wall
_PAIR_PX = 1.6
_REACH_PX = 8.0  # how far from the clicks an edge is still likely
_WORTH_MENTIONING = 0.2
_CHAMFER_MM = 1.6
_FACE_SHARE = 0.5
_FAINT = 0.006  # of full light: a step in the averaged profile


@dataclass(frozen=True, eq=False)
class Answer:
    """One edge that fits: its line (M,), what it probably is, how likely.

    on_foot : the line is the foot of the wall, so the edge itself lies foot_px inside.
    """

    line_px: Array
    words: str
    likelihood: float
    on_foot: bool
    material: int


def answers(band: Band, ridges: tuple[Ridge, ...]) -> tuple[Answer, ...]:
    """The edges found, the one meant first, the others that fit after it."""
    material = material_side(band)
    foot = band.path.foot_px
    is_foot = [_has_partner(r, ridges, foot, reverse=True) for r in ridges]
    strongest = max(abs(r.slope) for r in ridges)
    found = []
    for ridge, stands_on_sheet in zip(ridges, is_foot, strict=True):
        has_foot = _has_partner(ridge, ridges, foot, reverse=False)
        on_foot = not stands_on_sheet and not has_foot and _is_lone_foot(band, ridge, material)
        likelihood = _likelihood(ridge, strongest)
        words = "foot of the wall" if stands_on_sheet else "edge"
        found.append(
            Answer(
                ridge.offset_px,
                words,
                likelihood * (0.05 if stands_on_sheet else 1.0),
                on_foot,
                material,
            )
        )
    best = max(found, key=lambda a: a.likelihood)
    best = _on_the_face(best, found, ridges, band)
    others = [a for a in found if a is not best and _mentioned(a, best)]
    return (best, *sorted(others, key=lambda a: -a.likelihood))


def material_side(band: Band) -> int:
    """+1 when the part lies outwards of the path, -1 inwards: the darker side, as paper is
    white."""
    third = len(band.offsets_px) // 3
    inner = float(np.median(band.light[band.inside][:, :third]))
    outer = float(np.median(band.light[band.inside][:, -third:]))
    return 1 if outer < inner else -1


def wall_px(band: Band, material: int) -> Array:
    """(M,) signed width of the wall in sight beside the edge; 0 where it is hidden."""
    foot = band.path.foot_px
    return np.where(foot * material < 0, foot, 0.0)


def _likelihood(ridge: Ridge, strongest: float) -> float:
    distance = float(np.mean(np.abs(ridge.offset_px)))
    return (
        ridge.share
        * float(np.exp(-0.5 * (distance / _REACH_PX) ** 2))
        * (abs(ridge.slope) / strongest) ** 0.35
    )


def _has_partner(ridge: Ridge, ridges: tuple[Ridge, ...], foot: Array, reverse: bool) -> bool:
    """Whether another edge is this one's foot (or, reversed, this one is another's)."""
    size = float(np.sqrt(np.mean(foot**2)))
    if size < _APART_PX:
        return False
    sign = -1.0 if reverse else 1.0
    for other in ridges:
        if other is ridge:
            continue
        miss = other.offset_px - ridge.offset_px - sign * foot
        if float(np.sqrt(np.mean(miss**2))) < _PAIR_PX + 0.1 * size:
            return True
    return False


def _is_lone_foot(band: Band, ridge: Ridge, material: int) -> bool:
    """Whether a single edge, with the wall in sight, is the foot and not the face's edge.

    Where face and wall are alike, only the foot is seen: then no step remains where the
    foot of this edge would be.
    """
    wall = wall_px(band, material)
    seen = (np.abs(wall) > 2 * _APART_PX) & band.inside
    if seen.mean() < 0.9:  # a circle's other half tells which rim it is
        return False
    beyond = _step_size(band, ridge.offset_px + wall, seen)
    before = _step_size(band, ridge.offset_px - wall, seen)
    return beyond < _FAINT or before > 2 * beyond


def _step_size(band: Band, line_px: Array, rows: NDArray[np.bool_]) -> float:
    """Size of the mean step of light across a line."""
    reach = np.array([-3.0, -2.5, -2.0, 2.0, 2.5, 3.0])
    where = line_px[rows, None] + reach
    if np.abs(where).max() > band.offsets_px[-1]:
        return 0.0
    light = np.array(
        [np.interp(w, band.offsets_px, p) for w, p in zip(where, band.light[rows], strict=True)]
    )
    return abs(float((light[:, 3:] - light[:, :3]).mean()))


def _on_the_face(
    best: Answer, found: list[Answer], ridges: tuple[Ridge, ...], band: Band
) -> Answer:
    """Where a parallel edge lies just further into the part, it is the one on the face."""
    mm_per_px = float(np.median(band.path.mm_per_px))
    for answer, ridge in zip(found, ridges, strict=True):
        inwards = (answer.line_px - best.line_px) * best.material
        parallel = float(np.ptp(inwards)) < 4.0
        near = 1.5 < float(inwards.mean()) < _CHAMFER_MM / mm_per_px
        strong = answer.likelihood > _WORTH_MENTIONING * best.likelihood
        if near and parallel and strong and ridge.share > _FACE_SHARE:
            best = answer
    return best


def _mentioned(answer: Answer, best: Answer) -> bool:
    return (
        answer.words == "edge" and answer.likelihood > _WORTH_MENTIONING * best.likelihood
    ) or answer.words != "edge"
