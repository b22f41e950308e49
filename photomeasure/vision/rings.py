"""Along which path is the rim of a circle looked for?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.camera import image_from_plane
from photomeasure.vision.band import Path, lay_path

Array = NDArray[np.float64]

_ROW_PX = 2.5
_ROWS = (40, 240)


def row_count(length_px: float) -> int:
    """How many rows a path of this length gets."""
    return int(np.clip(length_px / _ROW_PX, *_ROWS))


def scale_at(place_mm: Array, view: Array, height_mm: float) -> float:
    """Pixels per mm about a place (2,) on a plane, the mean of both ways."""
    ends = place_mm + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    px = image_from_plane(ends, view, height_mm)
    return float(np.linalg.norm(px[1:] - px[0], axis=1).mean())


def ring_path(centre: Array, radius: float, view: Array, height_mm: float) -> Path:
    """Once round a circle, clockwise, so that normals point outwards."""
    rows = row_count(2 * np.pi * radius * scale_at(centre, view, height_mm))
    angle = -2 * np.pi * np.arange(rows) / rows
    outwards = np.column_stack([np.cos(angle), np.sin(angle)])
    tangents = np.column_stack([np.sin(angle), -np.cos(angle)])
    basis = np.column_stack([np.ones(rows), outwards])
    return lay_path(centre + radius * outwards, tangents, basis, view, height_mm, closed=True)
