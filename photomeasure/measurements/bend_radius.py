"""Which radius has a bend on its inside, as bends of sheet, tube and hose are stated?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from photomeasure.measurements.kind import Need, Output, Shapes, given
from photomeasure.measurements.places import ROUND, circle_of
from photomeasure.measurements.radius import arc_drawn, arc_remarks, radius_line
from photomeasure.records.shapes import DrawnShape

_ROUND_BODY_DEG = 10.0


class BendRadius:
    """The inside radius of a bend; with its outside, also that radius and the thickness."""

    name = "bend_radius"
    summary = "Inside bend radius of a sheet, tube or hose; with its outside, the thickness too."
    needs = (
        Need("inside", ROUND, "Point along the inside of the bend, from one end to the other."),
        Need("outside", ROUND, "Point along the outside of the bend.", 0),
    )
    monte_carlo = False
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Inside radius, then what the outside adds."""
        said = [Output("inside_radius", "mm", "inside bend radius", primary=True)]
        if given(features, "outside"):
            said += [
                Output("outside_radius", "mm", "outside bend radius"),
                Output("centreline_radius", "mm", "radius of the centreline"),
                Output("thickness", "mm", "difference of both radii"),
            ]
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs in mm. Raises GeometryError for an arc that is straight."""
        inside = circle_of(features["inside"][0]).radius
        values = {"inside_radius": inside}
        for shape in given(features, "outside"):
            outside = circle_of(shape).radius
            values |= {
                "outside_radius": outside,
                "centreline_radius": (inside + outside) / 2,
                "thickness": outside - inside,
            }
        return values

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Short arcs, centres that differ, and what a round body needs."""
        said = list(arc_remarks(features["inside"][0]))
        for shape in given(features, "outside"):
            inside, outside = circle_of(features["inside"][0]), circle_of(shape)
            apart = float(np.linalg.norm(inside.centre - outside.centre))
            said.append(f"The centres of both arcs lie {apart:.2f} mm apart.")
        said.append(
            "Of a hose or tube the outline is meant as seen from straight above, on a plane at "
            f"the height of its axis; stay within {_ROUND_BODY_DEG:.0f}° of that."
        )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """Both arcs, and a dimension line to the middle of the inside."""
        inside = features["inside"][0]
        line, label = radius_line(inside, "inside_radius")
        arcs = [arc_drawn(shape) for shape in (inside, *given(features, "outside"))]
        return (*arcs, line, label)
