"""Pictures for looking at: a reduced photo, and one rectified onto a plane. Never measured."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.records.feature import ImageFeature
from photomeasure.records.photo import Photo
from photomeasure.records.report import Picture
from photomeasure.records.view import View
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]

_LONG_SIDE_PX = 2000
_RECTIFIED_LONG_SIDE_PX = 1600
_GRID_PX = 16
_BESIDE_MM = 15.0  # shown of a plane beyond what was pointed at on it


def reduced_picture(photo: Photo) -> Picture:
    """The whole photo, at most 2000 px on its long side."""
    scale = min(1.0, _LONG_SIDE_PX / max(photo.size_px))
    if scale == 1.0:
        return Picture(photo.name, photo.pixels, 1.0)
    small = cv2.resize(photo.pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return Picture(photo.name, np.asarray(small, np.uint8), small.shape[1] / photo.size_px[0])


def rectified_picture(
    photo: Photo, view: Array, plane: str, height_mm: float, box_mm: Box
) -> Picture:
    """What lies on a plane within box_mm (outer borders), seen at right angles.

    view : (14,).
    """
    x0, y0, x1, y1 = box_mm
    scale = _RECTIFIED_LONG_SIDE_PX / max(x1 - x0, y1 - y0)
    width, height = round((x1 - x0) * scale), round((y1 - y0) * scale)
    places_px = _places_px(view, height_mm, box_mm, width, height)
    pixels = cv2.remap(
        photo.pixels,
        places_px[..., 0],
        places_px[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(128, 128, 128),
    )
    return Picture(photo.name, np.asarray(pixels, np.uint8), scale, plane, box_mm)


def box_mm(view: View, height_mm: float = 0.0, on_plane: Sequence[ImageFeature] = ()) -> Box:
    """What is shown of a plane: the window, else the paper or card, and what lies on it."""
    design = sheet(view.sheet)
    x0, y0, x1, y1 = design.window or design.page
    if not on_plane:
        return x0, y0, x1, y1
    points_px = np.vstack([f.points_px for f in on_plane])
    points = plane_from_image(points_px, view.parameters, height_mm)
    left, below = (float(v) for v in points.min(axis=0))
    right, above = (float(v) for v in points.max(axis=0))
    return (
        x0 if x0 <= left else left - _BESIDE_MM,
        y0 if y0 <= below else below - _BESIDE_MM,
        x1 if x1 >= right else right + _BESIDE_MM,
        y1 if y1 >= above else above + _BESIDE_MM,
    )


def _places_px(
    view: Array, height_mm: float, box_mm: Box, width: int, height: int
) -> NDArray[np.float32]:
    """(height, width, 2) where each rectified pixel lies in the photo.

    Projected on a coarse grid, interpolated between: it is only looked at.
    """
    x0, y0, x1, y1 = box_mm
    columns = np.linspace(x0, x1, max(2, width // _GRID_PX))
    rows = np.linspace(y1, y0, max(2, height // _GRID_PX))
    grid = np.stack(np.meshgrid(columns, rows), axis=-1)
    px = image_from_plane(grid.reshape(-1, 2), view, height_mm).reshape(grid.shape)
    # Corner-aligned interpolation: nodes lie on the borders of the picture.
    at_x = ((np.arange(width) + 0.5) / width * (len(columns) - 1)).astype(np.float32)
    at_y = ((np.arange(height) + 0.5) / height * (len(rows) - 1)).astype(np.float32)
    map_x, map_y = np.meshgrid(at_x, at_y)
    return np.asarray(cv2.remap(px.astype(np.float32), map_x, map_y, cv2.INTER_LINEAR), np.float32)
