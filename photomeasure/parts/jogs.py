"""Where does an outline step aside, as one does that was followed from one edge to another?

Beside a wall or a shadow two edges run along each other. A line that changes from one to the
other leaves a jog behind: few short pieces that turn one way and back, after which it runs on
beside itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from photomeasure.parts.profiles import Piece, corner_rad, pieces_of, turn_rad
from photomeasure.records.part import Pair, Profile

Array = NDArray[np.float64]

_LONGEST_MM, _MOST_PIECES = 10.0, 5
_LEAST_BESIDE_MM = 4.0
_STEP_MM = (0.15, 3.0)
_SAME_WAY_RAD = 0.2
_TURNS_BACK_RAD = 0.4


@dataclass(frozen=True)
class Jog:
    """A step aside: about where, and by how much."""

    at_mm: Pair
    step_mm: float


def jogs(profile: Profile) -> Iterator[Jog]:
    """Every jog of a closed profile, in order."""
    pieces = pieces_of(profile)
    count = len(pieces)
    k = 0
    while k < count:
        for span in range(1, min(_MOST_PIECES, count - 2) + 1):
            run = [pieces[(k + i) % count] for i in range(span + 2)]
            jog = _jog(run)
            if jog is not None:
                yield jog
                k += span
                break
        k += 1


def _jog(run: Sequence[Piece]) -> Jog | None:
    """Of the pieces between the first and the last, or None."""
    before, *middle, after = run
    if min(before.length, after.length) < _LEAST_BESIDE_MM:
        return None
    if sum(piece.length for piece in middle) > _LONGEST_MM:
        return None
    step = min(_off(before, after.start), _off(after, before.end))
    least, most = _STEP_MM
    if not least < step < most:
        return None
    way = _way_beside(before, after.start)
    if abs(turn_rad(way, after.heading(at_end=False))) > _SAME_WAY_RAD:
        return None
    turns = _turns(run)
    if float(np.abs(turns).sum() - abs(turns.sum())) < _TURNS_BACK_RAD:
        return None
    x, y = (before.end + after.start) / 2
    return Jog((float(x), float(y)), step)


def _turns(run: Sequence[Piece]) -> Array:
    """Signed angles of the corners between the pieces and of all but the first and the last."""
    corners = [corner_rad(before, after) for before, after in pairwise(run)]
    return np.array([*corners, *(piece.angle_rad for piece in run[1:-1])])


def _off(piece: Piece, point: Array) -> float:
    """How far a point lies off the line or circle of a piece."""
    if piece.is_arc:
        return float(abs(np.hypot(*(point - piece.centre)) - piece.radius))
    way, arm = piece.heading(at_end=True), point - piece.end
    return float(abs(way[0] * arm[1] - way[1] * arm[0]))


def _way_beside(piece: Piece, point: Array) -> Array:
    """Where the line or circle of a piece leads beside a point."""
    if not piece.is_arc:
        return piece.heading(at_end=True)
    arm = point - piece.centre
    side = np.sign(piece.bulge)
    return np.asarray(side * np.array([-arm[1], arm[0]]) / max(float(np.hypot(*arm)), 1e-9))
