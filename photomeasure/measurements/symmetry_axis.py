"""About which axis do features in pairs mirror each other, and how well?

Of all reflections this finds the one that leaves the least sum of squares between each
feature and its partner's image. For an axis through c with unit direction u and normal n the
sum is Σ ((b − a)·u)² + Σ ((a + b − 2c)·n)², so c is the mean of all midpoints and u the
eigenvector of a 2 × 2 matrix: a closed form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import PLACES, left_of, positions, turn_deg
from photomeasure.records.shapes import DrawnLabel, DrawnSegment, DrawnShape

Array = NDArray[np.float64]

_CLEAR = 1.05  # by how much one axis must fit better than the one across it
_SHEET_X = np.array([1.0, 0.0])


@dataclass(frozen=True, eq=False)
class _Fit:
    """The axis, its side `left` on the left, and what it leaves of each pair, mm.

    across : how far each pair's middle lies left of the axis. along : how far the right one
    is ahead of the left one. centred : how far left those that belong on the axis lie.
    """

    middle: Array
    along_axis: Array
    across: Array
    along: Array
    centred: Array


class SymmetryAxis:
    """The axis of a part by features in pairs, and those that lie on the axis itself."""

    name = "symmetry_axis"
    summary = "Axis of symmetry of features in pairs, and by how much each pair misses it."
    needs = (
        Need("left", PLACES, "Point at the features on one side in turn.", 1, None),
        Need("right", PLACES, "Point at their partners, in the same order.", 1, None),
        Need("centred", PLACES, "Point at features that belong on the axis.", 0, None),
    )
    monte_carlo = False
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The axis; then, where there is more than one pair, what it leaves of each."""
        count, centred = len(features["left"]), len(given(features, "centred"))
        said = [
            Output(
                "axis_angle",
                "deg",
                "angle of the axis from the sheet's x axis, anticlockwise",
                primary=True,
                period=360.0,
            ),
            Output("middle_x", "mm", "a point of the axis, x on the sheet"),
            Output("middle_y", "mm", "a point of the axis, y on the sheet"),
        ]
        for k in range(1, count + 1) if count + centred > 1 else ():
            said += [
                Output(f"pair_{k}_across", "mm", f"pair {k}, its middle left of the axis by"),
                Output(f"pair_{k}_along", "mm", f"pair {k}, the right one ahead by"),
            ]
        for k in range(1, centred + 1):
            said.append(Output(f"centred_{k}", "mm", f"centred feature {k}, left of the axis by"))
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs. Raises GeometryError for pairs that leave the axis open."""
        fit = _fit(features)
        values = {
            "axis_angle": turn_deg(fit.along_axis, _SHEET_X),
            "middle_x": float(fit.middle[0]),
            "middle_y": float(fit.middle[1]),
        }
        for k, (across, along) in enumerate(zip(fit.across, fit.along, strict=True), start=1):
            values |= {f"pair_{k}_across": float(across), f"pair_{k}_along": float(along)}
        values |= {f"centred_{k}": float(d) for k, d in enumerate(fit.centred, start=1)}
        return {output.name: values[output.name] for output in self.outputs(features)}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The worst of all, and what one pair cannot show."""
        fit = _fit(features)
        if len(fit.across) + len(fit.centred) == 1:
            return ("One pair always has an axis: a second would show whether it is one.",)
        misses = np.hypot(2 * fit.across, fit.along)
        worst = int(np.argmax(misses))
        said = [
            f"Pair {worst + 1} is the least symmetric: mirrored, its one feature misses the other "
            f"by {misses[worst]:.2f} mm."
        ]
        if len(fit.centred):
            far = int(np.argmax(np.abs(fit.centred)))
            said.append(
                f"Centred feature {far + 1} lies {abs(fit.centred[far]):.2f} mm off the axis."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The axis through all pairs, and a line between the features of each."""
        fit = _fit(features)
        left, right = positions(features["left"]), positions(features["right"])
        places = np.vstack([left, right, positions(given(features, "centred"))])
        along = (places - fit.middle) @ fit.along_axis
        low, high = fit.middle + np.outer([along.min() - 8, along.max() + 8], fit.along_axis)
        return (
            DrawnSegment(pair(low), pair(high)),
            *(DrawnSegment(pair(a), pair(b)) for a, b in zip(left, right, strict=True)),
            DrawnLabel(pair(high), "axis_angle"),
        )


def _fit(features: Shapes) -> _Fit:
    left, right = positions(features["left"]), positions(features["right"])
    centred = positions(given(features, "centred"))
    if len(left) != len(right):
        raise GeometryError(
            f"'left' has {len(left)} feature(s) and 'right' {len(right)}; each needs its partner. "
            "Name as many on both sides, in the same order."
        )
    halves = np.vstack([(left + right) / 2, centred])
    middle = halves.mean(axis=0)
    axis = _axis(right - left, halves - middle)
    axis = axis if float((left - right).sum(axis=0) @ left_of(axis)) >= 0 else -axis
    normal = left_of(axis)
    offsets = (halves - middle) @ normal
    return _Fit(middle, axis, offsets[: len(left)], (right - left) @ axis, offsets[len(left) :])


def _axis(apart: Array, halves: Array) -> Array:
    """(2,) unit direction that is most at right angles to the pairs and along their middles."""
    quarter = np.array([[0.0, 1.0], [-1.0, 0.0]])  # n = quarter.T @ u
    sides = 2 * halves
    matrix = apart.T @ apart + quarter @ (sides.T @ sides) @ quarter.T
    sizes, axes = np.linalg.eigh(matrix)
    if sizes[1] <= _CLEAR * sizes[0]:
        raise GeometryError(
            "The pairs fit an axis this way as well as across. Are both sides in the same order?"
        )
    return np.asarray(axes[:, 0])
