"""What shape may a sheet of paper have that lies on a table?

Flat in its middle, where a part holds it down, and free to lift anywhere along its rim: a
row of smooth bumps around it, each with its own height. A board whose middle is seen gets
bumps there as well. Polynomials were tried first and read a sheet that lifts at one side
0.05 % wrong: they cannot be flat here and bent there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LIFT_U_MM = 0.2  # standard uncertainty of each bump: paper that was not glued down
_SPACING_MM = 42.0
_WIDTH_SPACINGS = 0.7
_RISE = 3  # how a rim bump fades towards the middle: the share of the way out, cubed
_BORDER_SQUARES = 1.0


@dataclass(frozen=True, eq=False)
class Paper:
    """Bumps of unit height. centres_mm : (n, 2); half_mm : (2,) of the sheet; rim : (n,)."""

    centres_mm: Array
    half_mm: Array
    rim: NDArray[np.bool_]

    @property
    def bumps(self) -> int:
        """How many heights describe the paper."""
        return len(self.centres_mm)

    def basis(self, points_mm: Array) -> Array:
        """(N, n) height of each bump of unit height at (N, 2) nominal points."""
        apart = points_mm[:, None] - self.centres_mm[None]
        width = _WIDTH_SPACINGS * _SPACING_MM
        bump = np.exp(-0.5 * (apart**2).sum(axis=2) / width**2)
        outwards = np.max(np.abs(points_mm) / self.half_mm, axis=1) ** _RISE
        return np.asarray(bump * np.where(self.rim, outwards[:, None], 1.0))


def paper_of(saddles_mm: Array) -> Paper:
    """The paper of a sheet with these corners (N, 2), nominal mm about its centre."""
    square = float(np.min(np.diff(np.unique(np.round(saddles_mm[:, 0], 6))), initial=10.0))
    half = np.max(np.abs(saddles_mm), axis=0) + _BORDER_SQUARES * square
    rim, middle = _rim(half), _middle(half)
    away = np.linalg.norm(middle[:, None] - saddles_mm[None], axis=2).min(axis=1)
    middle = middle[away < _WIDTH_SPACINGS * _SPACING_MM]
    if np.linalg.norm(saddles_mm, axis=1).min() > _SPACING_MM:
        middle = middle[:0]  # a ring: nothing is seen of what lies under the part
    return Paper(
        centres_mm=np.vstack([rim, middle]),
        half_mm=half,
        rim=np.arange(len(rim) + len(middle)) < len(rim),
    )


def _rim(half: Array) -> Array:
    """Places around the rectangle of this half size."""
    sides = 2 * np.array([half[0], half[1], half[0], half[1]])
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
    ways = np.array([(1, 0), (0, 1), (-1, 0), (0, -1)], float)
    count = max(8, round(float(sides.sum()) / _SPACING_MM))
    along = np.arange(count) * float(sides.sum()) / count
    starts = np.concatenate([[0.0], np.cumsum(sides)[:-1]])
    side = np.searchsorted(starts, along, side="right") - 1
    return np.asarray(corners[side] + (along - starts[side])[:, None] * ways[side])


def _middle(half: Array) -> Array:
    """A grid of places inside the rim."""
    counts = np.maximum(1, np.floor(2 * half / _SPACING_MM).astype(int) - 1)
    axes = [(np.arange(n) - (n - 1) / 2) * _SPACING_MM for n in counts]
    return np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
