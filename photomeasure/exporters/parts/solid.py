"""Which rings and level faces bound the solid of a part, levels and all?

A ring is a closed profile between two heights, running with the material on its left; a
floor is a level face with one outer ring and inner rings. STEP and meshes draw from these.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import ExportError
from photomeasure.parts.clearances import boundaries
from photomeasure.parts.faults import hole_faults, level_faults, level_through
from photomeasure.parts.profiles import profile_through
from photomeasure.records.part import Part, Profile

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """The walls that stand on a profile, material to its left, from bottom to top (mm)."""

    profile: Profile
    bottom: float
    top: float


@dataclass(frozen=True)
class Floor:
    """A level face. Loops name a ring and which of its rims bounds the face.

    up : whether the face looks up. A loop's rim is used as the ring runs, or backwards.
    """

    height: float
    up: bool
    loops: tuple[tuple[int, bool, bool], ...]
    """(ring, at its top, backwards), the outer loop first."""


@dataclass(frozen=True)
class Solid:
    """A closed solid."""

    rings: tuple[Ring, ...]
    floors: tuple[Floor, ...]


def backwards(profile: Profile) -> Profile:
    """The same curve run the other way."""
    count = len(profile.points_mm)
    order = [0, *range(count - 1, 0, -1)]
    points = [np.array(profile.points_mm[k]) for k in order]
    return profile_through(points, [-profile.bulges[k - 1] for k in order])


def solid_of(part: Part) -> Solid:
    """The part from z = 0 to its thickness, seats raised and recesses sunk from there.

    Raises ExportError where a hole crosses the rim of a level, levels overlap, or a recess
    is as deep as the part.
    """
    top = part.thickness_mm
    if not top > 0:
        raise ExportError(f"{part.name} is {top:g} mm thick; a solid needs more. State it.")
    for fault in (*hole_faults(part), *level_faults(part)):
        raise ExportError(fault)
    holes = boundaries(part)
    owner = {name: level_through(part, profile) for name, profile in holes.items()}
    rings = [Ring(part.outline, 0.0, top)]
    for name, profile in holes.items():
        level = owner[name]
        ceiling = top if level is None else top + part.levels[level].height_mm
        rings.append(Ring(backwards(profile), 0.0, ceiling))
    hole_rings = dict(zip(holes, range(1, len(rings)), strict=True))
    under = [(0, False, True), *((k, False, True) for k in hole_rings.values())]
    over = [(0, True, False)]
    over += [(hole_rings[n], True, False) for n in holes if owner[n] is None]
    floors = []
    for k, one in enumerate(part.levels):
        raised, height = one.height_mm > 0, top + one.height_mm
        profile = one.outline if raised else backwards(one.outline)
        rings.append(Ring(profile, min(top, height), max(top, height)))
        ring = len(rings) - 1
        over.append((ring, not raised, raised))
        own = [(hole_rings[n], True, False) for n in holes if owner[n] == k]
        floors.append(Floor(height, True, ((ring, raised, not raised), *own)))
    whole = (Floor(0.0, False, tuple(under)), Floor(top, True, tuple(over)), *floors)
    return Solid(tuple(rings), whole)
