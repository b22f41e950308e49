"""Which surfaces of the parts does the camera see, and where in the picture?

A sight line only descends, so of two surfaces on it the higher one hides the lower. All
regions are exact polygons in the picture: outlines and rims carried through the lens.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, hypot, radians

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.synthetic.ink import STEP_MM
from photomeasure.synthetic.scene import Hole, Part, Scene, arc_points

Array = NDArray[np.float64]

_BANDS = 6
_WALL_STEP = radians(4.0)


@dataclass(frozen=True)
class Surface:
    """A piece of a part in the picture, before higher pieces hide it.

    kind : "face", "chamfer" (of the outline), "wall" (of the outline), "cone" (a hole's
    chamfer) or "bore". top_mm : its highest point. normal : (3,) of a flat piece, sheet
    frame; middle_mm : (3,) a point on it. hole : of a cone or bore.
    """

    part: Part
    kind: str
    region: shapely.Geometry
    top_mm: float
    normal: Array
    middle_mm: Array
    hole: Hole | None = None


def visible_surfaces(scene: Scene) -> list[Surface]:
    """Every piece that is seen, with the region in which it is seen (px, disjoint)."""
    surfaces = [s for part in scene.parts for s in _surfaces(scene, part)]
    hidden: shapely.Geometry = shapely.Polygon()
    seen: list[Surface] = []
    for top_mm in sorted({s.top_mm for s in surfaces}, reverse=True):
        level = [s for s in surfaces if s.top_mm == top_mm]
        regions = _apart([s.region.difference(hidden) for s in level])
        seen += [replace(s, region=r) for s, r in zip(level, regions, strict=True) if r.area > 0]
        faces = [face_filled(scene, p) for p in scene.parts if p.thickness_mm == top_mm]
        hidden = shapely.union_all([hidden, *faces, *regions])
    return seen


def _apart(regions: list[shapely.Geometry]) -> list[shapely.Geometry]:
    """The regions less what an earlier one covers (pieces of one level rarely overlap)."""
    union = shapely.union_all(regions)
    if sum(r.area for r in regions) - union.area < 1e-6 * max(union.area, 1.0):
        return regions
    apart: list[shapely.Geometry] = []
    taken: shapely.Geometry = shapely.Polygon()
    for region in regions:
        apart.append(region.difference(taken))
        taken = taken.union(region)
    return apart


def face_filled(scene: Scene, part: Part) -> shapely.Geometry:
    """The upper face in px, its holes filled."""
    return project(scene, upper_outline(part), part.thickness_mm)


def _surfaces(scene: Scene, part: Part) -> Iterator[Surface]:
    top = part.thickness_mm
    up, middle = np.array([0.0, 0.0, 1.0]), np.array([*part.outline.polygon().mean(axis=0), top])
    rims = [_disc(scene, hole, hole.rim_radius_mm, top) for hole in part.holes]
    face = face_filled(scene, part).difference(shapely.union_all(rims))
    yield Surface(part, "face", face, top, up, middle)
    for hole, rim in zip(part.holes, rims, strict=True):
        yield from _hole_surfaces(scene, part, hole, rim)
    yield from _outline_pieces(scene, part)


def _hole_surfaces(
    scene: Scene, part: Part, hole: Hole, rim: shapely.Geometry
) -> Iterator[Surface]:
    top, neck = part.thickness_mm, part.thickness_mm - hole.chamfer_mm
    up, middle = np.array([0.0, 0.0, 1.0]), np.array([*hole.centre_mm, top])
    mouth = rim.intersection(_disc(scene, hole, hole.radius_mm, neck))
    through = mouth.intersection(_disc(scene, hole, hole.radius_mm, 0.0))
    if hole.chamfer_mm:
        yield Surface(part, "cone", rim.difference(mouth), top, up, middle, hole)
    yield Surface(part, "bore", mouth.difference(through), top, up, middle, hole)


def _disc(scene: Scene, hole: Hole, radius_mm: float, height_mm: float) -> shapely.Geometry:
    return project(scene, shapely.Polygon(hole.ring(radius_mm)), height_mm)


def upper_outline(part: Part) -> shapely.Geometry:
    """The outline of the upper face in mm: inside the full one where its edge is chamfered."""
    full = shapely.Polygon(part.outline.polygon())
    if not part.edge_chamfer_mm:
        return full
    return full.buffer(-part.edge_chamfer_mm, join_style="mitre")


def _outline_pieces(scene: Scene, part: Part) -> Iterator[Surface]:
    """The pieces of chamfer and wall that face the camera, from the top down."""
    neck = part.thickness_mm - part.edge_chamfer_mm
    heights = np.linspace(neck, 0.0, _BANDS + 1)
    bands = [(float(a), float(b), 0.0) for a, b in pairwise(heights)]
    if part.edge_chamfer_mm:
        bands.insert(0, (part.thickness_mm, neck, part.edge_chamfer_mm))
    for upper_mm, lower_mm, inset in bands:
        for chain in _chains(part):
            yield from _strip(scene, part, chain, (upper_mm, lower_mm), inset)


def _chains(part: Part) -> Iterator[Array]:
    """The outline in nearly flat chains (N, 2), each with its end."""
    profile = part.outline
    bulges = profile.bulges or (0.0,) * len(profile.points_mm)
    ends = (*profile.points_mm[1:], profile.points_mm[0])
    for start, end, bulge in zip(profile.points_mm, ends, bulges, strict=True):
        arc = np.vstack([arc_points(np.array(start), np.array(end), bulge), end])
        pieces = max(1, ceil(abs(4 * np.arctan(bulge)) / _WALL_STEP))
        cuts = np.unique(np.linspace(0, len(arc) - 1, pieces + 1).round().astype(int))
        for a, b in pairwise(cuts):
            yield arc[a : b + 1]


def _strip(
    scene: Scene, part: Part, chain: Array, heights: tuple[float, float], inset: float
) -> Iterator[Surface]:
    """One flat piece between two heights, if it faces the camera."""
    upper_mm, lower_mm = heights
    way = chain[-1] - chain[0]
    outward = np.array([way[1], -way[0], 0.0]) / hypot(*way)
    normal = outward + (np.array([0.0, 0.0, 1.0]) if inset else 0.0)
    middle = np.array([*(chain[0] + chain[-1]) / 2, (upper_mm + lower_mm) / 2])
    if np.dot(normal, scene.pose.camera_mm - middle) <= 0:
        return
    line = shapely.get_coordinates(shapely.segmentize(shapely.LineString(chain), STEP_MM))
    above = scene.image_from_plane(line - inset * outward[:2], upper_mm)
    below = scene.image_from_plane(line, lower_mm)
    region = shapely.make_valid(shapely.Polygon(np.vstack([above, below[::-1]])))
    kind = "chamfer" if inset else "wall"
    yield Surface(part, kind, region, upper_mm, normal / np.linalg.norm(normal), middle)


def project(scene: Scene, shape: shapely.Geometry, height_mm: float) -> shapely.Geometry:
    """A shape in mm at a height above the flat sheet to px."""
    fine = shapely.segmentize(shape, STEP_MM)
    return shapely.transform(fine, lambda points: scene.image_from_plane(points, height_mm))
