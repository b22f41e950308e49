"""What shape may a sheet of paper have that lies on a table, or a card that was cut out?

A sheet is flat in its middle, where a part holds it down, and free to lift anywhere along its
rim: a row of smooth bumps around it, each with its own height. A board whose middle is seen
gets bumps there as well. Polynomials were tried first and read a sheet that lifts at one side
0.05 % wrong: they cannot be flat here and bent there.

A card is held by what it is glued to and bends as one piece: three second-degree terms, two
bows and a twist, taken about its mean plane, which is the plane that others are measured from.
Their prior is one curvature for all sizes, so that a card of twice the size sags four times as
much.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LIFT_U_MM = 0.2  # standard uncertainty of each bump: paper that was not glued down
BEND_RADIUS_MM = 3000.0  # of one standard uncertainty: a card on stiff board; a judgement
CARD_REACH_MM = 50.0  # what reaches no farther from its middle is a card
_SPACING_MM = 30.0
_WIDTH_SPACINGS = 0.7
_RISE = 3  # how a rim bump fades towards the middle: the share of the way out, cubed
_BORDER_SQUARES = 1.0


@dataclass(frozen=True, eq=False)
class Paper:
    """Bumps of unit height.

    basis : (N, 2) nominal points → (N, n) height of each bump there. lift_u_mm : (n,)
    standard uncertainty of each bump's height.
    """

    basis: Callable[[Array], Array]
    lift_u_mm: Array

    @property
    def bumps(self) -> int:
        """How many heights describe the paper."""
        return len(self.lift_u_mm)


def paper_of(saddles_mm: Array) -> Paper:
    """The paper of a sheet or card with these corners (N, 2), nominal mm about its centre."""
    square = float(np.min(np.diff(np.unique(np.round(saddles_mm[:, 0], 6))), initial=10.0))
    half = np.max(np.abs(saddles_mm), axis=0) + _BORDER_SQUARES * square
    return _card(half) if np.all(half < CARD_REACH_MM) else _sheet(saddles_mm, half)


def _card(half: Array) -> Paper:
    """Bows about y and x, and a twist, each 1 high at the rim or corners beside its middle."""

    def basis(points_mm: Array) -> Array:
        x, y = (points_mm / half).T
        return np.column_stack([x**2 - 1 / 3, y**2 - 1 / 3, x * y])

    sag = half**2 / (2 * BEND_RADIUS_MM)
    return Paper(basis, np.array([sag[0], sag[1], half[0] * half[1] / BEND_RADIUS_MM]))


def _sheet(saddles_mm: Array, half: Array) -> Paper:
    rim, middle = _rim(half), _middle(half)
    away = np.linalg.norm(middle[:, None] - saddles_mm[None], axis=2).min(axis=1)
    middle = middle[away < _WIDTH_SPACINGS * _SPACING_MM]
    if np.linalg.norm(saddles_mm, axis=1).min() > _SPACING_MM:
        middle = middle[:0]  # a ring: nothing is seen of what lies under the part
    centres = np.vstack([rim, middle])
    at_rim = np.arange(len(centres)) < len(rim)

    def basis(points_mm: Array) -> Array:
        apart = points_mm[:, None] - centres[None]
        bump = np.exp(-0.5 * (apart**2).sum(axis=2) / (_WIDTH_SPACINGS * _SPACING_MM) ** 2)
        outwards = np.max(np.abs(points_mm) / half, axis=1) ** _RISE
        return np.asarray(bump * np.where(at_rim, outwards[:, None], 1.0))

    return Paper(basis, np.full(len(centres), LIFT_U_MM))


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
