"""How far from a straight edge is a point, at right angles, and on which side?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import (
    PLACES,
    STRAIGHT,
    direction,
    ends_of,
    left_of,
    position,
    side_words,
)
from photomeasure.records.shapes import DrawnLabel, DrawnSegment, DrawnShape

Array = NDArray[np.float64]


class PointToEdge:
    """The perpendicular distance of a point from an edge, which goes on beyond its ends."""

    name = "point_to_edge"
    summary = "Perpendicular distance of a point or centre from a straight edge, and the side."
    needs = (
        Need("point", PLACES, "Point at the point or circle."),
        Need("edge", STRAIGHT, "Point at the straight edge."),
    )
    # A distance near 0 is folded over there.
    monte_carlo = True
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The distance."""
        return (Output("distance", "mm", "perpendicular distance", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The distance in mm."""
        return {"distance": abs(_left_by(features))}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The side, and whether the edge was seen at the foot."""
        said = [
            f"It lies {side_words(_left_by(features))} of the edge, looking along it from its "
            "first click, as seen from this side."
        ]
        beyond = beyond_ends(_foot(features), ends_of(features["edge"][0]))
        if beyond > 0:
            said.append(
                f"The foot lies {beyond:.1f} mm beyond what was pointed at; the edge is taken to "
                "go on straight."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line from the point to its foot, and the edge drawn on to it."""
        place, foot = position(features["point"][0]), _foot(features)
        return (
            *extension(foot, ends_of(features["edge"][0])),
            DrawnSegment(pair(place), pair(foot), arrows=True),
            DrawnLabel(pair((place + foot) / 2), "distance"),
        )


def beyond_ends(foot: Array, ends: Array) -> float:
    """How far a point (2,) on a line lies beyond the ends (2, 2) seen of it; 0 between them."""
    way = ends[1] - ends[0]
    length = float(np.linalg.norm(way))
    along = float((foot - ends[0]) @ way) / length
    return max(0.0, -along, along - length)


def extension(foot: Array, ends: Array) -> tuple[DrawnSegment, ...]:
    """A line from the nearer end to a foot beyond it; none between the ends."""
    if beyond_ends(foot, ends) == 0:
        return ()
    nearer = ends[np.argmin(np.linalg.norm(ends - foot, axis=1))]
    return (DrawnSegment(pair(nearer), pair(foot)),)


def _left_by(features: Shapes) -> float:
    (edge,) = features["edge"]
    offset = position(features["point"][0]) - ends_of(edge)[0]
    return float(offset @ left_of(direction(edge, "edge")))


def _foot(features: Shapes) -> Array:
    across = left_of(direction(features["edge"][0], "edge"))
    return np.asarray(position(features["point"][0]) - _left_by(features) * across)
