"""Where are all holes of a part, as x and y from a datum?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import (
    PLACES,
    between,
    direction,
    left_of,
    position,
    positions,
)
from photomeasure.measurements.unlike import unlike_words
from photomeasure.records.shapes import (
    Circle,
    DrawnCircle,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
    Edge,
    Shape,
)

Array = NDArray[np.float64]

_BEYOND_MM = 8.0
_LEAST_SINE = 0.02


class HolePattern:
    """A table of holes from an origin, an x axis and, where wanted, the side of positive y.

    The side may be chosen so that the axes are those of the part seen from its back.
    """

    name = "hole_pattern"
    summary = "Table of x, y and diameter of any number of holes from a datum and axes you choose."
    needs = (
        Need("origin", PLACES, "Point at the hole or point that x and y count from."),
        Need(
            "x_axis",
            ("point", "circle", "edge"),
            "Point at a hole on the x axis, or along an edge in the direction of +x.",
        ),
        Need("holes", PLACES, "Point at each of the other holes in turn.", 1, None),
        Need("y_side", PLACES, "Point at a hole on the side where y is positive.", 0),
    )
    monte_carlo = False
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """x and y of each hole, and the diameter of each that is a circle; hole 1 leads."""
        said = []
        for key, (words, shape) in _table(features).items():
            if key != "origin":
                said.append(Output(f"{key}_x", "mm", f"{words}, x", primary=key == "hole_1"))
            if key not in ("origin", "x_axis"):
                said.append(Output(f"{key}_y", "mm", f"{words}, y"))
            if isinstance(shape, Circle):
                said.append(Output(f"{key}_diameter", "mm", f"{words}, diameter"))
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs. Raises GeometryError for axes that are not defined."""
        axes, start = _axes(features), position(features["origin"][0])
        values: dict[str, float] = {}
        for key, (_, shape) in _table(features).items():
            x, y = axes @ (position(shape) - start)
            values |= {f"{key}_x": float(x), f"{key}_y": float(y)}
            if isinstance(shape, Circle):
                values[f"{key}_diameter"] = 2 * shape.radius
        return {output.name: values[output.name] for output in self.outputs(features)}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """From which side the table is seen, and how large the whole pattern is."""
        axes = _axes(features)
        mirrored = float(np.linalg.det(axes)) < 0
        side = "the back: this table is mirrored against the photo" if mirrored else "this side"
        wide, high = np.ptp(_places(features) @ axes.T, axis=0)
        return (
            f"x and y are as seen from {side}.",
            f"From centre to centre the pattern spans {wide:.1f} mm in x and {high:.1f} mm in y.",
            *unlike_words(features["holes"]),
        )

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """Both axes, all holes with their numbers, and x of the first."""
        axes, start = _axes(features), position(features["origin"][0])
        reach = np.clip(np.max((_places(features) - start) @ axes.T, axis=0), 0.0, None)
        tips = start + (reach + _BEYOND_MM)[:, None] * axes
        first = position(features["holes"][0])
        foot = start + float(axes[0] @ (first - start)) * axes[0]
        shapes = [shape for _, shape in _table(features).values()]
        return (
            DrawnLabel(pair((start + foot) / 2), "hole_1_x"),
            *(DrawnSegment(pair(start), pair(tip)) for tip in tips),
            *(DrawnCircle(pair(s.centre), s.radius) for s in shapes if isinstance(s, Circle)),
            DrawnSegment(pair(foot), pair(first)),
            *(DrawnLabel(pair(tip), name) for tip, name in zip(tips, ("+x", "+y"), strict=True)),
            *(
                DrawnLabel(pair(position(shape)), f"hole {k}")
                for k, shape in enumerate(features["holes"], start=1)
            ),
        )


def _table(features: Shapes) -> dict[str, tuple[str, Shape]]:
    """How each line's quantities begin → its words and its shape, hole 1 first."""
    holes = enumerate(features["holes"], start=1)
    lines = {f"hole_{k}": (f"hole {k}", shape) for k, shape in holes}
    lines["origin"] = ("origin", features["origin"][0])
    (x_axis,) = features["x_axis"]
    if not isinstance(x_axis, Edge):
        lines["x_axis"] = ("hole on the x axis", x_axis)
    for shape in given(features, "y_side"):
        lines["y_side"] = ("hole on the side of +y", shape)
    return lines


def _places(features: Shapes) -> Array:
    """(N, 2) centres of everything in the table."""
    return positions([shape for _, shape in _table(features).values()])


def _axes(features: Shapes) -> Array:
    """(2, 2) unit vectors of x and y. Raises GeometryError where they are not defined."""
    start, (towards,) = position(features["origin"][0]), features["x_axis"]
    if isinstance(towards, Edge):
        x = direction(towards, "x_axis")
    else:
        x = between(start, position(towards), "'origin' and 'x_axis'")
    y = left_of(x)
    for shape in given(features, "y_side"):
        offset = position(shape) - start
        if abs(float(offset @ y)) < _LEAST_SINE * float(np.linalg.norm(offset)):
            raise GeometryError(
                "'y_side' lies on the x axis, so it shows no side. Point at a hole beside it."
            )
        y = y if float(offset @ y) > 0 else -y
    return np.array([x, y])
