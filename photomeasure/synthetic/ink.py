"""Where does the printed sheet carry ink, after the printer has had its way?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.records.sheet import Marker, Rectangle, Sheet
from photomeasure.synthetic.scene import Print

Array = NDArray[np.float64]

STEP_MM = 0.5
"""Longest straight piece of an edge; the lens bends it by less than 0.001 px."""


def solid_ink(design: Sheet, printed: Print) -> shapely.Geometry:
    """Everything printed in solid black, grown, in nominal mm of the sheet."""
    boxes = [tuple(square) for square in design.squares]
    boxes += [block for bar in design.bars for block in bar.blocks]
    boxes += [cell for marker in design.markers for cell in _black_cells(marker)]
    return shapely.segmentize(shapely.union_all(_grown(boxes, printed)), STEP_MM)


def patches(design: Sheet, printed: Print) -> tuple[NDArray[np.object_], Array]:
    """(N,) grey patches, grown, in nominal mm, and (N,) their reflectance."""
    boxes = _grown([patch.rectangle for patch in design.patches], printed)
    shades = [printed.patch_reflectance(patch.ink) for patch in design.patches]
    return np.asarray(shapely.segmentize(boxes, STEP_MM)), np.array(shades)


def page(design: Sheet) -> shapely.Geometry:
    """The paper in nominal mm."""
    return shapely.segmentize(shapely.box(*design.page), STEP_MM)


def _grown(boxes: list[Rectangle], printed: Print) -> NDArray[np.object_]:
    grow = printed.growth_mm * np.array(
        [-1 / printed.scale_x, -1 / printed.scale_y, 1 / printed.scale_x, 1 / printed.scale_y]
    )
    return np.asarray(shapely.box(*(np.array(boxes).reshape(-1, 4) + grow).T))


def _black_cells(marker: Marker) -> Iterator[Rectangle]:
    """The black cells of a marker as rectangles."""
    corner = marker.corners_mm[0]
    count = len(marker.cells)
    along = (marker.corners_mm[1] - corner) / count
    down = (marker.corners_mm[3] - corner) / count
    for row, column in zip(*np.nonzero(~marker.cells), strict=True):
        a = corner + column * along + row * down
        b = a + along + down
        yield (*np.minimum(a, b), *np.maximum(a, b))
