"""How much material is left between holes?"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from photomeasure.geometry.distances import Closest, circle_circle_gap
from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import circle_of
from photomeasure.records.shapes import (
    Circle,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
)


class Web:
    """The smallest web between any two of the holes."""

    name = "web"
    summary = "Web: the material left between holes, at its thinnest place, and their spacing."
    needs = (Need("holes", ("circle",), "Point at the edge of each hole in turn.", 2, None),)
    # With three holes and more, which web is the thinnest may change.
    monte_carlo = True
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Web and centre distance of the two holes that it lies between."""
        return (
            Output("web", "mm", "thinnest web between two holes", primary=True),
            Output("centre_distance", "mm", "centre distance of these two holes"),
        )

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """Both outputs; a web below 0 is two holes that run into each other."""
        one, other, found = _thinnest(features)
        return {
            "web": found.value,
            "centre_distance": float(np.linalg.norm(one.centre - other.centre)),
        }

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Between which holes, and their spacing in diameters, as rules have it."""
        one, other, found = _thinnest(features)
        holes = [circle_of(shape) for shape in features["holes"]]
        ratio = values["centre_distance"] / (2 * max(one.radius, other.radius))
        said = [f"The centres are {ratio:.2f} diameters of the larger hole apart."]
        if len(holes) > 2:
            numbers = sorted(holes.index(hole) + 1 for hole in (one, other))
            said.insert(0, f"It lies between holes {numbers[0]} and {numbers[1]}.")
        if found.value < 0:
            said.append("The two holes run into each other.")
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line across the web."""
        _, _, found = _thinnest(features)
        return (
            DrawnSegment(pair(found.on_a), pair(found.on_b), arrows=True),
            DrawnLabel(pair((found.on_a + found.on_b) / 2), "web"),
        )


def _thinnest(features: Shapes) -> tuple[Circle, Circle, Closest]:
    """The two holes with the smallest gap between their rims, and where it is."""
    holes = [circle_of(shape) for shape in features["holes"]]
    found = [
        (a, b, circle_circle_gap(a.centre, a.radius, b.centre, b.radius))
        for a, b in combinations(holes, 2)
    ]
    return min(found, key=lambda item: item[2].value)
