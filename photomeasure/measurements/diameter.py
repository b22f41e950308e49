"""How wide is a round hole, bore, pin or disc?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from photomeasure.measurements.kind import Need, Output, Shapes, only, pair
from photomeasure.records.shapes import Circle, DrawnLabel, DrawnSegment, DrawnShape

_FALL_RAD = np.radians(20.0)


class Diameter:
    """The diameter of one circle."""

    name = "diameter"
    summary = "Diameter of a hole, bore, pin or disc."
    needs = (Need("circle", ("circle",), "Point at the edge of the hole or disc."),)
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The diameter."""
        return (Output("diameter", "mm", "diameter", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The diameter in mm."""
        return {"diameter": 2 * only(features, "circle", Circle).radius}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Nothing: a report warns of a short arc wherever one is used."""
        return ()

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line across the circle, falling at 20°, its label at the lower end.

        Bolt circles are drawn through their holes, which seldom lie in that direction.
        """
        circle = only(features, "circle", Circle)
        reach = circle.radius * np.array([np.cos(_FALL_RAD), -np.sin(_FALL_RAD)])
        low = pair(circle.centre + reach)
        line = DrawnSegment(pair(circle.centre - reach), low, arrows=True)
        return line, DrawnLabel(low, "diameter")
