"""On which circle do the points of a boundary lie, or on which two, one inside the other?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_ROUND_MM, ROUND_SHARE = 0.1, 0.93
_LEAST_ROWS = 8
_TRIES = 60
_ON_MM, _FIRST_MM = 0.1, 0.2
_LEAST_POINTS, _LEAST_SHARE = 12, 0.25
_BOTH_SHARE, _ALL_SHARE = 0.85, 0.97
_APART_MM = 0.3  # a circle and the edge of its own wall lie nearer


def is_round(points: Array) -> bool:
    """Whether nearly all points lie on one circle."""
    return len(points) >= _LEAST_ROWS and bool(np.mean(on_circle(points)) > ROUND_SHARE)


def on_circle(points: Array) -> NDArray[np.bool_]:
    """(N,) the points on the circle that most of them agree on."""
    kept = points
    for _ in range(5):
        centre, radius = fit_circle(kept)
        off = np.abs(np.hypot(*(points - centre).T) - radius)
        kept = points[off <= max(3 * float(np.median(off)), 1e-6)]
    return np.asarray(off < _ROUND_MM)


@dataclass(frozen=True, eq=False)
class Arc:
    """A circle, mm, and which of some points (N,) lie on it."""

    centre: Array
    radius: float
    on: Mask


def two_arcs(points: Array) -> tuple[Arc, Arc] | None:
    """The circles, the wider sweep of points first, on which nearly all points (N, 2) lie where
    the second ones lie inside the first circle; None where there are no such two."""
    found = []
    left = np.ones(len(points), bool)
    for _ in range(2):
        arc = _fullest(points, left)
        if arc is None or arc.on.mean() < _LEAST_SHARE:
            return None
        found.append(arc)
        left &= ~arc.on
    both = float(np.mean(found[0].on | found[1].on))
    apart = float(np.hypot(*(found[0].centre - found[1].centre)))
    if both < _BOTH_SHARE or apart < _APART_MM:
        return None
    for outer, inner in (found, found[::-1]):
        within = np.hypot(*(points[inner.on] - outer.centre).T) < outer.radius + _ON_MM
        bulges = both > _ALL_SHARE or _bulges(points[outer.on], outer, points)
        if within.mean() > _BOTH_SHARE and bulges:
            return outer, inner
    return None


def _bulges(arc_points: Array, arc: Arc, points: Array) -> bool:
    """Whether the points as a whole lie on the inner side of an arc's middle, as a hole does."""
    middle = arc_points.mean(axis=0) - arc.centre
    return float((points.mean(axis=0) - arc.centre) @ middle) < float(middle @ middle) + 1e-9


def _fullest(points: Array, left: Mask) -> Arc | None:
    """The circle through three of the points left on which most of those lie, fitted to them."""
    rest = np.flatnonzero(left)
    if len(rest) < _LEAST_POINTS:
        return None
    rng = np.random.default_rng(len(points))
    best, most = None, 0
    for _ in range(_TRIES):
        try:
            centre, radius = fit_circle(points[rng.choice(rest, 3, replace=False)])
        except GeometryError:
            continue
        on = left & (np.abs(np.hypot(*(points - centre).T) - radius) < _FIRST_MM)
        if on.sum() > most:
            best, most = on, int(on.sum())
    return None if best is None else _fitted(points, left, best)


def _fitted(points: Array, left: Mask, on: Mask) -> Arc | None:
    try:
        for _ in range(3):
            centre, radius = fit_circle(points[on])
            on = left & (np.abs(np.hypot(*(points - centre).T) - radius) < _ON_MM)
    except GeometryError:
        return None
    return Arc(np.asarray(centre), float(radius), on)
