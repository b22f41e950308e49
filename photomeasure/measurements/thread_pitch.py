"""How far apart are the crests of a thread?

One line through all crests, one number for each: the pitch is the slope of the places along
the line against the numbers (linear regression), so it gains with every crest. A crest that
was left out counts as one that lies between; crests that fit no equal steps are refused.
Pitch alone does not name a thread: M8 x 1.25 and 20 threads per inch differ by 1.6 %.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.lines import fit_line
from photomeasure.measurements.kind import Need, Output, Shapes, given, pair
from photomeasure.measurements.places import direction, ends_of, left_of, positions
from photomeasure.records.shapes import (
    DrawnLabel,
    DrawnSegment,
    DrawnShape,
    Tube,
)
from photomeasure.uncertainty.notation import MM_PER_INCH

Array = NDArray[np.float64]

_FEWEST = 3
_ENOUGH = 10
_OFF_STEP = 0.2  # of a pitch, rms


class ThreadPitch:
    """The pitch over many crests, and the outside diameter where its two sides are given."""

    name = "thread_pitch"
    summary = (
        "Thread pitch over ten or more crests, and the outside diameter that it needs beside."
    )
    needs = (
        Need(
            "crests",
            ("row", "point"),
            "Point at ten or more crests along one side, none left out.",
            1,
            None,
        ),
        Need(
            "body", ("tube", "edge"), "Point along one side of the thread, then the other.", 0, 2
        ),
    )
    monte_carlo = False
    one_plane = False

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """Pitch and outside diameter."""
        said = [Output("pitch", "mm", "thread pitch", primary=True)]
        if given(features, "body"):
            said.append(Output("outside_diameter", "mm", "outside diameter of the thread"))
        return tuple(said)

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """Both in mm. Raises GeometryError for too few crests or unequal steps."""
        places, numbers, _ = _crests(features)
        values = {"pitch": float(np.polyfit(numbers, places, 1)[0])}
        if given(features, "body"):
            values["outside_diameter"] = _outside(features)
        return values

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """Threads per inch, how equal the steps are, and what is missing to name it."""
        places, numbers, _ = _crests(features)
        count, skipped = len(places), int(numbers[-1]) + 1 - len(places)
        off = places - np.polyval(np.polyfit(numbers, places, 1), numbers)
        said = [
            f"That is {MM_PER_INCH / values['pitch']:.2f} threads per inch, over {count} crests "
            f"that miss equal steps by {np.sqrt(np.mean(off**2)):.3f} mm rms."
        ]
        if skipped:
            said.append(f"{skipped} crest(s) between them were taken to have been left out.")
        if count < _ENOUGH:
            said.append(f"{count} crests are few: {_ENOUGH} or more tell near pitches apart.")
        if not given(features, "body"):
            said.append(
                "Pitch alone does not name a thread, as metric and inch pitches nearly meet: "
                "measure the outside diameter too, here or with a caliper."
            )
        return tuple(said)

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """A tick at each crest and a dimension line over all of them."""
        places, _, line = _crests(features)
        start, along = line
        across = left_of(along) * (places[-1] - places[0]) / 20
        on_line = start + places[:, None] * along
        ticks = [DrawnSegment(pair(at - across), pair(at + across)) for at in on_line]
        return (
            *ticks,
            DrawnSegment(pair(on_line[0]), pair(on_line[-1]), arrows=True),
            DrawnLabel(pair(on_line[len(on_line) // 2] + across), "pitch"),
        )


def _crests(features: Shapes) -> tuple[Array, Array, tuple[Array, Array]]:
    """Places (N,) of the crests along their line, numbers (N,) from 0, and the line."""
    points = positions(features["crests"])
    if len(points) < _FEWEST:
        raise GeometryError(
            f"{len(points)} crest(s) were given; at least {_FEWEST} are needed and {_ENOUGH} do "
            "well. Point at more of them."
        )
    centre, along = fit_line(points)
    places = np.sort((points - centre) @ along)
    steps = np.diff(places)
    pitch = float(np.median(steps))  # some crests may have been left out
    taken = np.round(steps / pitch)
    if np.any(taken < 1):
        close = int(np.argmin(steps))
        raise GeometryError(
            f"Crests {close + 1} and {close + 2} lie {steps[close]:.2f} mm apart where others lie "
            f"{pitch:.2f} mm. Point at each crest once, along one side only."
        )
    numbers = np.concatenate([[0.0], np.cumsum(taken)])
    off = places - np.polyval(np.polyfit(numbers, places, 1), numbers)
    rms = float(np.sqrt(np.mean(off**2)))
    if rms > _OFF_STEP * pitch:
        raise GeometryError(
            f"The crests miss equal steps of {pitch:.2f} mm by {rms:.2f} mm rms. Point at the "
            "same place of each crest, in a picture taken from nearer."
        )
    return places, numbers, (centre, along)


def _outside(features: Shapes) -> float:
    """The diameter of a tube, or the distance between two edges halfway along them."""
    body = given(features, "body")
    tubes = [shape for shape in body if isinstance(shape, Tube)]
    if len(body) == 1 and tubes:
        return 2 * tubes[0].radius
    if len(body) != 2 or tubes:
        raise GeometryError(
            "The body of the thread is one tube, or two edges. Name both edges, or the tube alone."
        )
    first, second = (ends_of(shape) for shape in body)
    across = left_of(direction(body[0], "body"))
    return abs(float((second.mean(axis=0) - first.mean(axis=0)) @ across))
