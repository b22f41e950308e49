"""How much do the pixels of a photo scatter where the paper is even?

Measured in the middle of the squares that are not black: a plane is fitted to
each small window, and what it leaves is noise. Markers and dirt lie in some of the windows, so
a quieter one than the middle one counts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.homography import apply_homography, estimate_homography
from photomeasure.records.view import MarkerObservation

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

_HALF_PX = (2, 4)  # of a window: smallest and largest
_OF_SQUARE = 0.2  # half a window, as a share of a square
_QUIET = 0.25  # quantile of the windows: half of them hold a marker
_LEAST_WINDOWS = 8


def paper_noise(grey: Grey, observation: MarkerObservation) -> float:
    """Scatter from pixel to pixel of even paper, in coded levels; 0 where it cannot be told.

    grey : (H, W) coded luma. What a phone smooths away is not seen.
    """
    centres, side_px = _middles(observation)
    half = min(int(_OF_SQUARE * side_px), _HALF_PX[1])
    if half < _HALF_PX[0]:
        return 0.0
    windows = _windows(grey, centres, half)
    if len(windows) < _LEAST_WINDOWS:
        return 0.0
    level, scatter = windows.mean(axis=1), _scatter(windows, half)
    light = level > (level.min() + level.max()) / 2
    return float(np.quantile(scatter[light], _QUIET))


def _middles(observation: MarkerObservation) -> tuple[Array, float]:
    """(N, 2) px of the middles of squares beside the crossings found; a square's side in px."""
    at = observation.saddles_mm - observation.saddles_mm.mean(axis=0)
    to_px = estimate_homography(at, observation.saddles_px)
    steps = np.diff(np.unique(np.round(at[:, 0], 3)))
    half_mm = float(steps.min()) / 2 if len(steps) else 0.5
    right, up = np.array([half_mm, 0.0]), np.array([0.0, half_mm])
    beside = np.concatenate([at + right + up, at + right - up])
    middles = apply_homography(to_px, beside)
    towards = apply_homography(to_px, beside + right)
    return middles, 2 * float(np.median(np.linalg.norm(towards - middles, axis=1)))


def _windows(grey: Grey, centres: Array, half: int) -> Array:
    """(N, (2·half + 1)²) the pixels about those centres that lie well within the picture."""
    x, y = np.rint(centres).astype(int).T
    height, width = grey.shape
    ok = (x >= half) & (y >= half) & (x < width - half) & (y < height - half)
    steps = np.arange(-half, half + 1)
    rows = y[ok][:, None, None] + steps[:, None]
    columns = x[ok][:, None, None] + steps[None, :]
    return np.asarray(grey[rows, columns].reshape(int(ok.sum()), -1), float)


def _scatter(windows: Array, half: int) -> Array:
    """(N,) standard deviation about a plane."""
    across, down = np.meshgrid(*[np.arange(-half, half + 1.0)] * 2)
    plane = np.column_stack([np.ones(across.size), across.ravel(), down.ravel()])
    left = windows.T - plane @ np.linalg.lstsq(plane, windows.T, rcond=None)[0]
    return np.asarray(np.sqrt((left**2).sum(axis=0) / (across.size - 3)))
