"""What is true of a sample photo, and where would a person click?

One function builds the whole truth from the scene; no number of it is typed by hand. The
measurands are computed here by their own short formulas, not by the program under test.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any
from zlib import crc32

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import least_squares

from photomeasure.records.job import MeasurementEntry
from photomeasure.records.shapes import Circle, Edge, Shape
from photomeasure.synthetic.scene import (
    Pair,
    PlacedCard,
    PointedFeature,
    Print,
    Scene,
    TrueMeasurement,
)

Array = NDArray[np.float64]
Given = Mapping[str, list[Any]]

_CLICK_SCATTER_PX = 2.5
_RIM_POINTS = 12


def rim_points(shape: Shape, count: int = _RIM_POINTS) -> Array:
    """(count, 2) mm round a circle, or along an edge or curve but for a tenth at each end."""
    if isinstance(shape, Circle):
        angle = 2 * np.pi * (np.arange(count) + 0.3) / count
        return shape.centre + shape.radius * np.column_stack([np.cos(angle), np.sin(angle)])
    line = _line(shape)
    spots = line.interpolate(np.linspace(0.1, 0.9, count), normalized=True)
    return np.asarray(shapely.get_coordinates(spots))


def clicks(scene: Scene, shape: Shape, height_mm: float, number: int) -> tuple[Pair, ...]:
    """Where a person clicks: three places on a circle or curve, two on an edge, whole pixels."""
    count = 2 if isinstance(shape, Edge) else 3
    exact = scene.image_from_plane(rim_points(shape, count), height_mm)
    rng = np.random.default_rng([crc32(scene.name.encode()), number])
    scattered = np.round(exact + rng.normal(0.0, _CLICK_SCATTER_PX, exact.shape))
    return tuple((float(x), float(y)) for x, y in scattered)


def between_clicks(scene: Scene, edge: Edge, height_mm: float, clicked: Sequence[Pair]) -> Edge:
    """The part of a true edge between the points nearest to the clicks."""
    start, along = edge.ends[0], np.subtract(edge.ends[1], edge.ends[0])
    shares = (scene.plane_from_image(np.array(clicked), height_mm) - start) @ along
    return Edge(start + np.outer(shares / (along @ along), along))


def true_measurement(entry: MeasurementEntry, shapes: Mapping[str, Shape]) -> TrueMeasurement:
    """The measurement with the true value of its main output."""
    name, value = next(iter(true_quantities(entry, shapes).items()))
    return TrueMeasurement(entry, name, value)


def true_quantities(entry: MeasurementEntry, shapes: Mapping[str, Shape]) -> dict[str, float]:
    """Every true output of a measurement, the main one first; mm, or deg for angles."""
    given = {role: [shapes[name] for name in names] for role, names in entry.of}
    return {name: float(value) for name, value in _FORMULAS[entry.kind](given).items()}


def _diameter(given: Given) -> dict[str, float]:
    return {"diameter": 2 * given["circle"][0].radius}


def _distance(given: Given) -> dict[str, float]:
    a, b = given["a"][0].centre, given["b"][0].centre
    return {"distance": float(np.linalg.norm(a - b))}


def _gap(given: Given) -> dict[str, float]:
    shapes = [given["a"][0], given["b"][0]]
    lines = [shapely.Point(s.centre) if isinstance(s, Circle) else _line(s) for s in shapes]
    radii = sum(s.radius for s in shapes if isinstance(s, Circle))
    return {"gap": shapely.distance(*lines) - radii}


def _line(shape: Shape) -> shapely.LineString:
    return shapely.LineString(shape.numbers.reshape(-1, 2))


def _angle(given: Given) -> dict[str, float]:
    a, b = (np.subtract(*given[role][0].ends) for role in ("edge_a", "edge_b"))
    cosine = abs(a @ b) / np.linalg.norm(a) / np.linalg.norm(b)
    return {"angle": float(np.degrees(np.arccos(cosine)))}


def _bolt_circle(given: Given) -> dict[str, float]:
    """The circle with the least squared distances from the hole centres."""
    centres = np.array([hole.centre for hole in given["holes"]])
    middle = centres.mean(axis=0)
    start = [*middle, np.linalg.norm(centres - middle, axis=1).mean()]
    fit = least_squares(lambda c: np.linalg.norm(centres - c[:2], axis=1) - c[2], start)
    x, y, radius = fit.x
    return {"diameter": 2 * radius, "centre_x": x, "centre_y": y}


_FORMULAS: dict[str, Callable[[Given], dict[str, float]]] = {
    "diameter": _diameter,
    "distance": _distance,
    "gap": _gap,
    "angle": _angle,
    "bolt_circle": _bolt_circle,
}


def truth(scene: Scene) -> dict[str, Any]:
    """Everything that is true of one sample photo, ready for JSON.

    Positions in px of the upright picture (pixel centres are integers) and in true mm in
    the sheet frame, which is the bench's where no sheet lies there; heights of planes in mm
    above the sheet or card they are measured from.
    """
    heights = true_heights(scene)
    shapes = {f.entry.name: f.shape for f in scene.features}
    return {
        "photo": f"{scene.name}.jpg",
        "sheet": scene.print.sheet,
        "print": _print(scene.print, scene),
        **({"cards": [_card(card, scene) for card in scene.cards]} if scene.cards else {}),
        "camera": asdict(scene.lens),
        "pose": asdict(scene.pose),
        "tilt_deg": float(np.degrees(scene.pose.tilt_rad)),
        "camera_mm": scene.pose.camera_mm.tolist(),
        "phone": asdict(scene.phone),
        "planes": [_plane(name, heights, scene) for name in heights],
        "features": [_feature(scene, f, heights[f.entry.plane]) for f in scene.features],
        "measurements": [
            {
                "name": m.entry.name,
                "kind": m.entry.kind,
                "of": {role: list(names) for role, names in m.entry.of},
                "quantities": true_quantities(m.entry, shapes),
            }
            for m in scene.measurements
        ],
    }


def true_heights(scene: Scene) -> dict[str, float]:
    """Plane name → true height. A plane is a part's top, or lies below its bore's chamfer."""
    part = scene.parts[0] if scene.parts else None
    if part is None:
        return {}
    below = [part.thickness_mm - h.chamfer_mm for h in part.holes if h.chamfer_mm]
    return {
        plane.name: (below[0] if plane.name == "below chamfer" else part.thickness_mm)
        for plane in scene.stated_planes
    }


def _print(printed: Print, scene: Scene) -> dict[str, Any]:
    stated = scene.stated_print
    said = {} if stated is None else {"read_x_mm": stated.bar_x_mm, "read_y_mm": stated.bar_y_mm}
    return {
        "scale_x": printed.scale_x,
        "scale_y": printed.scale_y,
        "bar_x_mm": 150 * printed.scale_x,
        "bar_y_mm": 150 * printed.scale_y,
        **said,
        "growth_mm": printed.growth_mm,
        "curl": asdict(printed.curl),
    }


def _card(card: PlacedCard, scene: Scene) -> dict[str, Any]:
    return {
        "identity": card.print.sheet,
        "middle_mm": list(card.middle_mm),
        "turn_rad": list(card.turn_rad),
        "print": _print(card.print, scene),
    }


def _plane(name: str, heights: Mapping[str, float], scene: Scene) -> dict[str, Any]:
    stated = next(p for p in scene.stated_planes if p.name == name)
    from_mm = {c.print.sheet: c.middle_mm[2] for c in scene.cards}.get(stated.on or "", 0.0)
    return {
        "name": name,
        **({"on": stated.on} if stated.on else {}),
        "height_mm": heights[name] - from_mm,
        "stated_height_mm": stated.height_mm,
        "stated_plus_minus_mm": stated.plus_minus_mm,
    }


def _feature(scene: Scene, feature: PointedFeature, height_mm: float) -> dict[str, Any]:
    shape, entry = feature.shape, feature.entry
    points = rim_points(shape)
    numbers: dict[str, Any] = (
        {"centre_mm": shape.centre.tolist(), "radius_mm": shape.radius}
        if isinstance(shape, Circle)
        else {"chain_mm": shape.numbers.reshape(-1, 2).tolist()}
    )
    return {
        "name": entry.name,
        "kind": entry.kind,
        "plane": entry.plane,
        "height_mm": height_mm,
        **numbers,
        "clicks_px": [list(click) for click in entry.clicks_px],
        "points_mm": points.tolist(),
        "points_px": scene.image_from_plane(points, height_mm).round(4).tolist(),
    }
