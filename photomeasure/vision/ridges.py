"""Which lines of change run along a band?

Every profile gives its few sharpest changes; those that agree over many rows on one smooth
line (a combination of the path's basis: a shift and a turn for an edge, a shift and a
movement for a circle) are a ridge. Several may run side by side: both rims of a hole, a
chamfer, a shadow. This module finds them all and prefers none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from photomeasure.vision.band import SMOOTH_PX, STEP_PX, Band
from photomeasure.vision.tracing import trace

Array = NDArray[np.float64]

_PEAKS = 8  # sharpest changes kept in each profile
_TRIALS = 1200
_AT_ONCE = 300  # trials that fit into a processor's cache together
_TOLERANCE_PX = 0.9
_MOST_RIDGES = 6
_MOST_LOOKS = 12  # a line that few rows follow after all costs one
_LEAST_SHARE = 0.22
_NOISE_SIGMAS = 4.0
_HALO_PX = 4.5
_HALO_SHARE = 8.0
_FOLLOW_PX = 2.0
_LEAST_CHANGE = 0.004  # of full light per px; fainter is texture


@dataclass(frozen=True, eq=False)
class Ridge:
    """A line of change: offset_px (M,) from the path; rows (M,) where it was seen.

    slope : mean signed change of light per px along it, positive outwards; change : its mean
    size. The rim of a hole may be lighter than its wall and darker than the paper behind.
    """

    offset_px: Array
    rows: NDArray[np.bool_]
    slope: float
    change: float

    @property
    def share(self) -> float:
        """The part of the rows in which it was seen."""
        return float(self.rows.mean())


@dataclass(frozen=True, eq=False)
class _Peaks:
    """(M, C) places and signed sizes of the sharpest changes; NaN and 0 where none."""

    offset_px: Array
    slope: Array


def find_ridges(band: Band) -> tuple[Ridge, ...]:
    """All ridges of a band, the best supported first; of a free curve the best alone."""
    if band.path.is_free:
        traced = trace(band)
        return () if traced is None else (Ridge(*traced),)
    return tuple(_search(_peaks(band), band))


def _search(peaks: _Peaks, band: Band) -> list[Ridge]:
    ridges: list[Ridge] = []
    rng = np.random.default_rng(7)
    need = max(band.path.basis.shape[1] + 3, int(_LEAST_SHARE * len(band.light)))
    for _ in range(_MOST_LOOKS):
        model = _best(peaks, band, need, rng)
        if model is None or len(ridges) == _MOST_RIDGES:
            break
        ridge = _polish(model, peaks, band, need)
        if ridge is not None:
            ridges.append(ridge)
        peaks = _without(peaks, band.path.basis @ model if ridge is None else ridge.offset_px)
    return ridges


def _peaks(band: Band) -> _Peaks:
    """The sharpest changes of each row."""
    slope = band.slope
    size = np.abs(slope)
    # The noise of a smoothed derivative: sigma · sqrt(1 / (4 sqrt(pi) s^3)), s in samples.
    s = SMOOTH_PX / STEP_PX
    noise = band.noise * np.sqrt(1 / (4 * np.sqrt(np.pi) * s**3)) / STEP_PX
    least = max(_LEAST_CHANGE, _NOISE_SIGMAS * noise)
    top = (size[:, 1:-1] >= size[:, :-2]) & (size[:, 1:-1] > size[:, 2:])
    strength = np.where(top & (size[:, 1:-1] > least), size[:, 1:-1], 0.0)
    strength[~band.inside] = 0.0
    strength = _without_halos(strength)
    order = np.argsort(-strength, axis=1)[:, :_PEAKS] + 1
    rows = np.arange(len(slope))[:, None]
    a, b, c = size[rows, order - 1], size[rows, order], size[rows, order + 1]
    curve = np.where(np.abs(a - 2 * b + c) < 1e-12, -1e-12, a - 2 * b + c)
    place = band.offsets_px[order] + STEP_PX * np.clip(0.5 * (a - c) / curve, -0.5, 0.5)
    real = strength[rows, order - 1] > 0
    return _Peaks(np.where(real, place, np.nan), np.where(real, slope[rows, order], 0.0))


def _without_halos(strength: Array) -> Array:
    """Leave out what sharpening draws beside an edge: faint changes next to far sharper ones."""
    reach = int(_HALO_PX / STEP_PX)
    nearby = maximum_filter1d(strength, 2 * reach + 1, axis=1)
    return np.where(strength * _HALO_SHARE < nearby, 0.0, strength)


def _best(peaks: _Peaks, band: Band, need: int, rng: np.random.Generator) -> Array | None:
    """(P,) the line along the band with most support; None where none has enough rows."""
    basis = band.path.basis
    seen = ~np.isnan(peaks.offset_px)
    rows_with = np.flatnonzero(seen.any(axis=1))
    if len(rows_with) < need:
        return None
    models = _trial_models(peaks, basis, rows_with, rng)
    lines = models @ basis.T
    # Something sharp that crosses the band outweighs a faint edge in fewer rows.
    along = np.abs(lines).max(axis=1) <= band.offsets_px[-1]
    support, rows = _support(peaks.offset_px, np.sqrt(np.abs(peaks.slope)), lines[along])
    enough = rows >= need
    if not enough.any():
        return None
    return np.asarray(models[along][int(np.argmax(np.where(enough, support, 0.0)))])


def _support(offset_px: Array, weight: Array, lines: Array) -> tuple[Array, Array]:
    """(T,) for each of (T, M) lines the weights of the heaviest peak near it, row by row, and
    (T,) in how many rows there is one."""
    some = ~np.isnan(offset_px).all(axis=0)
    # Half the bytes, half the time; what is compared are pixels, with a tolerance.
    places, heavies = offset_px.T[some].astype(np.float32), weight.T[some].astype(np.float32)
    support, rows = np.empty(len(lines)), np.empty(len(lines))
    for start in range(0, len(lines), _AT_ONCE):
        few = lines[start : start + _AT_ONCE].astype(np.float32)
        best, away = np.zeros_like(few), np.empty_like(few)
        for place, heavy in zip(places, heavies, strict=True):
            np.abs(np.subtract(place, few, out=away), out=away)
            np.maximum(best, np.multiply(away < _TOLERANCE_PX, heavy, out=away), out=best)
        support[start : start + _AT_ONCE] = best.sum(axis=1)
        rows[start : start + _AT_ONCE] = (best > 0).sum(axis=1)
    return support, rows


def _trial_models(
    peaks: _Peaks, basis: Array, rows_with: NDArray[np.intp], rng: np.random.Generator
) -> Array:
    """(T, P) lines through as many random peaks as the basis needs."""
    size = basis.shape[1]
    rows = rows_with[rng.integers(0, len(rows_with), (_TRIALS, size))]
    counts = (~np.isnan(peaks.offset_px)).sum(axis=1)
    picks = (rng.random((_TRIALS, size)) * counts[rows]).astype(int)
    targets = peaks.offset_px[rows, picks]
    matrices = basis[rows]
    good = np.abs(np.linalg.det(matrices)) > _spread_needed(basis)
    if not good.any():
        return np.zeros((1, size))
    solved = np.linalg.solve(matrices[good], targets[good][:, :, None])[:, :, 0]
    return np.asarray(solved)


def _spread_needed(basis: Array) -> float:
    """Rows too close together say nothing of a turn."""
    return 0.25 if basis.shape[1] == 2 else 0.3


def _polish(model: Array, peaks: _Peaks, band: Band, need: int) -> Ridge | None:
    basis = band.path.basis
    for _ in range(4):
        miss = np.abs(peaks.offset_px - (basis @ model)[:, None])
        nearest = np.argmin(np.where(np.isnan(miss), np.inf, miss), axis=1)
        rows = np.arange(len(basis))
        close = np.nan_to_num(miss[rows, nearest], nan=np.inf) < _TOLERANCE_PX
        if close.sum() < need:
            return None
        place, slope = peaks.offset_px[rows, nearest], peaks.slope[rows, nearest]
        model, *_ = np.linalg.lstsq(basis[close], place[close], rcond=None)
    line = basis @ model
    if np.abs(line).max() > band.offsets_px[-1]:
        return None
    return Ridge(line, close, float(slope[close].mean()), float(np.abs(slope[close]).mean()))


def follow(band: Band, line_px: Array) -> Ridge | None:
    """The ridge along a line (M,) that is already known within a pixel or two."""
    columns = np.arange(-_FOLLOW_PX - STEP_PX, _FOLLOW_PX + 1.5 * STEP_PX, STEP_PX)
    slopes = np.nan_to_num(band.along(band.slope, line_px + columns[:, None]).T)
    size = np.abs(slopes)
    # Tops alone: the flank of an edge a pixel away would hold the line where it is.
    top = np.zeros(size.shape, bool)
    top[:, 1:-1] = (size[:, 1:-1] >= size[:, :-2]) & (size[:, 1:-1] >= size[:, 2:])
    best = np.argmax(np.where(top, size, 0.0) * np.exp(-(columns**2)), axis=1)
    peaks = _Peaks(
        (line_px + columns[best])[:, None], np.take_along_axis(slopes, best[:, None], axis=1)
    )
    model, *_ = np.linalg.lstsq(band.path.basis, line_px, rcond=None)
    return _polish(np.asarray(model, float), peaks, band, band.path.basis.shape[1] + 3)


def _without(peaks: _Peaks, line_px: Array) -> _Peaks:
    taken = np.abs(peaks.offset_px - line_px[:, None]) < 1.3 * _TOLERANCE_PX
    offset = np.where(taken, np.nan, peaks.offset_px)
    # Keep the real ones at the front, where trials pick from.
    order = np.argsort(np.isnan(offset), axis=1, kind="stable")
    rows = np.arange(len(offset))[:, None]
    return _Peaks(offset[rows, order], np.where(taken, 0.0, peaks.slope)[rows, order])
