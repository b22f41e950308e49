"""How far is an edge from plumb or from level, by a string or spirit level in the picture?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.measurements.kind import Need, Output, Shapes, pair
from photomeasure.measurements.places import STRAIGHT, direction, ends_of, turn_deg
from photomeasure.records.shapes import DrawnArc, DrawnLabel, DrawnSegment, DrawnShape

Array = NDArray[np.float64]

_MM_PER_METRE = 1000.0


@dataclass(frozen=True)
class GravityAngle:
    """The angle of an edge from a line that gravity gives: −90° to 90°, clockwise positive.

    name : of the kind. reference : the role of the plumb line or level; `at_reference` says
    what an edge along it is.
    """

    name: str
    reference: str
    summary: str
    at_reference: str
    prompt: str
    monte_carlo: bool = False
    one_plane: bool = False

    @property
    def needs(self) -> tuple[Need, ...]:
        """The edge and what shows gravity."""
        return (
            Need("edge", STRAIGHT, "Point along the edge or tube."),
            Need(self.reference, ("edge",), self.prompt),
        )

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """The angle."""
        words = f"angle from {self.at_reference}, clockwise positive"
        return (Output(f"from_{self.at_reference}", "deg", words, primary=True, period=180.0),)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """The angle in degrees."""
        return {f"from_{self.at_reference}": self._turn(features)}

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """The way it leans, and the same in mm per metre."""
        turn = self._turn(features)
        way = "clockwise" if turn >= 0 else "anticlockwise"
        slope = ""
        if abs(turn) < 45:
            slope = f", {abs(np.tan(np.radians(turn))) * _MM_PER_METRE:.1f} mm per metre"
        return (
            f"It stands {abs(turn):.2f}° {way} from {self.at_reference}{slope}, as seen from this "
            "side.",
            "The string must hang free, or the level's bubble stand in the middle; the sheet must "
            "be fixed to a face along it.",
        )

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """Where gravity would have the edge, from its first end, and the arc to where it is."""
        (shape,) = features["edge"]
        pivot, along = ends_of(shape)[0], direction(shape, "edge")
        line = direction(features[self.reference][0], self.reference)
        line = line if float(line @ along) >= 0 else -line
        reach = float(np.linalg.norm(ends_of(shape)[1] - pivot))
        turn = self._turn(features)
        start = float(np.degrees(np.arctan2(*(along if turn >= 0 else line)[::-1])))
        return (
            DrawnSegment(pair(pivot), pair(pivot + reach * line)),
            DrawnArc(pair(pivot), 0.8 * reach, start, start + abs(turn)),
            DrawnLabel(pair(pivot + 0.8 * reach * along), f"from_{self.at_reference}"),
        )

    def _turn(self, features: Shapes) -> float:
        edge = direction(features["edge"][0], "edge")
        line = direction(features[self.reference][0], self.reference)
        return (turn_deg(line, edge) + 90.0) % 180.0 - 90.0


PLUMB_ANGLE = GravityAngle(
    name="plumb_angle",
    reference="plumb_line",
    summary="Angle of an edge or tube from plumb, by a plumb line in the picture.",
    at_reference="plumb",
    prompt="Point along the string of the plumb line.",
)
LEVEL_ANGLE = GravityAngle(
    name="level_angle",
    reference="level",
    summary="Angle of an edge or tube from level, by a spirit level in the picture.",
    at_reference="level",
    prompt="Point along the edge of the spirit level.",
)
