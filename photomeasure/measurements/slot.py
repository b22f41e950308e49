"""How long and how wide is a slot with round ends, and which way does it lie?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import (
    ROUND,
    STRAIGHT,
    between,
    circle_of,
    direction,
    ends_of,
    left_of,
    turn_deg,
)
from photomeasure.measurements.radius import arc_drawn
from photomeasure.records.shapes import (
    Circle,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
)

Array = NDArray[np.float64]
Ends = tuple[Circle, Circle]

_SHEET_X = np.array([1.0, 0.0])


class Slot:
    """A slot by its two round ends; its two straight sides make the width better known."""

    name = "slot"
    summary = "Slot: overall length, width, centre distance and angle, from its round ends."
    needs = (
        Need("ends", ROUND, "Point along each round end in turn.", 2, 2),
        Need("sides", ("edge",), "Point along both straight sides.", 0, 2),
        Need("datum", STRAIGHT, "Point at an edge that the angle counts from.", 0),
    )
    monte_carlo = False
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Length, width, centre distance and angle."""
        since = "the datum" if given(features, "datum") else "the sheet's x axis"
        return (
            Output("length", "mm", "overall length", primary=True),
            Output("width", "mm", "width"),
            Output("centre_distance", "mm", "distance between the centres of both ends"),
            Output("angle", "deg", f"angle from {since}, anticlockwise", period=180.0),
        )

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs. Raises GeometryError for ends on one spot or a single side."""
        ends = first, second = _ends(features)
        apart, along = float(np.linalg.norm(second.centre - first.centre)), _along(ends)
        return {
            "length": apart + first.radius + second.radius,
            "width": _width(features, ends),
            "centre_distance": apart,
            "angle": turn_deg(along, _since(features)) % 180.0,
        }

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """How much a screw of the slot's width can be moved, and how like the ends are."""
        first, second = _ends(features)
        unlike = 2 * abs(first.radius - second.radius)
        return (
            f"A screw that fills it can move by {values['centre_distance']:.2f} mm.",
            f"The diameters of both ends differ by {unlike:.2f} mm.",
        )

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """Both ends, the overall length along the middle and the width across it."""
        ends = first, second = _ends(features)
        along, middle = _along(ends), (first.centre + second.centre) / 2
        across = left_of(along) * _width(features, ends) / 2
        tips = first.centre - first.radius * along, second.centre + second.radius * along
        return (
            *(arc_drawn(shape) for shape in features["ends"]),
            DrawnSegment(pair(tips[0]), pair(tips[1]), arrows=True),
            DrawnSegment(pair(middle - across), pair(middle + across), arrows=True),
            DrawnLabel(pair((middle + tips[1]) / 2), "length"),
            DrawnLabel(pair(middle + across), "width"),
        )


def _ends(features: Shapes) -> Ends:
    first, second = features["ends"]
    return circle_of(first), circle_of(second)


def _along(ends: Ends) -> Array:
    return between(ends[0].centre, ends[1].centre, "Both ends of the slot")


def _since(features: Shapes) -> Array:
    """(2,) the direction that the angle counts from."""
    for datum in given(features, "datum"):
        return direction(datum, "datum")
    return _SHEET_X


def _width(features: Shapes, ends: Ends) -> float:
    """Between the sides halfway along them, else the mean diameter of the ends."""
    sides = given(features, "sides")
    if not sides:
        return ends[0].radius + ends[1].radius
    if len(sides) != 2:
        raise GeometryError("One side of the slot was given. Point at the other one too.")
    across = left_of(_along(ends))
    middle = ends_of(sides[1]).mean(axis=0) - ends_of(sides[0]).mean(axis=0)
    return abs(float(middle @ across))
