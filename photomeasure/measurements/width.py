"""How wide is a land, groove or strip between its two sides, and does that change?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.distances import point_polyline
from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import outline
from photomeasure.records.shapes import DrawnLabel, DrawnSegment, DrawnShape, Edge, Shape

Array = NDArray[np.float64]

_STEPS = 25
_SIDES = ("edge", "curve")


class Width:
    """The width between two sides at many places along both, as far as they face each other."""

    name = "width"
    summary = "Width of a land or groove between two edges or curves: mean, least, most, taper."
    needs = (
        Need("a", _SIDES, "Point along one side."),
        Need("b", _SIDES, "Point along the other side."),
    )
    # Least and most are skewed where the sides are nearly parallel.
    monte_carlo = True
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Mean, least and most; of straight sides also how far they are from parallel."""
        said = [
            Output("mean_width", "mm", "mean width", primary=True),
            Output("least_width", "mm", "least width"),
            Output("most_width", "mm", "most width"),
        ]
        if _straight(features):
            words = "out of parallel, opening along side a"
            said.append(Output("out_of_parallel", "deg", words))
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs. Raises GeometryError where the sides do not face each other."""
        on_a, on_b = _facing(features)
        widths = np.linalg.norm(on_a - on_b, axis=1)
        values = {
            "mean_width": float(widths.mean()),
            "least_width": float(widths.min()),
            "most_width": float(widths.max()),
        }
        if _straight(features):
            values["out_of_parallel"] = _opening_deg(features)
        return values

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Over which length, and where it is narrowest."""
        on_a, on_b = _facing(features)
        length = float(np.linalg.norm(np.diff((on_a + on_b) / 2, axis=0), axis=1).sum())
        x, y = (on_a + on_b)[int(np.argmin(np.linalg.norm(on_a - on_b, axis=1)))] / 2
        return (
            f"Both sides face each other over {length:.1f} mm; narrowest at x {x:.1f} mm, "
            f"y {y:.1f} mm on the sheet.",
        )

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """Dimension lines at the middle and at the narrowest place."""
        on_a, on_b = _facing(features)
        middle, narrow = len(on_a) // 2, int(np.argmin(np.linalg.norm(on_a - on_b, axis=1)))
        return (
            *(DrawnSegment(pair(on_a[k]), pair(on_b[k]), arrows=True) for k in {middle, narrow}),
            DrawnLabel(pair((on_a[middle] + on_b[middle]) / 2), "mean_width"),
        )


def _straight(features: Shapes) -> bool:
    return all(isinstance(features[role][0], Edge) for role in "ab")


def _facing(features: Shapes) -> tuple[Array, Array]:
    """(N, 2) places of side a whose nearest place on b is not an end of it, and those."""
    (a,), (b,) = features["a"], features["b"]
    if isinstance(a, Edge) and isinstance(b, Edge):
        return _facing_straight(a.ends, b.ends)
    chain = outline(b)
    on_a = _along(a)
    on_b = np.array([point_polyline(point, chain).on_b for point in on_a])
    ends = chain[[0, -1]]
    inside = np.min(np.linalg.norm(on_b[:, None] - ends[None], axis=2), axis=1) > 1e-9
    if inside.sum() < 2:
        raise _do_not_face()
    return on_a[inside], on_b[inside]


def _along(shape: Shape) -> Array:
    """(N, 2) places of a side, an edge's evenly."""
    if isinstance(shape, Edge):
        return np.linspace(shape.ends[0], shape.ends[1], _STEPS)
    return outline(shape)


def _facing_straight(a: Array, b: Array) -> tuple[Array, Array]:
    """Places across the bisector of both edges, over the length that they share."""
    b = b if float((b[1] - b[0]) @ (a[1] - a[0])) >= 0 else b[::-1]
    units = [(e[1] - e[0]) / np.linalg.norm(e[1] - e[0]) for e in (a, b)]
    along = (units[0] + units[1]) / np.linalg.norm(units[0] + units[1])
    low, high = max((a @ along)[0], (b @ along)[0]), min((a @ along)[1], (b @ along)[1])
    if high <= low:
        raise _do_not_face()
    at = np.linspace(low, high, _STEPS)
    on_a, on_b = (
        e[0] + ((at - e[0] @ along) / float(u @ along))[:, None] * u
        for e, u in zip((a, b), units, strict=True)
    )
    return on_a, on_b


def _opening_deg(features: Shapes) -> float:
    """The angle between both edges, positive where they part along side a."""
    a, b = outline(features["a"][0]), outline(features["b"][0])
    b = b if float((b[1] - b[0]) @ (a[1] - a[0])) >= 0 else b[::-1]
    u, v = a[1] - a[0], b[1] - b[0]
    turn = np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], float(u @ v)))
    offset = b.mean(axis=0) - a.mean(axis=0)
    left = u[0] * offset[1] - u[1] * offset[0]
    return float(turn * np.sign(left))


def _do_not_face() -> GeometryError:
    return GeometryError(
        "The two sides do not face each other over any length. Point at more of both."
    )
