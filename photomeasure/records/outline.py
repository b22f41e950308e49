"""What a person says to have an outline taken, and the boundaries seen in the photo."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.job import PrintEntry
from photomeasure.records.part import Pair, Title

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hints:
    """What a person pointed at, in px of the upright picture: inside the part, outside it,
    along its edge (one chain of points each stroke)."""

    inside: tuple[Pair, ...] = ()
    outside: tuple[Pair, ...] = ()
    strokes: tuple[tuple[Pair, ...], ...] = ()


@dataclass(frozen=True, eq=False)
class Boundary:
    """A closed boundary in the picture.

    points_px, normals_px (outwards of it) : (N, 2). light_side : (N,) +1 where it grows
    lighter outwards. u_noise_px : of each point by itself; u_shift_px, u_tone_px : of all its
    points together. inner : whether it bounds an opening. notes : what to know of it.
    whole_px : (M, 2) the points with those where it is not seen but may well run, if any.
    """

    points_px: Array
    normals_px: Array
    light_side: Array
    u_noise_px: float
    u_shift_px: float
    u_tone_px: float
    inner: bool
    notes: tuple[str, ...] = ()
    whole_px: Array | None = None


@dataclass(frozen=True)
class HoleSaid:
    """What a person says of a hole: how large it shall be, its thread or clearance class."""

    name: str
    diameter_mm: float | None = None
    thread: str = ""
    fit: str = ""


@dataclass(frozen=True)
class LevelSaid:
    """A seat raised above the face (height_mm > 0) or a recess (< 0): the outline of `around`
    ("outline" or the name of a hole or slot) grown by offset_mm."""

    name: str
    around: str
    offset_mm: float
    height_mm: float


@dataclass(frozen=True)
class BendSaid:
    """A bend line in the part frame; see Bend."""

    start_mm: Pair
    end_mm: Pair
    angle_deg: float
    up: bool
    inside_radius_mm: float


@dataclass(frozen=True)
class Scan:
    """A flatbed scan. dpi : as stated. ruler_px, ruler_mm : two places on a ruler in the scan
    and the length between them."""

    dpi: float
    ruler_px: tuple[Pair, Pair] | None = None
    ruler_mm: float = 0.0


@dataclass(frozen=True)
class PartEntry:
    """Everything a person said about one part.

    face_mm : height of the face that is outlined above the sheet; None for the thickness.
    plus_minus_mm : of that height, 95 %. opening : whether an opening is outlined, and the
    part is what covers it. on : the sheet or card whose plane it lies in. offset_mm : how far
    the outline is grown. shaped : openings that are no covered circles. take : regular things
    to take; confirmed : choices to keep though the photo speaks against them.
    """

    name: str
    file: str
    thickness_mm: float
    plus_minus_mm: float = 0.1
    face_mm: float | None = None
    camera: str | None = None
    on: str | None = None
    opening: bool = False
    tolerance_mm: float = 0.1
    hints: Hints = field(default_factory=Hints)
    prints: tuple[PrintEntry, ...] = ()
    scan: Scan | None = None
    shaped: tuple[str, ...] = ()
    take: tuple[str, ...] = ()
    confirmed: tuple[str, ...] = ()
    holes: tuple[HoleSaid, ...] = ()
    levels: tuple[LevelSaid, ...] = ()
    bends: tuple[BendSaid, ...] = ()
    offset_mm: float = 0.0
    round_corners_mm: float = 0.0
    mirror: bool = False
    hazards: tuple[str, ...] = ()
    title: Title = field(default_factory=Title)

    @property
    def height_mm(self) -> float:
        """Of the outlined face above its sheet."""
        return self.thickness_mm if self.face_mm is None else self.face_mm
