"""How long is a straight edge?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.lines import line_intersection
from photomeasure.measurements.kind import Need, Output, Shapes, given, only, pair
from photomeasure.records.shapes import DrawnLabel, DrawnSegment, DrawnShape, Edge

Array = NDArray[np.float64]


class EdgeLength:
    """The length of an edge between the two edges that end it, else between its clicks."""

    name = "edge_length"
    summary = "Length of a straight edge, between the two edges that end it or between the clicks."
    needs = (
        Need("edge", ("edge",), "Point at both ends of the edge."),
        Need("ends", ("edge",), "Point along the two edges that it ends at.", 0, 2),
    )
    monte_carlo = False
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The length."""
        return (Output("length", "mm", "length of the edge", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The length in mm. Raises GeometryError for one end, or one that is parallel."""
        first, second = _corners(features)
        return {"length": float(np.linalg.norm(second - first))}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Where it was taken to end."""
        if given(features, "ends"):
            return ("Measured between the sharp corners, whatever rounds or breaks them.",)
        return (
            "It ends where it was clicked, which is the larger part of the uncertainty. Name the "
            "two edges that it ends at to do better.",
        )

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line along the edge."""
        first, second = _corners(features)
        return (
            DrawnSegment(pair(first), pair(second), arrows=True),
            DrawnLabel(pair((first + second) / 2), "length"),
        )


def _corners(features: Shapes) -> tuple[Array, Array]:
    start, end = only(features, "edge", Edge).ends
    ends = [shape.ends for shape in given(features, "ends") if isinstance(shape, Edge)]
    if not ends:
        return start, end
    if len(ends) != 2:
        raise GeometryError("One end of the edge was given. Point at the other one too.")
    first, second = (line_intersection(start, end - start, e[0], e[1] - e[0]) for e in ends)
    return first, second
