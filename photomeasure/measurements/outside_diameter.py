"""How thick is a hose, tube or bar lying across the picture?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from photomeasure.measurements.kind import Need, Output, Shapes, only, pair
from photomeasure.measurements.places import direction, left_of
from photomeasure.records.shapes import DrawnLabel, DrawnSegment, DrawnShape, Tube

_TAPER_DEG = 0.5


class OutsideDiameter:
    """The outside diameter of a straight round body whose axis height is stated.

    That its two edges are grazed by sight lines, and are not a diameter apart, has been
    allowed for where the tube was placed.
    """

    name = "outside_diameter"
    summary = (
        "Outside diameter of a hose, tube or bar, allowing for how a camera sees a round body."
    )
    needs = (Need("tube", ("tube",), "Point along one side of the tube, then along the other."),)
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The diameter."""
        return (Output("outside_diameter", "mm", "outside diameter", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The diameter in mm."""
        return {"outside_diameter": 2 * only(features, "tube", Tube).radius}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """What was assumed, and where the two sides speak against it."""
        taper = only(features, "tube", Tube).taper_deg
        said = [
            "Its plane is taken to hold the axis: state the height of the middle of the tube, "
            "not of its top."
        ]
        if taper > _TAPER_DEG:
            said.append(
                f"Its sides run together by {taper:.1f}° in that plane: the tube slopes against "
                "it, or is conical. The diameter is a mean along what was pointed at."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The axis, and a dimension line across its middle."""
        tube = only(features, "tube", Tube)
        arm = tube.radius * left_of(direction(tube, "tube"))
        middle = tube.axis.mean(axis=0)
        return (
            DrawnSegment(pair(tube.axis[0]), pair(tube.axis[1])),
            DrawnSegment(pair(middle - arm), pair(middle + arm), arrows=True),
            DrawnLabel(pair(middle + np.array(0.5) * arm), "outside_diameter"),
        )
