"""To which hour does a spigot, tube or hole point, with the datum at twelve?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import (
    PLACES,
    STRAIGHT,
    between,
    crossing,
    direction,
    ends_of,
    position,
    turn_deg,
)
from photomeasure.records.shapes import (
    DrawnArc,
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
    Edge,
    Shape,
    Tube,
)

Array = NDArray[np.float64]

_MINUTES_ROUND = 720.0
_ARC = 0.3  # of the longer hand


class ClockPosition:
    """The clockwise angle from a datum to a feature, as seen from this side.

    An edge or tube points from its first click to its last; a point or circle is seen from
    the centre, which then must be given.
    """

    name = "clock_position"
    summary = (
        "Clock position of a spigot, tube, edge or hole against a datum, clockwise 0° to 360°."
    )
    needs = (
        Need("datum", (*STRAIGHT, *PLACES), "Point at what stands at twelve, inside end first."),
        Need("feature", (*STRAIGHT, *PLACES), "Point at the spigot or hole, inside end first."),
        Need("centre", PLACES, "Point at the centre of the clock.", 0),
    )
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The angle."""
        words = "clock position, clockwise from the datum"
        return (Output("clock_position", "deg", words, primary=True, period=360.0),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The angle in degrees. Raises GeometryError without the centre that it needs."""
        since, along = _pointing(features, "datum"), _pointing(features, "feature")
        return {"clock_position": turn_deg(since, along)}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The same by the hours of a clock, from both sides."""
        turn = values["clock_position"]
        return (
            f"By the clock, with the datum at 12: {clock_words(turn)} as seen from this side, "
            f"{clock_words(-turn)} as seen from the back.",
        )

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """Both hands of the clock and the arc between them."""
        since, along = _pointing(features, "datum"), _pointing(features, "feature")
        middle = _middle(features)
        reach = max(_reach(features[role][0], middle) for role in ("datum", "feature"))
        start = float(np.degrees(np.arctan2(along[1], along[0])))
        turn = turn_deg(since, along)
        halfway = np.radians(start + turn / 2)
        label = middle + _ARC * reach * np.array([np.cos(halfway), np.sin(halfway)])
        return (
            DrawnSegment(pair(middle), pair(middle + reach * since)),
            DrawnSegment(pair(middle), pair(middle + reach * along)),
            DrawnArc(pair(middle), _ARC * reach, start, start + turn),
            DrawnLabel(pair(label), "clock_position"),
        )


def clock_words(clockwise_deg: float) -> str:
    """The time at which the hour hand points there, to the nearest five minutes."""
    minutes = int(round(clockwise_deg % 360.0 / 360.0 * _MINUTES_ROUND / 5) * 5)
    hours, rest = divmod(minutes, 60)
    return f"{(hours - 1) % 12 + 1}:{rest:02d}"


def _pointing(features: Shapes, role: str) -> Array:
    """(2,) the direction of a hand of the clock."""
    (shape,) = features[role]
    if isinstance(shape, Edge | Tube):
        return direction(shape, role)
    for centre in given(features, "centre"):
        return between(position(centre), position(shape), f"The centre and {role!r}")
    raise GeometryError(
        f"{role!r} is a place, not a direction, so it needs a centre to be seen from. Name a "
        "feature for the role 'centre'."
    )


def _middle(features: Shapes) -> Array:
    """(2,) where the hands meet: the centre, else where both lines cross, if that is near."""
    for centre in given(features, "centre"):
        return position(centre)
    datum, feature = (ends_of(features[role][0]) for role in ("datum", "feature"))
    found = crossing(datum, feature)
    return feature[0] if found is None else found


def _reach(shape: Shape, middle: Array) -> float:
    places = ends_of(shape) if isinstance(shape, Edge | Tube) else position(shape)[None]
    return float(np.max(np.linalg.norm(places - middle, axis=1)))
