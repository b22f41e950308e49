"""Where are corners of a target missing, and are they out of the picture or covered?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.camera import image_from_plane
from photomeasure.records.sheet import Sheet
from photomeasure.records.view import MarkerObservation, View

Array = NDArray[np.float64]

_MOSTLY = 0.5  # a part of the target counts as missing when so many of its corners are
_ACROSS = ("left", "middle", "right")
_UP = ("lower", "middle", "upper")


def missing_places(design: Sheet, observation: MarkerObservation, view: View) -> tuple[str, ...]:
    """Parts of the target, as printed, of which most corners are missing, and why.

    A target is looked at in three columns and three rows.
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
                out = outside[mine & lost].mean() > _MOSTLY
                words.append(
                    f"{_place(column, row)} ({'out of the picture' if out else 'hidden'})"
                )
    return tuple(words)


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
