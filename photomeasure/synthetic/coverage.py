"""How much of each pixel does a polygon cover, exactly?

Every edge is cut at the pixel borders; each piece adds its signed area to its pixel and its
height to all pixels on its right, so that one running sum along the rows gives the exact
covered area. Sums of weighted polygons cost no more than one.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]
Picture = NDArray[np.float32]
Box = tuple[int, int, int, int]
"""x0, y0, x1, y1 in whole pixels, x1 and y1 not included."""


class Canvas:
    """A picture of one region into which weighted polygons (in px) are summed."""

    def __init__(self, region: Box) -> None:
        self.region = region
        self.height, self.width = region[3] - region[1], region[2] - region[0]
        self._area = np.zeros(self.height * (self.width + 2))

    def add(self, shapes: object, weights: object = 1.0) -> None:
        """Add polygons, a geometry or a list of N, each with its weight, one or (N,)."""
        several = np.atleast_1d(np.asarray(shapes, dtype=object))
        parts, whose = shapely.get_parts(several, return_index=True)
        per_part = np.broadcast_to(np.asarray(weights, float), several.shape)[whose]
        flat = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
        polygons = shapely.orient_polygons(parts[flat], exterior_cw=True)
        rings, polygon = shapely.get_rings(polygons, return_index=True)
        points, ring = shapely.get_coordinates(rings, return_index=True)
        joined = ring[1:] == ring[:-1]
        weight = per_part[flat][polygon[ring[1:][joined]]]
        self.add_edges(points[:-1][joined], points[1:][joined], weight)

    def add_edges(self, start: Array, end: Array, weight: Array) -> None:
        """Add edges (N, 2) of closed chains, the covered side on the right, weights (N,)."""
        shift = np.array(self.region[:2]) - 0.5
        a, b = start - shift, end - shift
        low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
        seen = (high > 0) & (low < self.height) & (np.minimum(a[:, 0], b[:, 0]) < self.width)
        pieces = a[seen], b[seen], weight[seen]
        pieces = _cut(*pieces, axis=1, limit=self.height)
        pieces = _cut(*pieces, axis=0, limit=self.width)
        self._put(*pieces)

    def _put(self, a: Array, b: Array, weight: Array) -> None:
        """Sum pieces that each lie in one pixel, or left of the region."""
        middle = (a + b) / 2
        row = np.floor(middle[:, 1]).astype(np.intp)
        inside = (row >= 0) & (row < self.height)
        column = np.clip(np.floor(middle[:, 0]).astype(np.intp), 0, self.width)
        right = np.clip(middle[:, 0] - column, 0.0, 1.0)
        rise = weight * (b[:, 1] - a[:, 1])
        at = (row * (self.width + 2) + column)[inside]
        np.add.at(self._area, at, (rise * (1 - right))[inside])
        np.add.at(self._area, at + 1, (rise * right)[inside])

    def picture(self) -> Picture:
        """(H, W) the weighted sum of covered shares."""
        grid = self._area.reshape(self.height, self.width + 2)
        return np.cumsum(grid, axis=1)[:, : self.width].astype(np.float32)


def _cut(
    a: Array, b: Array, weight: Array, *, axis: int, limit: int
) -> tuple[Array, Array, Array]:
    """Edges cut where this coordinate is a whole number from 0 to limit."""
    low = np.clip(np.minimum(a[:, axis], b[:, axis]), -1, limit)
    high = np.clip(np.maximum(a[:, axis], b[:, axis]), -1, limit)
    first = np.floor(low).astype(np.intp)
    count = np.maximum(np.ceil(high).astype(np.intp) - first, 1)
    edge = np.repeat(np.arange(len(a)), count)
    cell = first[edge] + np.arange(len(edge)) - (np.cumsum(count) - count)[edge]
    lower = np.where(cell < 0, -np.inf, cell)
    upper = np.where(cell >= limit, np.inf, cell + 1)
    start, end = a[edge, axis], b[edge, axis]
    span = np.where(start == end, 1.0, end - start)
    from_ = (np.clip(start, lower, upper) - start) / span
    to = np.where(start == end, 1.0, (np.clip(end, lower, upper) - start) / span)
    way = b[edge] - a[edge]
    return a[edge] + way * from_[:, None], a[edge] + way * to[:, None], weight[edge]


def box_of(shape: shapely.Geometry, margin: int, within: Box) -> Box:
    """The whole-pixel box round a shape in px, cut to another box; may be empty."""
    if shape.is_empty:
        return (within[0], within[1], within[0], within[1])
    x0, y0, x1, y1 = shape.bounds
    x0, x1 = np.clip([np.floor(x0) - margin, np.ceil(x1) + margin], within[0], within[2])
    y0, y1 = np.clip([np.floor(y0) - margin, np.ceil(y1) + margin], within[1], within[3])
    return (int(x0), int(y0), int(x1), int(y1))
