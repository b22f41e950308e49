"""Where is a single point: a corner nearby, or just where the clicks say?"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.features import CLICK_U_PX
from photomeasure.records.feature import ImageFeature
from photomeasure.records.job import FeatureEntry

Array = NDArray[np.float64]

_WINDOW_PX = 7
_FAR_PX = 5.0
_CORNER_U_PX = 0.7  # a lone corner is displaced by blur and tone curve by up to this
_LEAST_CONTRAST = 0.08


def locate_point(entry: FeatureEntry, clicks: Array, light: NDArray[np.float32]) -> ImageFeature:
    """A corner within a few pixels of the clicks' mean, else the mean itself.

    Several clicks on the same point narrow its uncertainty.
    """
    mean = clicks.mean(axis=0)
    corner = _corner_near(mean, light)
    point = mean if corner is None else corner
    u = CLICK_U_PX / np.sqrt(len(clicks)) if corner is None else _CORNER_U_PX
    note = () if corner is not None else ("No corner was found there; the click itself is used.",)
    return ImageFeature(
        name=entry.name,
        kind=entry.kind,
        photo=entry.photo,
        plane=entry.plane,
        points_px=point[None, :],
        normals_px=np.zeros((1, 2)),
        u_noise_px=float(u),
        u_shift_px=0.0,
        spread_px=float(np.sqrt(np.mean((clicks - mean) ** 2))),
        warnings=note,
    )


def _corner_near(place: Array, light: NDArray[np.float32]) -> Array | None:
    x, y = np.round(place).astype(int)
    reach = 2 * _WINDOW_PX
    low = np.array([max(0, x - reach), max(0, y - reach)])
    window = np.ascontiguousarray(light[low[1] : y + reach + 1, low[0] : x + reach + 1])
    if min(window.shape) < reach or float(np.ptp(window)) < _LEAST_CONTRAST:
        return None
    start = (place - low).astype(np.float32).reshape(1, 1, 2)
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
    half = min(_WINDOW_PX, min(window.shape) // 2 - 1)
    eigen = cv2.cornerMinEigenVal(window, 3)
    found = cv2.cornerSubPix(window, start, (half, half), (-1, -1), criteria)
    corner = np.asarray(found, float).reshape(2)
    inside = np.clip(np.round(corner).astype(int), 0, np.array(window.shape[::-1]) - 1)
    clear = float(eigen[inside[1], inside[0]]) > 0.1 * float(eigen.max())
    moved = float(np.linalg.norm(corner + low - place))
    return corner + low if clear and moved < _FAR_PX else None
