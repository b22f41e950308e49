"""Which things of everyday have a size that a standard states?

They can stand for a printed sheet, with the wide uncertainty of their tolerances. In the rest
of the program such a thing is a sheet without print: its identity holds its size.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.job import ScaleEntry
from photomeasure.records.sheet import Sheet


@dataclass(frozen=True)
class KnownThing:
    """Longer and shorter side in mm, and how far each may be off (limits, not 95 %)."""

    sides_mm: tuple[float, float]
    limits_mm: tuple[float, float]
    source: str


# Nominal sizes and tolerances from memory of the standards named; ISO/IEC 7810 gives an unused
# ID-1 card 85.47 to 85.72 by 53.92 to 54.03 mm with corners of 3.18 mm radius, ISO 216 allows
# 1.5 mm up to 150 mm, 2 mm up to 600 mm and 3 mm beyond.
KNOWN: dict[str, KnownThing] = {
    "bank card": KnownThing((85.60, 53.98), (0.13, 0.06), "ISO/IEC 7810, ID-1"),
    "A3": KnownThing((420.0, 297.0), (2.0, 2.0), "ISO 216"),
    "A4": KnownThing((297.0, 210.0), (2.0, 2.0), "ISO 216"),
    "A5": KnownThing((210.0, 148.0), (2.0, 1.5), "ISO 216"),
    "A6": KnownThing((148.0, 105.0), (1.5, 1.5), "ISO 216"),
    "letter": KnownThing((279.4, 215.9), (1.6, 1.6), "ANSI/ASME Y14.1"),
}
RECTANGLE, DISTANCE = "rectangle", "distance"
SCALE_KINDS = (*KNOWN, RECTANGLE, DISTANCE)

_IDENTITY = re.compile(r"^(?P<kind>.+?) (?P<x>\d+\.\d+)(?: x (?P<y>\d+\.\d+))? mm$")


def sizes_said(kind: str) -> tuple[str, ...]:
    """The sizes that a person must state, as the job calls them; none where a standard does."""
    return {RECTANGLE: ("width", "height"), DISTANCE: ("length",)}.get(kind, ())


def places_pointed_at(kind: str) -> int:
    """How many corners or ends are pointed at."""
    return 2 if kind == DISTANCE else 4


def identity_of(kind: str, x_mm: float, y_mm: float | None = None) -> str:
    """Such as "bank card 85.60 x 53.98 mm", which `known_sheet` understands."""
    sides = f"{x_mm:.2f}" if y_mm is None else f"{x_mm:.2f} x {y_mm:.2f}"
    return f"{kind} {sides} mm"


def known_sheet(identity: str) -> Sheet | None:
    """A sheet without print, of the size that the identity holds; None for another identity."""
    found = _IDENTITY.match(identity)
    if found is None or found["kind"] not in SCALE_KINDS:
        return None
    x = float(found["x"])
    y = float(found["y"]) if found["y"] else x
    half = np.array([x, y]) / 2
    distance = found["kind"] == DISTANCE
    return Sheet(
        identity=identity,
        title=identity,
        paper="",
        turned=False,
        page=(-half[0], -half[1], half[0], half[1]),
        square_mm=min(x, y),
        squares=np.empty((0, 4)),
        markers=(),
        patches=(),
        saddles_mm=half * [(-1, 0), (1, 0)] if distance else corners_mm(x, y),
        bars=(),
        window=None,
    )


def corners_mm(x_mm: float, y_mm: float) -> NDArray[np.float64]:
    """(4, 2) from the upper left one, clockwise as seen."""
    return np.asarray(np.array([(-1, 1), (1, 1), (1, -1), (-1, -1)]) * [x_mm / 2, y_mm / 2])


def sides_u_mm(entry: ScaleEntry) -> tuple[float, float]:
    """Standard uncertainties of the longer and the shorter side (or of the distance)."""
    thing = KNOWN.get(entry.kind)
    if thing is None:
        u = (entry.plus_minus_mm or 0.0) / 2
        return u, u
    # Anything between the limits is as likely: a rectangular distribution (JCGM 100, 4.3.7).
    return thing.limits_mm[0] / sqrt(3), thing.limits_mm[1] / sqrt(3)


def sides_mm(entry: ScaleEntry) -> tuple[float, float]:
    """The longer and the shorter side."""
    thing = KNOWN.get(entry.kind)
    if thing is not None:
        return thing.sides_mm
    sides = sorted((entry.width_mm or 0.0, entry.height_mm or 0.0), reverse=True)
    return sides[0], sides[1]
