"""Where does a dense contour change from one line or arc to the next?

Dynamic programming over all ways to cut the closed contour: the sum of squared distances,
against what may be left, and a price for each line and each arc. Every stretch is judged in
one stroke from running sums of moments, as an algebraic line or circle (Kåsa); the final
geometry is fitted by `finish`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LINE, ARC = 0, 1
_PRICES = (9.0, 11.0)
_LEAST_POINTS = (3, 4)
_FLATTEST = 30.0  # an arc whose radius is this many times its chord counts as a line
_ROUGH_STEP = 3
_AT_ONCE = 24
_MOST_TURN = 1.7 * np.pi


@dataclass(frozen=True)
class Stretch:
    """Points first to last (indices, last included, counted on beyond the end) and a kind."""

    first: int
    last: int
    kind: int


def cut(points_mm: Array, off_mm: float) -> list[Stretch]:
    """Cut a closed chain (N, 2) of evenly spaced points into lines and arcs.

    off_mm : distances of this size are as likely as not; much larger ones cost more than one
    piece more. Stretches share no points; the first may begin anywhere.
    """
    origin = points_mm.mean(axis=0)
    centred = points_mm - origin
    # The first round begins anywhere; the second at a cut that the first found opposite.
    rough = _best_cuts(centred[::_ROUGH_STEP], off_mm)
    start = _ROUGH_STEP * rough[len(rough) // 2].first if len(rough) > 1 else 0
    turned = np.roll(centred, -start, axis=0)
    return [Stretch(s.first + start, s.last + start, s.kind) for s in _best_cuts(turned, off_mm)]


def _best_cuts(points: Array, off_mm: float) -> list[Stretch]:
    """The cheapest stretches of an open chain."""
    n, least = len(points), min(_LEAST_POINTS)
    best = np.full(n + 1, np.inf)  # best[k]: the first k points are explained
    best[0] = 0.0
    came, kinds = np.zeros(n + 1, int), np.zeros(n + 1, int)
    for first, price, kind in _prices(points, off_mm):
        ends = slice(first + least, n + 1)
        total = best[first] + price
        better = total < best[ends]
        best[ends][better] = total[better]
        came[ends][better], kinds[ends][better] = first, kind[better]
    stretches, end = [], n
    while end > 0:
        stretches.append(Stretch(int(came[end]), end - 1, int(kinds[end])))
        end = int(came[end])
    return stretches[::-1]


def _prices(points: Array, off_mm: float) -> Iterator[tuple[int, Array, NDArray[np.intp]]]:
    """For each first point what it costs to end after it, each end by the cheaper kind.

    Worked out for some first points at once, which is much faster.
    """
    n, least = len(points), min(_LEAST_POINTS)
    sums, spacing = _running_sums(points), _spacing(points)
    for start in range(0, n - least + 1, _AT_ONCE):
        firsts = np.arange(start, min(start + _AT_ONCE, n - least + 1))
        ends = np.arange(start + least, n + 1)
        costs = _costs(points, sums, spacing, firsts[:, None], ends[None, :], off_mm)
        kinds = costs.argmin(axis=0)
        prices = costs.min(axis=0)
        for k, first in enumerate(firsts):
            yield int(first), prices[k, k:], kinds[k, k:]


def _running_sums(points: Array) -> Array:
    """(9, N + 1) running sums of x, y, xx, xy, yy, zx, zy, z, zz with z = xx + yy."""
    x, y = points.T
    z = x * x + y * y
    moments = np.column_stack([x, y, x * x, x * y, y * y, z * x, z * y, z, z * z])
    return np.vstack([np.zeros(9), np.cumsum(moments, axis=0)]).T.copy()


def _costs(
    points: Array,
    sums: Array,
    spacing: float,
    first: NDArray[np.intp],
    ends: NDArray[np.intp],
    off: float,
) -> Array:
    """(2, F, E) price of points first (F, 1) to end (1, E) as one line or one arc."""
    n = np.maximum(ends - first, 1).astype(float)
    x, y, xx, xy, yy, zx, zy, z, zz = (s[ends] - s[first] for s in sums)
    mx, my, mz = x / n, y / n, z / n
    sxx, sxy, syy = xx - n * mx * mx, xy - n * mx * my, yy - n * my * my
    szx, szy, szz = zx - n * mz * mx, zy - n * mz * my, zz - n * mz * mz
    half, spread = (sxx + syy) / 2, np.hypot((sxx - syy) / 2, sxy)
    line = np.maximum(half - spread, 0.0) / off**2 + _PRICES[LINE]
    determinant = np.maximum(sxx * syy - sxy**2, 1e-12)
    a = (szx * syy - szy * sxy) / determinant  # twice the centre, from the mean
    b = (szy * sxx - szx * sxy) / determinant
    left = np.maximum(szz - a * szx - b * szy, 0.0)
    cx, cy = a / 2, b / 2
    radius2 = mz - 2 * (cx * mx + cy * my) + cx**2 + cy**2
    radius2 = np.maximum(radius2, 1e-9)
    arc = left / (4 * radius2) / off**2 + _PRICES[ARC]
    chord = np.hypot(*(c[ends - 1] - c[first] for c in points.T))
    path = (ends - 1 - first) * spacing
    radius = np.sqrt(radius2)
    impossible = (radius > _FLATTEST * np.maximum(chord, path / 4)) | (path > _MOST_TURN * radius)
    arc = np.where(impossible | (n < _LEAST_POINTS[ARC]), np.inf, arc)
    return np.array([np.where(n < _LEAST_POINTS[LINE], np.inf, line), arc])


def _spacing(points: Array) -> float:
    return float(np.median(np.hypot(*np.diff(points, axis=0).T)))
