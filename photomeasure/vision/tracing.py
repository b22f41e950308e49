"""Which line of change does a free curve follow through its band?

The path that gathers the most change of light while staying smooth and near the clicks, by
dynamic programming row by row.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.vision.band import Band

Array = NDArray[np.float64]

_MOST_COLUMNS = 3  # per row: a slope of 1.5 px in a row
_BEND_COST = 0.08  # of a sharp change: a curve does not leap to a shadow's edge and back
_AWAY_PX = 12.0
_AWAY_COST = 0.05
_HALF_GAIN = 0.01  # of full light per px
_LEAST_CHANGE = 0.006


def trace(band: Band) -> tuple[Array, NDArray[np.bool_], float, float] | None:
    """Offsets (M,), rows (M,) where a change is seen, its mean signed slope and mean size;
    None where there is none."""
    slope = band.slope
    size = np.abs(slope)
    # That there is a change counts more than how sharp it is: in shadow an edge is faint.
    gain = size / (size + _HALF_GAIN) - _AWAY_COST * (band.offsets_px / _AWAY_PX) ** 2
    columns = _best_path(gain)
    rows = np.arange(len(columns))
    seen = (size[rows, columns] > _LEAST_CHANGE) & band.inside
    if seen.mean() < 0.5:
        return None
    line = band.offsets_px[columns]
    model, *_ = np.linalg.lstsq(band.path.basis[seen], line[seen], rcond=None)
    along = slope[rows, columns][seen]
    return band.path.basis @ model, seen, float(along.mean()), float(np.abs(along).mean())


def _best_path(gain: Array) -> NDArray[np.intp]:
    rows, columns = gain.shape
    total = gain[0].copy()
    came_from = np.zeros((rows, columns), np.intp)
    for row in range(1, rows):
        options = np.full((2 * _MOST_COLUMNS + 1, columns), -np.inf)
        for k, shift in enumerate(range(-_MOST_COLUMNS, _MOST_COLUMNS + 1)):
            low, high = max(0, -shift), min(columns, columns - shift)
            options[k, low:high] = total[low + shift : high + shift] - _BEND_COST * shift**2
        best = options.argmax(axis=0)
        came_from[row] = np.clip(np.arange(columns) + best - _MOST_COLUMNS, 0, columns - 1)
        total = options[best, np.arange(columns)] + gain[row]
    path = np.empty(rows, np.intp)
    path[-1] = int(total.argmax())
    for row in range(rows - 1, 0, -1):
        path[row - 1] = came_from[row, path[row]]
    return path
