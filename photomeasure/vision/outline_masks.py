"""What is left of a mask worn down, or grown, by so many pixels along rows and columns?

As `scipy.ndimage` does it with its default cross, but ten times as fast. Beyond the picture's rim
nothing is set.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

_CROSS = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))


def eroded(mask: Mask, times: int = 1) -> Mask:
    """(H, W) less so many layers of its rim."""
    return ~dilated(~np.pad(mask, 1), times)[1:-1, 1:-1]


def dilated(mask: Mask, times: int = 1) -> Mask:
    """(H, W) with so many layers more."""
    grown = cv2.dilate(mask.view(np.uint8), _CROSS, iterations=times)
    return np.asarray(grown, np.uint8).view(np.bool_)


def opened(mask: Mask, times: int) -> Mask:
    """(H, W) without what is thinner than twice as many pixels."""
    return dilated(eroded(mask, times), times)
