"""On which circle do the centres of these holes lie, and how well does each?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle
from photomeasure.measurements.clock_position import clock_words
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import (
    PLACES,
    STRAIGHT,
    between,
    direction,
    position,
    turn_deg,
)
from photomeasure.measurements.unlike import unlike_words
from photomeasure.records.shapes import (
    Circle,
    DrawnCircle,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
    Edge,
    Tube,
)

Array = NDArray[np.float64]

_FLATTEST = 5.0
"""Holes on a radius beyond this many times their extent count as lying in a row."""

_EVEN = 0.05  # of a step: farther from its place, a hole does not belong to equal spacing
_MOST_MISSING = 0.5  # of the holes found: where more are missing, many patterns would fit


@dataclass(frozen=True, eq=False)
class _Pattern:
    """The fitted circle and each hole's place on it, (N,) each.

    angles_deg : anticlockwise, 0° to 360°, hole 1 from the datum, the others from hole 1.
    """

    centre: Array
    radius: float
    angles_deg: Array
    deviations_mm: Array


@dataclass(frozen=True, eq=False)
class _Spacing:
    """Equal spacing that some holes keep: how many places, how far off the farthest is, and
    the places without a hole, in degrees from hole 1."""

    places: int
    off_deg: float
    missing_deg: Array


class BoltCircle:
    """The circle through the centres of three or more holes, at equal spacing or not."""

    name = "bolt_circle"
    summary = (
        "Circle through the centres of three or more holes: rotation, spacing, a missing hole."
    )
    needs = (
        Need("holes", ("circle",), "Point at the edge of each hole in turn.", 3, None),
        Need("datum", (*STRAIGHT, *PLACES), "Point at what the rotation counts from.", 0),
    )
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
            datum = "the datum" if given(features, "datum") else "the sheet's x axis"
            words = f"angle of hole {number} from {datum if number == 1 else 'hole 1'}"
            name = f"hole_{number}_angle"
            said.append(Output(name, "deg", f"{words}, anticlockwise", period=360.0))
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
        """Rotation by the clock, the spacing, a missing hole, what three holes cannot show."""
        pattern = _pattern(features)
        since = "the datum" if given(features, "datum") else "the sheet's x axis"
        said = [
            f"By the clock, with {since} at 12, hole 1 stands at "
            f"{clock_words(-float(pattern.angles_deg[0]))} as seen from this side.",
            *_spacing_words(pattern),
            *unlike_words(features["holes"]),
        ]
        if len(pattern.angles_deg) == 3:
            said.append(
                "Three holes always lie on a circle: a fourth would show their deviations."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The bolt circle dashed, its diameter through the first hole, and the holes, a missing
        one dashed too.

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
            *_missing_marks(pattern, toward, marks),
            DrawnSegment(pair(centre - toward), pair(centre + toward), arrows=True),
            DrawnLabel(pair(_between_holes(pattern, toward)), "diameter"),
        )


def _spacing_words(pattern: _Pattern) -> tuple[str, ...]:
    count, found = len(pattern.angles_deg), _even_spacing(pattern)
    if found is None:
        turns = np.append(np.sort(np.append(0.0, pattern.angles_deg[1:])), 360.0)
        steps = ", ".join(f"{step:.2f}°" for step in np.diff(turns))
        return (f"The spacing is not equal: steps of {steps}, anticlockwise from hole 1.",)
    across = float(np.radians(found.off_deg)) * pattern.radius
    off = f"off by {found.off_deg:.2f}°, {across:.2f} mm along the circle"
    apart = f"at equal spacing, {360 / found.places:.2f}° apart"
    if found.places == count:
        return (f"{count} holes {apart}; the one farthest from its place is {off}.",)
    where = " and ".join(f"{angle:.1f}°" for angle in found.missing_deg)
    return (
        f"{count} of {found.places} holes {apart}; the one farthest from its place is {off}. "
        f"A hole is missing at {where} from hole 1.",
    )


def _even_spacing(pattern: _Pattern) -> _Spacing | None:
    """The fewest places at equal spacing that all holes keep to, or None."""
    count = len(pattern.angles_deg)
    for places in range(count, count + int(_MOST_MISSING * count) + 1):
        found = _spacing(pattern, places)
        one_each = len(found.missing_deg) == places - count
        if one_each and found.off_deg <= _EVEN * 360.0 / places:
            return found
    return None


def _spacing(pattern: _Pattern, places: int) -> _Spacing:
    """How well the holes keep to so many places at equal spacing, turned as fits best."""
    step = 360.0 / places
    turns = np.append(0.0, pattern.angles_deg[1:]) / step
    taken = np.round(turns)
    off = turns - taken
    phase = (float(off.max()) + float(off.min())) / 2
    free = np.setdiff1d(np.arange(places), taken.astype(int) % places)
    return _Spacing(places, float(np.max(np.abs(off - phase))) * step, (free + phase) * step)


def _missing_marks(
    pattern: _Pattern, toward: Array, holes: Sequence[DrawnCircle]
) -> list[DrawnCircle]:
    """Dashed circles where holes are missing. toward : centre to the first hole."""
    found = _even_spacing(pattern)
    radius = float(np.median([hole.radius_mm for hole in holes]))
    return [
        DrawnCircle(pair(pattern.centre + _turned(toward, angle)), radius, dashed=True)
        for angle in (found.missing_deg if found else ())
    ]


def _turned(arm: Array, turn_deg: float) -> Array:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return np.array([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])


def _between_holes(pattern: _Pattern, toward: Array) -> Array:
    """A point of the circle with a hole on either side. toward : centre to the first hole."""
    step = float(np.min(pattern.angles_deg[1:])) / 2
    return np.asarray(pattern.centre + _turned(toward, step))


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
    since_first[0] = turn_deg(offsets[0], _datum(features, centre))
    return _Pattern(centre, radius, since_first, np.hypot(*offsets.T) - radius)


def _datum(features: Shapes, centre: Array) -> Array:
    """(2,) the direction that the rotation counts from."""
    for shape in given(features, "datum"):
        if isinstance(shape, Edge | Tube):
            return direction(shape, "datum")
        return between(centre, position(shape), "The bolt circle's centre and its datum")
    return np.array([1.0, 0.0])


def _refuse_same_place(centres: Array, extent: float) -> None:
    between = np.linalg.norm(centres[:, None] - centres[None], axis=2)
    between[np.tril_indices(len(centres))] = np.inf
    first, second = np.unravel_index(int(np.argmin(between)), between.shape)
    if between[first, second] <= 1e-3 * extent:
        raise GeometryError(
            f"Holes {first + 1} and {second + 1} are the same hole. Point at another one."
        )
