"""At what angle do two straight edges stand to each other?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.lines import line_intersection
from photomeasure.measurements.kind import Need, Output, Shapes, only, pair
from photomeasure.records.shapes import DrawnArc, DrawnLabel, DrawnSegment, DrawnShape, Edge

Array = NDArray[np.float64]


class Angle:
    """The angle between two edges as lines, 0° to 90°."""

    name = "angle"
    summary = "Angle between two straight edges, 0° to 90°."
    needs = (
        Need("edge_a", ("edge",), "Point at the first straight edge."),
        Need("edge_b", ("edge",), "Point at the second straight edge."),
    )
    # Folded at 0° and 90°, where it is not Gaussian.
    monte_carlo = True
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The angle."""
        return (Output("angle", "deg", "angle between the edges", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The angle in degrees."""
        a, b = _along(features, "edge_a"), _along(features, "edge_b")
        cross, dot = float(a[0] * b[1] - a[1] * b[0]), float(a @ b)
        return {"angle": float(np.degrees(np.arctan2(abs(cross), abs(dot))))}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The supplement, which is meant as often."""
        return (f"Measured the other way round the corner: {180 - values['angle']:.2f}°.",)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """An arc where the edges meet; for parallel edges only the label between them."""
        a, b = only(features, "edge_a", Edge).ends, only(features, "edge_b", Edge).ends
        try:
            corner = line_intersection(a[0], a[1] - a[0], b[0], b[1] - b[0])
        except GeometryError:
            return (DrawnLabel(pair((a.mean(axis=0) + b.mean(axis=0)) / 2), "angle"),)
        radius = 0.5 * min(_farthest(a, corner), _farthest(b, corner))
        start, end = _acute_arc(a, b, corner)
        middle = np.radians((start + end) / 2)
        label = corner + radius * np.array([np.cos(middle), np.sin(middle)])
        return (
            *_bridges(a, b, corner),
            DrawnArc(pair(corner), radius, start, end),
            DrawnLabel(pair(label), "angle"),
        )


def _along(features: Shapes, role: str) -> Array:
    ends = only(features, role, Edge).ends
    along = np.asarray(ends[1] - ends[0])
    if not np.any(along):
        raise GeometryError(f"{role!r} has no length, so no direction. Point at more of it.")
    return along


def _farthest(ends: Array, corner: Array) -> float:
    return float(np.max(np.linalg.norm(ends - corner, axis=1)))


def _acute_arc(a: Array, b: Array, corner: Array) -> tuple[float, float]:
    """Start and end in degrees, anticlockwise, of the acute arc on the side of edge a."""
    toward = a[np.argmax(np.linalg.norm(a - corner, axis=1))] - corner
    along = b[1] - b[0]
    if float(along @ toward) < 0:
        along = -along
    first = float(np.degrees(np.arctan2(toward[1], toward[0])))
    second = float(np.degrees(np.arctan2(along[1], along[0])))
    turn = (second - first + 180) % 360 - 180
    return (first, first + turn) if turn >= 0 else (first + turn, first)


def _bridges(a: Array, b: Array, corner: Array) -> tuple[DrawnSegment, ...]:
    """Lines from each edge's nearer end to the corner."""
    nearer = (ends[np.argmin(np.linalg.norm(ends - corner, axis=1))] for ends in (a, b))
    return tuple(DrawnSegment(pair(end), pair(corner)) for end in nearer)
