"""What would a user point at in a rendered photo, and what is true of it?

Clicks scatter by 3 px and sometimes fall nearer to a rim that was not meant. Truth comes
from the scene's own millimetres, not from the program's formulas.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.records.job import FeatureEntry, MeasurementEntry
from photomeasure.records.shapes import Circle, Edge, Shape
from photomeasure.synthetic.scene import (
    Hole,
    Part,
    PointedFeature,
    Scene,
    TrueMeasurement,
)

Array = NDArray[np.float64]
Told = tuple[tuple[PointedFeature, ...], tuple[TrueMeasurement, ...]]

PHOTO = "photo"
CLICK_PX = 3.0
WRONG_RIM_SHARE = 0.15
_WRONG_RIM_REACH = 0.6  # of the way to the other rim
_WRONG_RIM_LIMIT_PX = 10.0  # nobody clicks farther off than this
_ONE_CLICK_SHARE = 0.4
_SIDES = {"lower": 0, "right": 2, "upper": 4, "left": 6}


def point_at_plate(rng: np.random.Generator, scene: Scene, plane: str) -> Told:
    """Bore, bolt circle and two neighbouring edges of the first part."""
    part = scene.parts[0]
    circles = [_point_at_hole(rng, scene, part, hole, plane) for hole in part.holes]
    edges = [_point_at_edge(rng, scene, part, side, plane) for side in ("lower", "right")]
    holes = tuple(hole.name for hole in part.holes[1:])
    pitch = float(np.hypot(*np.subtract(part.holes[1].centre_mm, part.holes[0].centre_mm)))
    span = float(np.hypot(*np.subtract(part.holes[1].centre_mm, part.holes[2].centre_mm)))
    measurements = (
        _asked("bore", "diameter", {"circle": ("bore",)}, "diameter", 2 * _rim(part, 0)),
        _asked("first-hole", "diameter", {"circle": holes[:1]}, "diameter", 2 * _rim(part, 1)),
        _asked("bolt-circle", "bolt_circle", {"holes": holes}, "diameter", 2 * pitch),
        _asked("pitch", "distance", {"a": holes[:1], "b": holes[1:2]}, "distance", span),
        _asked(
            "corner",
            "angle",
            {"edge_a": ("plate-lower",), "edge_b": ("plate-right",)},
            "angle",
            90.0,
        ),
    )
    return (*circles, *edges), measurements


def point_at_gap(rng: np.random.Generator, scene: Scene, plane: str) -> Told:
    """The two edges that face each other across the gap, and a hole of each part."""
    first, second = scene.parts[:2]
    edges = [
        _point_at_edge(rng, scene, first, "upper", plane),
        _point_at_edge(rng, scene, second, "lower", plane),
    ]
    names = [edge.entry.name for edge in edges]
    width = _gap_mm(edges[0].shape, edges[1].shape)
    measurement = _asked("gap", "gap", {"a": names[:1], "b": names[1:]}, "gap", width)
    return tuple(edges), (measurement,)


def _gap_mm(a: Shape, b: Shape) -> float:
    """The shortest distance between two true edges, by a library of its own."""
    lines = [shapely.LineString(shape.numbers.reshape(2, 2)) for shape in (a, b)]
    return float(shapely.distance(*lines))


def _asked(
    name: str, kind: str, of: dict[str, tuple[str, ...] | list[str]], quantity: str, value: float
) -> TrueMeasurement:
    roles = tuple((role, tuple(names)) for role, names in of.items())
    return TrueMeasurement(MeasurementEntry(name, kind, roles), quantity, value)


def _rim(part: Part, index: int) -> float:
    return part.holes[index].rim_radius_mm


def _point_at_hole(
    rng: np.random.Generator, scene: Scene, part: Part, hole: Hole, plane: str
) -> PointedFeature:
    """Three clicks on the upper rim, or one inside the hole."""
    turns = rng.uniform(0, 2 * np.pi) + np.array([0.0, 2.1, 4.2]) + rng.normal(0, 0.2, 3)
    arms = np.column_stack([np.cos(turns), np.sin(turns)])
    one = bool(rng.random() < _ONE_CLICK_SHARE)
    wrong = bool(rng.random() < WRONG_RIM_SHARE) and not one
    if one:
        arms = 0.3 * arms[:1]
    at = np.array(hole.centre_mm) + hole.rim_radius_mm * arms
    clicks = scene.image_from_plane(at, part.thickness_mm)
    shift = _towards_other_rim(scene, part, hole, arms) if wrong else np.zeros_like(clicks)
    clicks = clicks + shift + rng.normal(0, CLICK_PX, clicks.shape)
    truth = Circle(np.array(hole.centre_mm), hole.rim_radius_mm)
    return PointedFeature(
        _entry(hole.name, "circle", plane, clicks), truth, bool(np.any(shift != 0))
    )


def _towards_other_rim(scene: Scene, part: Part, hole: Hole, arms: Array) -> Array:
    """(N, 2) px from the upper rim most of the way to the lower, where both are seen close."""
    upper = np.array(hole.centre_mm) + hole.rim_radius_mm * arms
    lower = np.array(hole.centre_mm) + hole.radius_mm * arms
    high, low = part.thickness_mm, 0.0
    to_lower = scene.image_from_plane(lower, low) - scene.image_from_plane(upper, high)
    centre = scene.image_from_plane(np.array([hole.centre_mm]), high)
    inward = np.sum(to_lower * (centre - scene.image_from_plane(upper, high)), axis=1) > 0
    shift = _WRONG_RIM_REACH * to_lower
    near = np.linalg.norm(shift, axis=1) < _WRONG_RIM_LIMIT_PX
    return np.where((inward & near)[:, None], shift, 0.0)


def _point_at_edge(
    rng: np.random.Generator, scene: Scene, part: Part, side: str, plane: str
) -> PointedFeature:
    """A click near either end of a straight edge; the truth ends where the clicks do."""
    start, end = part.outline.edge(_SIDES[side])
    share = np.array([rng.uniform(0.04, 0.12), rng.uniform(0.88, 0.96)])[:, None]
    ends = start + share * (end - start)
    clicks = scene.image_from_plane(ends, part.thickness_mm)
    clicks = clicks + rng.normal(0, CLICK_PX, clicks.shape)
    ends = _feet(scene, clicks, part.thickness_mm, start, end)
    return PointedFeature(_entry(f"{part.name}-{side}", "edge", plane, clicks), Edge(ends))


def _feet(scene: Scene, clicks: Array, height: float, start: Array, end: Array) -> Array:
    """(N, 2) the points of a true edge nearest to clicks, in mm."""
    way = (end - start) / np.linalg.norm(end - start)
    along = (scene.plane_from_image(clicks, height) - start) @ way
    return np.asarray(start + along[:, None] * way)


def _entry(name: str, kind: str, plane: str, clicks: Array) -> FeatureEntry:
    pairs = tuple((round(float(x), 1), round(float(y), 1)) for x, y in clicks)
    return FeatureEntry(name, kind, PHOTO, plane, pairs)
