"""A flat part to be made: closed profiles of lines and arcs, holes, levels, and its papers.

The part frame: mm, x right and y up as the viewed face lies before you, the origin at the
part's datum. A size keeps what was measured beside what a person chose.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pair = tuple[float, float]


@dataclass(frozen=True)
class Profile:
    """A closed chain of lines and arcs, anticlockwise.

    bulges[i] belongs to the piece from points_mm[i] to the next one, as in DXF: 0 is a line,
    else the tangent of a quarter of the arc's angle, positive where the chain turns left.
    """

    points_mm: tuple[Pair, ...]
    bulges: tuple[float, ...]


@dataclass(frozen=True)
class Size:
    """A length as measured, with its standard uncertainty, and as a person chose it to be.

    how : what measured it. why : what the choice follows, such as a standard.
    """

    measured: float
    u: float
    chosen: float | None = None
    how: str = "photo"
    why: str = ""

    @property
    def value(self) -> float:
        """What is to be made."""
        return self.measured if self.chosen is None else self.chosen

    @property
    def expanded(self) -> float:
        """U, half of the 95 % interval of what was measured."""
        return 2 * self.u


@dataclass(frozen=True)
class RoundHole:
    """A round hole. u_centre_mm : of each coordinate, against the part's middle.

    thread : a callout such as "M6". fit : a clearance class such as "M6 medium, ISO 273".
    """

    name: str
    centre_mm: Pair
    diameter: Size
    u_centre_mm: float = 0.0
    thread: str = ""
    fit: str = ""


@dataclass(frozen=True)
class Slot:
    """A slot with round ends. length_mm : between the centres of its ends."""

    name: str
    centre_mm: Pair
    length_mm: float
    angle_rad: float
    width: Size
    u_centre_mm: float = 0.0


@dataclass(frozen=True)
class Level:
    """A seat raised above the face (height_mm > 0) or a recess cut into it (< 0)."""

    name: str
    outline: Profile
    height_mm: float


@dataclass(frozen=True)
class Bend:
    """Where a sheet is bent. angle_deg : by how much; up is towards the viewer."""

    start_mm: Pair
    end_mm: Pair
    angle_deg: float
    up: bool
    inside_radius_mm: float


@dataclass(frozen=True)
class Title:
    """What the title block says; the first eight are the fields of ISO 7200 in its order."""

    owner: str = ""
    number: str = ""
    title: str = ""
    date: str = ""
    creator: str = ""
    approver: str = ""
    document: str = "part drawing"
    revision: str = "-"
    material: str = ""
    finish: str = ""
    quantity: int = 1
    general_tolerance: str = "ISO 2768-m"


VIEWED = "viewed from the face in the photo"
MIRRORED = "viewed from the back of the face in the photo (mirrored)"


@dataclass(frozen=True)
class Part:
    """One flat part.

    openings : inner boundaries that are neither round nor slots. view_side : from which
    side it is drawn, always stated. tolerance_mm : how far profiles may leave what was
    seen; u_boundary_mm : the standard uncertainty of the boundary's place. photo_size_mm :
    overall width and height of what was seen, in the part frame, to check the profiles by.
    turn_rad, shift_mm : the frame of the sheet, turned and then shifted by these, is the part
    frame (before mirroring).
    """

    name: str
    outline: Profile
    thickness_mm: float
    holes: tuple[RoundHole, ...] = ()
    slots: tuple[Slot, ...] = ()
    openings: tuple[Profile, ...] = ()
    levels: tuple[Level, ...] = ()
    bends: tuple[Bend, ...] = ()
    etchings: tuple[Profile, ...] = ()
    view_side: str = VIEWED
    tolerance_mm: float = 0.1
    u_boundary_mm: float = 0.0
    photo_size_mm: Pair | None = None
    turn_rad: float = 0.0
    shift_mm: Pair = (0.0, 0.0)
    datum: str = "lower left corner of the part's box"
    title: Title = field(default_factory=Title)
    cautions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Contour:
    """A closed boundary as seen, dense points with their doubt, in mm on the part's face.

    points_mm : (N, 2), anticlockwise. u_mm : (N,) of each point by itself. modes_mm :
    (K, N, 2) how all points move, with all other contours of the part, where one source is
    one standard uncertainty off; sources : (K,) their names. whole_mm : (M, 2) the points with
    those where it was not seen but may well run, if any.
    """

    points_mm: Array
    u_mm: Array
    modes_mm: Array
    sources: tuple[str, ...] = ()
    whole_mm: Array | None = None


@dataclass(frozen=True)
class Remark:
    """What a shop would ask about, and where. grave : whether it would send the file back."""

    words: str
    at_mm: Pair | None = None
    grave: bool = False


@dataclass(frozen=True)
class Offer:
    """A regular thing that a part nearly is, to be taken or left.

    name : what to write to take it. off_mm : how far it moves the part at most; within :
    whether that lies inside the 95 % interval of what was measured.
    """

    name: str
    words: str
    off_mm: float
    u_mm: float

    @property
    def within(self) -> bool:
        """Whether the choice lies inside what the photo leaves open."""
        return self.off_mm <= 2 * self.u_mm
