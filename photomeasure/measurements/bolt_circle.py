"""On which circle do the centres of these holes lie, and how well does each?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle
from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.records.shapes import (
    Circle,
    DrawnCircle,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
)

Array = NDArray[np.float64]

_CUT_DEG = -11.0
"""Where the first hole's angle jumps by a turn: not at 0°, along which parts are laid."""

_FLATTEST = 5.0
"""Holes on a radius beyond this many times their extent count as lying in a row."""


@dataclass(frozen=True, eq=False)
class _Pattern:
    """The fitted circle and each hole's place on it, (N,) each."""

    centre: Array
    radius: float
    angles_deg: Array
    deviations_mm: Array


class BoltCircle:
    """The circle through the centres of three or more holes."""

    name = "bolt_circle"
    summary = "Circle through the centres of three or more holes; angle and deviation of each."
    needs = (Need("holes", ("circle",), "Point at the edge of each hole in turn.", 3, None),)
    monte_carlo = False
    one_plane = True

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Diameter and centre, then angle and radial deviation of each hole.

        Three holes always lie on a circle, so their deviations are no result.
        """
        said = [
            Output("diameter", "mm", "bolt circle diameter", primary=True),
            Output("centre_x", "mm", "centre, x on the sheet"),
            Output("centre_y", "mm", "centre, y on the sheet"),
        ]
        count = len(features["holes"])
        for number in range(1, count + 1):
            since = "the sheet's x axis" if number == 1 else "hole 1"
            words = f"angle of hole {number} from {since}, anticlockwise"
            said.append(Output(f"hole_{number}_angle", "deg", words))
            if count > 3:
                outward = f"how far outside the bolt circle hole {number} lies"
                said.append(Output(f"hole_{number}_deviation", "mm", outward))
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """All outputs. Raises GeometryError for holes in a row or on one spot."""
        pattern = _pattern(features)
        values = {
            "diameter": 2 * pattern.radius,
            "centre_x": float(pattern.centre[0]),
            "centre_y": float(pattern.centre[1]),
        }
        holes = zip(pattern.angles_deg, pattern.deviations_mm, strict=True)
        for number, (angle, deviation) in enumerate(holes, start=1):
            values[f"hole_{number}_angle"] = float(angle)
            if len(pattern.angles_deg) > 3:
                values[f"hole_{number}_deviation"] = float(deviation)
        return values

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """How far the holes are from equal spacing, and what three holes cannot show."""
        pattern = _pattern(features)
        count = len(pattern.angles_deg)
        turns = np.sort(np.append(0.0, pattern.angles_deg[1:]))
        steps = np.diff(np.append(turns, 360.0))
        off = float(np.max(np.abs(steps - 360.0 / count)))
        across = float(np.radians(off)) * pattern.radius
        said = [
            f"{count} holes at equal spacing would be {360 / count:.2f}° apart; the step "
            f"farthest from that is off by {off:.2f}°, {across:.2f} mm along the circle."
        ]
        if count == 3:
            said.append(
                "Three holes always lie on a circle: a fourth would show their deviations."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The bolt circle dashed, its diameter through the first hole, and the holes.

        The label stands on the circle, halfway from the first hole to the next.
        """
        pattern = _pattern(features)
        centre = pattern.centre
        toward = _centres(features)[0] - centre
        toward = toward / np.linalg.norm(toward) * pattern.radius
        marks = [
            DrawnCircle(pair(shape.centre), shape.radius)
            for shape in features["holes"]
            if isinstance(shape, Circle)
        ]
        return (
            DrawnCircle(pair(centre), pattern.radius, dashed=True),
            *marks,
            DrawnSegment(pair(centre - toward), pair(centre + toward), arrows=True),
            DrawnLabel(pair(_between_holes(pattern, toward)), "diameter"),
        )


def _between_holes(pattern: _Pattern, toward: Array) -> Array:
    """A point of the circle with a hole on either side. toward : centre to the first hole."""
    step = np.radians(np.min(pattern.angles_deg[1:])) / 2
    turn = np.array([[np.cos(step), -np.sin(step)], [np.sin(step), np.cos(step)]])
    return np.asarray(pattern.centre + turn @ toward)


def _centres(features: Shapes) -> Array:
    return np.array([s.centre for s in features["holes"] if isinstance(s, Circle)])


def _pattern(features: Shapes) -> _Pattern:
    centres = _centres(features)
    extent = float(np.max(np.ptp(centres, axis=0)))
    _refuse_same_place(centres, extent)
    centre, radius = fit_circle(centres)
    if radius > _FLATTEST * extent:
        raise GeometryError(
            f"The {len(centres)} holes lie almost in a row {extent:.1f} mm long; a bolt circle of "
            f"{2 * radius:.0f} mm cannot be told from it. Add a hole off the row."
        )
    offsets = centres - centre
    angles = np.degrees(np.arctan2(offsets[:, 1], offsets[:, 0]))
    since_first = np.mod(angles - angles[0], 360.0)
    since_first[0] = np.mod(angles[0] - _CUT_DEG, 360.0) + _CUT_DEG
    return _Pattern(centre, radius, since_first, np.hypot(*offsets.T) - radius)


def _refuse_same_place(centres: Array, extent: float) -> None:
    between = np.linalg.norm(centres[:, None] - centres[None], axis=2)
    between[np.tril_indices(len(centres))] = np.inf
    first, second = np.unravel_index(int(np.argmin(between)), between.shape)
    if between[first, second] <= 1e-3 * extent:
        raise GeometryError(
            f"Holes {first + 1} and {second + 1} are the same hole. Point at another one."
        )
