"""How far apart are two points or centres of circles?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import PLACES, position
from photomeasure.records.shapes import Circle, DrawnLabel, DrawnSegment, DrawnShape


class Distance:
    """Straight-line distance between two points; a circle counts by its centre."""

    name = "distance"
    summary = "Distance between two points or the centres of two circles."
    needs = (
        Need("a", PLACES, "Point at the first point or circle."),
        Need("b", PLACES, "Point at the second point or circle."),
    )
    # Not Gaussian near zero, but places that close are measured by a gap, which is drawn.
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The distance."""
        return (Output("distance", "mm", "distance", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The distance in mm."""
        return {
            "distance": float(
                np.linalg.norm(position(features["b"][0]) - position(features["a"][0]))
            )
        }

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Says where centres were used."""
        circles = sum(isinstance(shape, Circle) for role in features for shape in features[role])
        if not circles:
            return ()
        return ("Measured from the centre of each circle, not from its edge.",)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line between the two places."""
        a, b = position(features["a"][0]), position(features["b"][0])
        return (
            DrawnSegment(pair(a), pair(b), arrows=True),
            DrawnLabel(pair((a + b) / 2), "distance"),
        )
