"""Which triangles make a flat part with chamfered holes, and a printed page that curls?

Walls stand on the outline itself; a chamfer moves every corner of an outline inward along
its mitre, so straight edges stay parallel and arcs stay concentric.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.synthetic.scene import Hole, Part, Print
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]
Faces = NDArray[np.int64]
Mesh = tuple[Array, Faces]

_PAGE_STEPS = 60


def inset(chain: Array, by_mm: float) -> Array:
    """A closed anticlockwise chain (N, 2) moved inward (outward where negative), mm."""
    along = np.roll(chain, -1, axis=0).astype(float) - chain
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    before = np.roll(normal, 1, axis=0)
    mitre = (normal + before) / (1 + np.sum(normal * before, axis=1, keepdims=True))
    return np.asarray(chain - by_mm * mitre)


def face_mesh(part: Part) -> Mesh:
    """Vertices (V, 3) mm and faces (F, 3) of the upper face."""
    upper = inset(part.outline.polygon(), part.edge_chamfer_mm)
    return _cap([upper, *(_mouth(hole) for hole in part.holes)], part.thickness_mm)


def wall_mesh(part: Part) -> Mesh:
    """Vertices and faces of outer walls, bores and chamfers."""
    outline, top = part.outline.polygon(), part.thickness_mm
    chamfer = part.edge_chamfer_mm
    walls = _wall(outline, inset(outline, chamfer), top, chamfer)
    for hole in part.holes:
        walls += _wall(hole.ring(hole.radius_mm), _mouth(hole), top, hole.chamfer_mm)
    return _joined(walls)


def _mouth(hole: Hole) -> Array:
    """The rim of a hole on the upper face, corner by corner above its bore."""
    return inset(hole.ring(hole.radius_mm), -hole.chamfer_mm)


def page_mesh(printed: Print) -> tuple[Array, Faces, Array]:
    """Vertices (V, 3) mm, faces, and texture coordinates (V, 2) with v upward."""
    x0, y0, x1, y1 = sheet(printed.sheet).page
    share = np.linspace(0, 1, _PAGE_STEPS + 1)
    uv = np.stack(np.meshgrid(share, share), axis=-1).reshape(-1, 2)
    flat = np.array([x0, y0]) + uv * np.array([x1 - x0, y1 - y0])
    nominal = flat / np.array([printed.scale_x, printed.scale_y])
    vertices = np.column_stack([flat, printed.curl.height_mm(nominal)])
    row = np.arange(_PAGE_STEPS) * (_PAGE_STEPS + 1)
    a = (row[:, None] + np.arange(_PAGE_STEPS)).ravel()
    b, c, d = a + 1, a + _PAGE_STEPS + 2, a + _PAGE_STEPS + 1
    return vertices, np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])]), uv


def _cap(chains: list[Array], height_mm: float) -> Mesh:
    polygon = shapely.Polygon(chains[0], chains[1:])
    corners = shapely.get_coordinates(shapely.constrained_delaunay_triangles(polygon))
    flat = corners.reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
    return _lifted(flat, height_mm), np.arange(len(flat)).reshape(-1, 3)


def _wall(lower: Array, upper: Array, top_mm: float, chamfer_mm: float) -> list[Mesh]:
    shoulder = top_mm - chamfer_mm
    wall = [_strip(_lifted(lower, 0.0), _lifted(lower, shoulder))]
    if chamfer_mm > 0:
        wall.append(_strip(_lifted(lower, shoulder), _lifted(upper, top_mm)))
    return wall


def _lifted(flat: Array, height_mm: float) -> Array:
    return np.column_stack([flat, np.full(len(flat), height_mm)])


def _strip(lower: Array, upper: Array) -> Mesh:
    n = len(lower)
    i = np.arange(n)
    j = (i + 1) % n
    faces = np.vstack([np.column_stack([i, j, j + n]), np.column_stack([i, j + n, i + n])])
    return np.vstack([lower, upper]), faces


def _joined(pieces: list[Mesh]) -> Mesh:
    starts = np.cumsum([0] + [len(vertices) for vertices, _ in pieces[:-1]])
    faces = [f + start for (_, f), start in zip(pieces, starts, strict=True)]
    return np.vstack([vertices for vertices, _ in pieces]), np.vstack(faces)
