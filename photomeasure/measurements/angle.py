"""At what angle do two straight edges stand to each other?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.lines import line_intersection
from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import STRAIGHT, crossing, ends_of
from photomeasure.records.shapes import DrawnArc, DrawnLabel, DrawnSegment, DrawnShape

Array = NDArray[np.float64]


class Angle:
    """The angle at the corner between two edges, 0° to 180°; of a tube its axis is meant.

    Each edge is taken to run from the corner to its farther end, so that a right angle is
    an angle like any other and not the end of a scale.
    """

    name = "angle"
    summary = "Angle between two edges or tubes at the corner where they meet, 0° to 180°."
    needs = (
        Need("edge_a", STRAIGHT, "Point at the first straight edge or tube."),
        Need("edge_b", STRAIGHT, "Point at the second straight edge or tube."),
    )
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The angle."""
        return (Output("angle", "deg", "angle between the edges", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The angle in degrees."""
        a, b = _from_corner(features)
        cross, dot = float(a[0] * b[1] - a[1] * b[0]), float(a @ b)
        return {"angle": float(np.degrees(np.arctan2(abs(cross), dot)))}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The supplement, which is meant as often."""
        return (f"Measured the other way round the corner: {180 - values['angle']:.2f}°.",)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """An arc where the edges meet; for nearly parallel ones only the label between them."""
        a, b = _both(features)
        corner = crossing(a, b)
        if corner is None:
            return (DrawnLabel(pair((a.mean(axis=0) + b.mean(axis=0)) / 2), "angle"),)
        radius = 0.5 * min(_farthest(a, corner), _farthest(b, corner))
        start, end = _arc(features)
        middle = np.radians((start + end) / 2)
        label = corner + radius * np.array([np.cos(middle), np.sin(middle)])
        return (
            *_bridges(a, b, corner),
            DrawnArc(pair(corner), radius, start, end),
            DrawnLabel(pair(label), "angle"),
        )


def _both(features: Shapes) -> tuple[Array, Array]:
    """Ends (2, 2) of both edges."""
    return ends_of(features["edge_a"][0]), ends_of(features["edge_b"][0])


def _from_corner(features: Shapes) -> tuple[Array, Array]:
    """Directions (2,) of both edges away from where they meet; of parallel ones as given."""
    a, b = _both(features)
    for role, ends in (("edge_a", a), ("edge_b", b)):
        if not np.any(ends[1] - ends[0]):
            raise GeometryError(f"{role!r} has no length, so no direction. Point at more of it.")
    try:
        corner = line_intersection(a[0], a[1] - a[0], b[0], b[1] - b[0])
    except GeometryError:
        along = b[1] - b[0]
        return a[1] - a[0], along * (1.0 if float(along @ (a[1] - a[0])) >= 0 else -1.0)
    return _away(a, corner), _away(b, corner)


def _away(ends: Array, corner: Array) -> Array:
    """(2,) along the edge, towards its end that is farther from the corner."""
    nearer, farther = np.argsort(np.linalg.norm(ends - corner, axis=1))
    return np.asarray(ends[farther] - ends[nearer])


def _farthest(ends: Array, corner: Array) -> float:
    return float(np.max(np.linalg.norm(ends - corner, axis=1)))


def _arc(features: Shapes) -> tuple[float, float]:
    """Start and end in degrees, anticlockwise, of the arc between both edges."""
    a, b = _from_corner(features)
    first, second = (float(np.degrees(np.arctan2(d[1], d[0]))) for d in (a, b))
    turn = (second - first + 180) % 360 - 180
    return (first, first + turn) if turn >= 0 else (first + turn, first)


def _bridges(a: Array, b: Array, corner: Array) -> tuple[DrawnSegment, ...]:
    """Lines from each edge's nearer end to the corner."""
    nearer = (ends[np.argmin(np.linalg.norm(ends - corner, axis=1))] for ends in (a, b))
    return tuple(DrawnSegment(pair(end), pair(corner)) for end in nearer)
