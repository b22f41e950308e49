"""How narrow does it get between two outlines on one plane, and where?

Contact reads 0 and overlap reads minus its depth: both are results, never errors.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.distances import (
    Closest,
    circle_circle_gap,
    polyline_circle_gap,
    polyline_polyline_gap,
)
from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import outline
from photomeasure.records.shapes import (
    Circle,
    Curve,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
    Edge,
    Shape,
)

_KINDS = ("edge", "curve", "circle", "point")


class Gap:
    """The smallest distance between two outlines, as far as they were pointed at."""

    name = "gap"
    summary = "Smallest gap between two edges, curves or circles on one plane, and where."
    needs = (
        Need("a", _KINDS, "Point along the first edge."),
        Need("b", _KINDS, "Point along the second edge."),
    )
    monte_carlo = True
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The gap."""
        return (Output("gap", "mm", "smallest gap", primary=True),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The signed gap in mm."""
        return {"gap": _closest(features).value}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Where it is, whether it is contact or overlap, and whether an end limits it."""
        found = _closest(features)
        x, y = (found.on_a + found.on_b) / 2
        said = [f"Narrowest at x {x:.1f} mm, y {y:.1f} mm on the sheet."]
        if found.value == 0:
            said.append("They touch.")
        elif found.value < 0:
            said.append(f"They overlap: the one reaches {-found.value:.2f} mm past the other.")
        for role, place in (("a", found.on_a), ("b", found.on_b)):
            if _is_end(features[role][0], place):
                said.append(
                    f"The narrowest place is an end of {role!r} as pointed at; beyond it "
                    "nothing was looked at."
                )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A dimension line across the narrowest place."""
        found = _closest(features)
        return (
            DrawnSegment(pair(found.on_a), pair(found.on_b), arrows=True),
            DrawnLabel(pair((found.on_a + found.on_b) / 2), "gap"),
        )


def _closest(features: Shapes) -> Closest:
    (a,), (b,) = features["a"], features["b"]
    if isinstance(a, Circle) and isinstance(b, Circle):
        return circle_circle_gap(a.centre, a.radius, b.centre, b.radius)
    if isinstance(a, Circle):
        return polyline_circle_gap(outline(b), a.centre, a.radius).swapped()
    if isinstance(b, Circle):
        return polyline_circle_gap(outline(a), b.centre, b.radius)
    return polyline_polyline_gap(outline(a), outline(b))


def _is_end(shape: Shape, place: NDArray[np.float64]) -> bool:
    """Whether a place is an end of an edge or open curve."""
    if not isinstance(shape, Edge | Curve) or (isinstance(shape, Curve) and shape.closed):
        return False
    ends = outline(shape)[[0, -1]]
    return bool(np.min(np.linalg.norm(ends - place, axis=1)) < 1e-9)
