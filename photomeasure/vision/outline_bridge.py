"""How does a boundary run on where its edge is not seen?

Where what is seen before and after a gap lies on one line or one circle, the boundary is
taken to run along it, so that a faint edge is looked for there once more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_closing, label

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_LEAST_GAP_MM = 1.0
_BESIDE_MM, _LEAST_BESIDE_MM = 8.0, 3.0
_ON_LINE_MM = 0.05
_GENTLE_MM = 0.25
_CRUMB_ROWS, _CRUMB_APART, _CRUMB_MM = 8, 6, 0.12


@dataclass(frozen=True, eq=False)
class Gap:
    """Rows of a closed boundary that show no edge. rows : (k,). length_mm : from the last row
    before to the first one after. places : (k, 2) mm where they may lie. runs_on : whether
    these are on the line or circle of both sides, not just a smooth curve between them."""

    rows: NDArray[np.intp]
    length_mm: float
    places: Array
    runs_on: bool

    @property
    def is_gentle(self) -> bool:
        """Whether the places nearly lie on the chord between both ends, as where a line runs
        into a wide arc: what is not seen can then hardly be elsewhere."""
        chord = self.places[-1] - self.places[0]
        arm = self.places - self.places[0]
        across = arm[:, 0] * chord[1] - arm[:, 1] * chord[0]
        return bool(np.abs(across).max() < _GENTLE_MM * max(float(np.hypot(*chord)), 1e-9))


def gaps_of(points_mm: Array, good: Mask) -> list[Gap]:
    """The gaps of a closed boundary (N, 2) of which good (N,) rows show the edge."""
    marks = np.flatnonzero(good)
    if len(marks) == 0:
        return []
    count = len(good)
    found = []
    for first, last in zip(marks, np.append(marks[1:], marks[0] + count), strict=True):
        length = float(np.hypot(*(points_mm[last % count] - points_mm[first])))
        if last - first > 1 and length > _LEAST_GAP_MM:
            rows = np.arange(first + 1, last) % count
            before = _beside(points_mm, good, int(first), -1)
            after = _beside(points_mm, good, int(last % count), 1)
            places = _run_on(before, after, len(rows))
            smooth = _smooth(before, after, len(rows)) if places is None else places
            found.append(Gap(rows, length, smooth, places is not None))
    return found


def bridged(points_mm: Array, gaps: list[Gap]) -> Array:
    """The boundary led through all gaps as their two sides suggest."""
    moved = points_mm.copy()
    for gap in gaps:
        moved[gap.rows] = gap.places
    return moved


def without_crumbs(points_mm: Array, good: Mask) -> Mask:
    """The good rows less those few that stand alone away from where their neighbours lead:
    there the line changes from one edge to another."""
    joined = binary_closing(np.concatenate([good] * 3), np.ones(_CRUMB_APART + 1))
    labels, count = label(joined)
    sizes = np.bincount(labels, minlength=count + 1)
    large = ((sizes >= _CRUMB_ROWS)[labels] & joined)[len(good) : 2 * len(good)] & good
    kept = large.copy()
    for gap in gaps_of(points_mm, large):
        kept[gap.rows] = good[gap.rows] & (_off(points_mm[gap.rows], gap.places) < _CRUMB_MM)
    return np.asarray(kept)


def _off(points: Array, places: Array) -> Array:
    """(N,) how far points lie beside a chain of places."""
    nearest = np.hypot(*(points[:, None] - places[None]).transpose(2, 0, 1)).argmin(axis=1)
    ways = np.gradient(places, axis=0) if len(places) > 1 else np.ones_like(places)
    ways = ways / np.maximum(np.hypot(*ways.T), 1e-9)[:, None]
    arm, way = points - places[nearest], ways[nearest]
    return np.asarray(np.abs(arm[:, 0] * way[:, 1] - arm[:, 1] * way[:, 0]))


def _beside(points: Array, good: Mask, start: int, way: int) -> Array:
    """What is seen from the start on, nearest first, over _BESIDE_MM."""
    rows = (start + way * np.arange(len(points) // 2)) % len(points)
    steps = np.hypot(*np.diff(points[rows], axis=0).T)
    near = np.concatenate([[0.0], np.cumsum(steps)]) < _BESIDE_MM
    kept = rows[near & good[rows]]
    return np.asarray(points[kept])


def _run_on(before: Array, after: Array, count: int) -> Array | None:
    """(count, 2) even places between the two sides on their common line or circle."""
    if min(_reach(before), _reach(after)) < _LEAST_BESIDE_MM:
        return None
    both = np.vstack([before, after])
    shares = np.arange(1, count + 1)[:, None] / (count + 1)
    straight = before[0] + shares * (after[0] - before[0])
    middle = both.mean(axis=0)
    across = np.linalg.svd(both - middle, full_matrices=False)[2][1]
    if _rms((both - middle) @ across) < _ON_LINE_MM:
        return np.asarray(straight - ((straight - middle) @ across)[:, None] * across)
    try:
        centre, radius = fit_circle(both)
    except GeometryError:  # nearly straight, but not straight enough
        return None
    if _rms(np.hypot(*(both - centre).T) - radius) > _ON_LINE_MM:
        return None
    arm = straight - centre
    return np.asarray(centre + radius * arm / np.maximum(np.hypot(*arm.T), 1e-9)[:, None])


def _smooth(before: Array, after: Array, count: int) -> Array:
    """(count, 2) places on the cubic that leaves one side and meets the other as they point."""
    start, end = before[0], after[0]
    length = float(np.hypot(*(end - start)))
    leaving, meeting = (_way(before[::-1], end - start), _way(after, end - start))
    t = np.arange(1, count + 1)[:, None] / (count + 1)
    return np.asarray(
        (1 + 2 * t) * (1 - t) ** 2 * start
        + t * (1 - t) ** 2 * length * leaving
        + t**2 * (3 - 2 * t) * end
        + t**2 * (t - 1) * length * meeting
    )


def _way(points: Array, otherwise: Array) -> Array:
    """Unit vector along points, or along another one where they are too few."""
    way = points[-1] - points[0] if len(points) > 2 else otherwise
    return np.asarray(way / max(float(np.hypot(*way)), 1e-9))


def _rms(off: Array) -> float:
    return float(np.sqrt(np.mean(off**2)))


def _reach(points: Array) -> float:
    return float(np.hypot(*(points[-1] - points[0]))) if len(points) > 2 else 0.0
