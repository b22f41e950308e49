"""How much material is left between a hole and the edge beside it?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.distances import point_polyline
from photomeasure.geometry.lines import project_on_line
from photomeasure.measurements.kind import Need, Output, Shapes, only, pair
from photomeasure.measurements.places import outline
from photomeasure.measurements.point_to_edge import beyond_ends, extension
from photomeasure.records.shapes import Circle, DrawnLabel, DrawnSegment, DrawnShape, Edge

Array = NDArray[np.float64]


class HoleToEdge:
    """The wall between a hole and an edge, and the edge distance of its centre.

    A straight edge goes on beyond its ends; of a curve only what was seen counts.
    """

    name = "hole_to_edge"
    summary = "Wall left between a hole and an edge, and the edge distance of its centre."
    needs = (
        Need("hole", ("circle",), "Point at the edge of the hole."),
        Need("edge", ("edge", "curve"), "Point along the edge of the part beside it."),
    )
    # The nearest place of a curve may jump.
    monte_carlo = True
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Wall, edge distance and diameter."""
        return (
            Output("wall", "mm", "wall between hole and edge", primary=True),
            Output("edge_distance", "mm", "edge distance of the hole's centre"),
            Output("hole_diameter", "mm", "diameter of the hole"),
        )

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs; a wall below 0 is a hole that cuts the edge."""
        hole = only(features, "hole", Circle)
        away = float(np.linalg.norm(_nearest(features) - hole.centre))
        wall = away - hole.radius
        return {"wall": wall, "edge_distance": away, "hole_diameter": 2 * hole.radius}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The edge distance in diameters, as rules have it, and what else to know."""
        ratio = values["edge_distance"] / values["hole_diameter"]
        said = [f"The edge distance is {ratio:.2f} times the hole's diameter."]
        if values["wall"] < 0:
            said.append("The hole cuts the edge.")
        (edge,) = features["edge"]
        beyond = beyond_ends(_nearest(features), edge.ends) if isinstance(edge, Edge) else 0.0
        if beyond > 0:
            said.append(
                f"The nearest place lies {beyond:.1f} mm beyond what was pointed at; the edge is "
                "taken to go on straight."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line across the wall, and a line from the centre to it."""
        hole, nearest = only(features, "hole", Circle), _nearest(features)
        way = nearest - hole.centre
        away = max(float(np.linalg.norm(way)), 1e-9)
        rim = hole.centre + way / away * hole.radius
        (edge,) = features["edge"]
        return (
            *(extension(nearest, edge.ends) if isinstance(edge, Edge) else ()),
            DrawnSegment(pair(hole.centre), pair(rim)),
            DrawnSegment(pair(rim), pair(nearest), arrows=True),
            DrawnLabel(pair((rim + nearest) / 2), "wall"),
        )


def _nearest(features: Shapes) -> Array:
    """(2,) the place of the edge that is nearest to the hole's centre."""
    centre, (edge,) = only(features, "hole", Circle).centre, features["edge"]
    if isinstance(edge, Edge):
        way = edge.ends[1] - edge.ends[0]
        return np.asarray(project_on_line(centre[None], edge.ends[0], way)[0])
    return point_polyline(centre, outline(edge)).on_b
