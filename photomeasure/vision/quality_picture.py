"""How blurred is a picture in which no sheet was found?

Each strong edge is blurred once more by a known amount: the flatter it was, the less its slope
falls (the ratio of slopes before and after is √((σ² + b²) / (σ² + a²)) for blurs a and b).
"""

from __future__ import annotations

from math import sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
Slopes = NDArray[np.float32]

WANTED_PX = 3_000_000  # of a whole picture; chats send fewer
BLUR_BORNE_PX = 2.0  # standard deviation; above it corners begin to be given up
_FIRST_PX, _SECOND_PX = 1.0, 5.0  # the first one calms noise
_REDUCED = 4  # the copy in which a large blur is told from noise
_PLAIN_PX = 1.2  # blur in that copy from which on it is believed
_LEAST_SLOPE = 1.0  # coded levels per px of an edge after the first blur
_STRONGEST = 0.02  # share of the picture
_FEWEST = 100  # places
_SHARPER = 0.4  # of them: there may always be soft shadows and things out of focus
_ALONG = 3.0  # how much steeper an edge is across than along the axis it counts for


def picture_blur_px(grey: Grey) -> float | None:
    """Standard deviation of the blur of the sharper edges of a picture (H, W), px.

    Of edges that run up and those that run across, the more blurred ones count, as a smear
    spares those along it. None where the picture has too few edges to tell.
    """
    reduced = cv2.resize(
        grey, None, fx=1 / _REDUCED, fy=1 / _REDUCED, interpolation=cv2.INTER_AREA
    )
    large = _blur_px(np.asarray(reduced, np.uint8))
    return large * _REDUCED if large is not None and large > _PLAIN_PX else _blur_px(grey)


def _blur_px(grey: Grey) -> float | None:
    before, after = _slopes(grey, _FIRST_PX), _slopes(grey, _SECOND_PX)
    found = []
    for axis in (0, 1):
        across, along = np.abs(before[axis]), np.abs(before[1 - axis])
        limit = max(_LEAST_SLOPE, float(np.quantile(across[::2, ::2], 1 - _STRONGEST)))
        crest = across >= cv2.dilate(across, np.ones((1, 5) if axis == 0 else (5, 1), np.uint8))
        mine = crest & (across > limit) & (across > _ALONG * along)
        if mine.sum() >= _FEWEST:
            ratio = across[mine] / np.maximum(np.abs(after[axis][mine]), 1e-6)
            found.append(_from_ratio(float(np.quantile(ratio, 1 - _SHARPER))))
    return max(found) if found else None


def _slopes(grey: Grey, blur_px: float) -> tuple[Slopes, Slopes]:
    """Slopes along x and y, levels per px, of the picture blurred by so much."""
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), blur_px)
    x, y = (cv2.Sobel(soft, cv2.CV_32F, dx, 1 - dx, scale=1 / 8) for dx in (1, 0))
    return np.asarray(x, np.float32), np.asarray(y, np.float32)


def _from_ratio(ratio: float) -> float:
    squared = max(ratio * ratio, 1.0 + 1e-3)
    return sqrt(max(0.0, (_SECOND_PX**2 - squared * _FIRST_PX**2) / (squared - 1)))
