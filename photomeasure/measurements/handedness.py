"""On which side does a feature lie, so is a part the one hand or its mirror image?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import PLACES, between, left_of, position, side_words
from photomeasure.records.shapes import DrawnLabel, DrawnSegment, DrawnShape, Shape

Array = NDArray[np.float64]


class Handedness:
    """How far left of the way from one feature to another a third one lies.

    With the same three features of another part, whether both are of one hand.
    """

    name = "handedness"
    summary = (
        "On which side a feature lies, seen from this side; same hand as another part or not."
    )
    needs = (
        Need("start", PLACES, "Point at the feature to look from."),
        Need("towards", PLACES, "Point at the feature to look towards."),
        Need("feature", PLACES, "Point at the feature that lies to one side."),
        Need(
            "other",
            PLACES,
            "Point at the same three features, in that order, of the part to compare with.",
            0,
            3,
        ),
    )
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """How far left, and that of the other part."""
        said = [Output("left_by", "mm", "how far left of the line of sight", primary=True)]
        if given(features, "other"):
            said.append(Output("other_left_by", "mm", "how far left on the other part"))
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """Distances to the left in mm, below 0 to the right."""
        values = {"left_by": _left_by(_own(features))}
        other = given(features, "other")
        if other:
            if len(other) != 3:
                raise GeometryError(
                    f"{len(other)} feature(s) of the other part were given; it needs the same "
                    "three, in the same order. Point at them."
                )
            values["other_left_by"] = _left_by(other)
        return values

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The side in words, seen from both sides, and the comparison."""
        left = values["left_by"]
        said = [
            f"Looking from 'start' towards 'towards', the feature lies {side_words(left)} as seen "
            f"from this side, {side_words(-left)} as seen from the back."
        ]
        if "other_left_by" in values:
            same = left * values["other_left_by"] > 0
            said.append(
                "Both parts are of the same hand as they lie."
                if same
                else "The parts are mirror images as they lie: turn one over, or it is the other "
                "hand."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The line of sight and the distance beside it, of both parts."""
        lines = [
            line for part in (_own(features), given(features, "other")) for line in _lines(part)
        ]
        start, end = lines[1].start_mm, lines[1].end_mm
        at = (np.array(start) + np.array(end)) / 2
        return (*lines, DrawnLabel(pair(at), "left_by"))


def _own(features: Shapes) -> tuple[Shape, ...]:
    return (*features["start"], *features["towards"], *features["feature"])


def _left_by(part: Sequence[Shape]) -> float:
    start, towards, feature = (position(shape) for shape in part)
    along = between(start, towards, "'start' and 'towards'")
    return float((feature - start) @ left_of(along))


def _lines(part: Sequence[Shape]) -> list[DrawnSegment]:
    """The line of sight, and the dimension line from it to the feature."""
    if not part:
        return []
    start, towards, feature = (position(shape) for shape in part)
    across = left_of(between(start, towards, "'start' and 'towards'"))
    foot = feature - float((feature - start) @ across) * across
    return [
        DrawnSegment(pair(start), pair(towards)),
        DrawnSegment(pair(foot), pair(feature), arrows=True),
    ]
