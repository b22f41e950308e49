"""Does another edge run beside a boundary all round, as it does where a chamfer breaks it?

A chamfer of 45° has two edges: as far as one lies beside the other, so far it lies below it, and
so the height and the view say where the other must appear. Shadows and walls run elsewhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.vision.band import STEP_PX, sample_band
from photomeasure.vision.locate import Scenery
from photomeasure.vision.outline_path import ROW_PX, changes_across, closed_path

Array = NDArray[np.float64]

_WIDTHS_MM = np.arange(0.15, 2.01, 0.05)
_OF_HEIGHT = 0.5  # a chamfer is no deeper
_APART_PX = 3.5  # nearer lines of change are one
_SHOWS, _SHARE = 0.4, 0.92
_FACES_US = 0.35  # of its width, as much of a chamfer must be in sight in a row
_LEAST_ROWS = 0.5


def chamfer_beside(chain_mm: Array, scenery: Scenery, height_mm: float, material: int) -> float:
    """By how many mm another edge lies beside a closed boundary (N, 2) mm on its face: positive
    away from the part, negative within it; 0 where none runs all round, and in a scan, which knows
    of no height.

    material : +1 where the part lies outwards of it, -1 inwards.
    """
    widths = _WIDTHS_MM[_OF_HEIGHT * height_mm > _WIDTHS_MM]
    if len(widths) == 0:
        return 0.0
    path = closed_path(chain_mm, scenery.view, height_mm, 0.25, 2 * ROW_PX)
    level = 1.0 / path.mm_per_px
    px_per_mm = level - material * path.foot_px / height_mm
    faces_us = px_per_mm > _FACES_US * level
    if faces_us.mean() < _LEAST_ROWS:
        return 0.0
    half_px = float(widths[-1] * px_per_mm.max()) + _APART_PX
    try:
        band = sample_band(scenery.light, path, half_px)
    except GeometryError:
        return 0.0
    shows = changes_across(band, material)[faces_us] > _SHOWS
    found = {
        float(width): _share(shows, -material * width * px_per_mm[faces_us], len(band.offsets_px))
        for width in (*widths, *-widths)
        if abs(width) * float(np.median(px_per_mm)) > _APART_PX
    }
    best = max(found, key=lambda width: found[width], default=0.0)
    return best if best and found[best] > _SHARE else 0.0


def _share(shows: NDArray[np.bool_], offsets_px: Array, columns: int) -> float:
    """Of all rows, those that show a change within a px of an offset of their own."""
    at = np.rint(offsets_px / STEP_PX).astype(int) + columns // 2
    near = [np.clip(at + shift, 0, columns - 1) for shift in (-1, 0, 1)]
    rows = np.arange(len(shows))
    return float(np.mean(np.any([shows[rows, column] for column in near], axis=0)))
