"""Which triangles bound the solid of a part, closed and turned outwards?

Level faces are triangulated by constrained Delaunay triangles on the very points that the
walls stand on, so no gap and no crack can open.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.exporters.parts.solid import Floor, Ring, solid_of
from photomeasure.parts.profiles import polygon_points
from photomeasure.records.part import Part

Array = NDArray[np.float64]

SAG_MM = 0.01


def mesh_of(part: Part) -> tuple[Array, NDArray[np.intp]]:
    """Vertices (V, 3) in mm and triangles (T, 3), anticlockwise seen from outside."""
    solid = solid_of(part)
    chains = [polygon_points(ring.profile, SAG_MM) for ring in solid.rings]
    corners = [_walls(ring, chain) for ring, chain in zip(solid.rings, chains, strict=True)]
    corners += [_floor(floor, chains) for floor in solid.floors]
    loose = np.concatenate(corners).reshape(-1, 3)
    vertices, index = np.unique(np.round(loose, 9), axis=0, return_inverse=True)
    return vertices, index.reshape(-1, 3)


def _walls(ring: Ring, chain: Array) -> Array:
    """(T, 3, 3) two triangles on each piece of the chain; the outside is on its right."""
    ahead = np.roll(chain, -1, axis=0)
    low = [np.column_stack([p, np.full(len(p), ring.bottom)]) for p in (chain, ahead)]
    high = [np.column_stack([p, np.full(len(p), ring.top)]) for p in (chain, ahead)]
    first = np.stack([low[0], low[1], high[1]], axis=1)
    second = np.stack([low[0], high[1], high[0]], axis=1)
    return np.concatenate([first, second])


def _floor(floor: Floor, chains: list[Array]) -> Array:
    loops = [chains[ring] for ring, _, _ in floor.loops]
    area = shapely.Polygon(loops[0], loops[1:])
    triangles = shapely.constrained_delaunay_triangles(area)
    corners = np.array([shapely.get_coordinates(t)[:3] for t in triangles.geoms])
    turned = _twice_area(corners) < 0
    corners[turned] = corners[turned][:, ::-1]
    if not floor.up:
        corners = corners[:, ::-1]
    height = np.full((*corners.shape[:2], 1), floor.height)
    return np.concatenate([corners, height], axis=2)


def _twice_area(corners: Array) -> Array:
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
