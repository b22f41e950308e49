"""Where are corners of a target missing: out of the picture, too small, blurred or covered?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.camera import image_from_plane
from photomeasure.records.sheet import Sheet
from photomeasure.records.view import MarkerObservation, View
from photomeasure.vision.detection import WANTED_SQUARE_PX
from photomeasure.vision.quality_picture import BLUR_BORNE_PX

Array = NDArray[np.float64]

_MOSTLY = 0.5  # a part of the target counts as missing when so many of its corners are
_ACROSS = ("left", "middle", "right")
_UP = ("lower", "middle", "upper")


def missing_places(
    design: Sheet, observation: MarkerObservation, view: View, blur_px: float = 0.0
) -> tuple[str, ...]:
    """Parts of the target, as printed, of which most corners are missing, and why.

    A target is looked at in three columns and three rows. blur_px : of what was found of it.
    """
    saddles = design.saddles_mm
    lost = ~_is_found(saddles, observation.saddles_mm)
    outside = _outside(saddles, view)
    cells = _cells(saddles)
    words = []
    for row in (2, 1, 0):
        for column in range(3):
            mine = (cells == (column, row)).all(axis=1)
            if mine.any() and lost[mine].mean() > _MOSTLY:
                why = _why(saddles[mine & lost], outside[mine & lost], design, view, blur_px)
                words.append(f"{_place(column, row)} ({why})")
    return tuple(words)


def _why(
    lost_mm: Array, outside: NDArray[np.bool_], design: Sheet, view: View, blur_px: float
) -> str:
    """Why most of these corners (N, 2) were not found."""
    if outside.mean() > _MOSTLY:
        return "out of the picture"
    here = image_from_plane(lost_mm, view.parameters, 0.0)
    beside = image_from_plane(lost_mm + np.array([design.square_mm, 0.0]), view.parameters, 0.0)
    if np.median(np.linalg.norm(beside - here, axis=1)) < WANTED_SQUARE_PX:
        return "too small"
    return "too blurred" if blur_px > BLUR_BORNE_PX else "hidden"


def _is_found(saddles: Array, found: Array) -> NDArray[np.bool_]:
    apart = np.linalg.norm(saddles[:, None] - found[None], axis=2)
    return np.asarray(apart.min(axis=1) < 1e-3)


def _outside(saddles: Array, view: View) -> NDArray[np.bool_]:
    px = image_from_plane(saddles, view.parameters, 0.0)
    return np.asarray((px < 0).any(axis=1) | (px > np.array(view.size_px) - 1).any(axis=1))


def _cells(saddles: Array) -> NDArray[np.intp]:
    """(N, 2) column and row, 0 to 2, of each corner."""
    low, span = saddles.min(axis=0), np.ptp(saddles, axis=0)
    return np.asarray(np.minimum((saddles - low) / span * 3, 2), np.intp)


def _place(column: int, row: int) -> str:
    if column == 1 and row == 1:
        return "middle"
    if column == 1:
        return f"{_UP[row]} side"
    if row == 1:
        return f"{_ACROSS[column]} side"
    return f"{_UP[row]} {_ACROSS[column]} corner"
