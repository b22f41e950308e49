"""Which radius has a corner, fillet or arc?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import ROUND, circle_ends_deg, circle_of
from photomeasure.records.shapes import (
    Curve,
    DrawnArc,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
    Shape,
)

SHORT_ARC_DEG = 90.0


class Radius:
    """The radius of the circle that fits an arc best."""

    name = "radius"
    summary = "Radius of an arc, corner or fillet; arcs under 90° are flagged."
    needs = (Need("arc", ROUND, "Point along the arc, from one end to the other."),)
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The radius."""
        return (Output("radius", "mm", "radius", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The radius in mm. Raises GeometryError for an arc that is straight."""
        return {"radius": circle_of(features["arc"][0]).radius}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """What the sagitta makes of an error, where the arc is short."""
        return arc_remarks(features["arc"][0])

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The arc, and a dimension line from its centre to its middle."""
        line, label = radius_line(features["arc"][0], "radius")
        return (arc_drawn(features["arc"][0]), line, label)


def arc_remarks(shape: Shape) -> tuple[str, ...]:
    """How much of a circle was seen, chord and sagitta, and how they make an error grow.

    With half the arc h: chord c = 2R sin h, sagitta s = R(1 − cos h), R = c²/8s + s/2, so at
    a given chord dR/ds = −cos h/(1 − cos h).
    """
    circle = circle_of(shape)
    if circle.arc_deg >= 180.0:
        return ()
    half = np.radians(circle.arc_deg / 2)
    chord, sagitta = 2 * circle.radius * np.sin(half), circle.radius * (1 - np.cos(half))
    seen = (
        f"{circle.arc_deg:.0f}° of it was seen: a chord of {chord:.1f} mm with a sagitta of "
        f"{sagitta:.2f} mm"
    )
    if circle.arc_deg >= SHORT_ARC_DEG:
        return (f"{seen}.",)
    grows = np.cos(half) / (1 - np.cos(half))
    # Of a circle the report itself warns, whatever it serves.
    flag = f"Short arc, under {SHORT_ARC_DEG:.0f}°: " if isinstance(shape, Curve) else ""
    return (
        f"{flag}{seen}. An error of 0.1 mm in the sagitta is one of {0.1 * grows:.1f} mm in the "
        "radius. Show more of the arc, or try a radius gauge.",
    )


def arc_drawn(shape: Shape) -> DrawnArc:
    """The fitted arc as far as it was seen."""
    circle, (start, end) = circle_of(shape), circle_ends_deg(shape)
    return DrawnArc(pair(circle.centre), circle.radius, start, end)


def radius_line(shape: Shape, quantity: str) -> tuple[DrawnSegment, DrawnLabel]:
    """From the centre to the middle of the arc, its label at three quarters."""
    circle, middle = circle_of(shape), np.radians(sum(circle_ends_deg(shape)) / 2)
    arm = circle.radius * np.array([np.cos(middle), np.sin(middle)])
    end = pair(circle.centre + arm)
    line = DrawnSegment(pair(circle.centre), end, arrows=True)
    return line, DrawnLabel(pair(circle.centre + 0.6 * arm), quantity)
