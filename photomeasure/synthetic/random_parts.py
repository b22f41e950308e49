"""What might lie in the window of the sheet: a plate with holes, or two plates and a gap?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.sheet import Sheet
from photomeasure.synthetic.scene import Hole, Pair, Part, Profile

Array = NDArray[np.float64]

_QUARTER = float(np.tan(np.pi / 8))
_LONGEST_MM = 200.0


def rounded_rectangle(
    width: float, height: float, radius: float, centre: Pair = (0.0, 0.0), turn_rad: float = 0.0
) -> Profile:
    """A rectangle with rounded corners; its straight pieces start at points 0, 2, 4 and 6.

    In order: the lower, right, upper and left side before it is turned.
    """
    a, b, r = width / 2, height / 2, radius
    corners = np.array(
        [
            (r - a, -b), (a - r, -b), (a, r - b), (a, b - r),
            (a - r, b), (r - a, b), (-a, b - r), (-a, r - b),
        ]
    )  # fmt: skip
    turn = np.array([[np.cos(turn_rad), np.sin(turn_rad)], [-np.sin(turn_rad), np.cos(turn_rad)]])
    points = corners @ turn + np.array(centre)
    return Profile(tuple((float(x), float(y)) for x, y in points), (0.0, _QUARTER) * 4)


def plate(rng: np.random.Generator, design: Sheet, thickness: float) -> tuple[Part, ...]:
    """One plate with a bore and a bolt circle of 3 to 6 holes."""
    room = _room(design, thickness)
    turn = float(np.radians(rng.uniform(-5, 5)))
    width, height = room * rng.uniform(0.6, 0.9, 2)
    slack = (room - _extent(width, height, turn)) / 2
    centre = rng.uniform(-1, 1, 2) * np.maximum(slack, 0)
    outline = rounded_rectangle(width, height, float(rng.uniform(3, 10)), tuple(centre), turn)
    holes = _bolt_holes(rng, centre, float(min(width, height)), thickness)
    return (made(rng, "plate", outline, thickness, holes),)


def gap_parts(rng: np.random.Generator, design: Sheet, thickness: float) -> tuple[Part, ...]:
    """Two plates of one thickness that face each other across 1.5 to 20 mm."""
    room = _room(design, thickness)
    stacked = bool(rng.random() < 0.5)
    across, along = (room[0], room[1]) if stacked else (room[1], room[0])
    gap = float(np.exp(rng.uniform(np.log(1.5), np.log(20.0))))
    length = float(across * rng.uniform(0.6, 0.85))
    depth = float((along - gap - 4) / 2 * rng.uniform(0.8, 0.95))
    lean = float(np.radians(rng.uniform(-1.5, 1.5)))
    both_turn = (0.0 if stacked else np.pi / 2) + float(np.radians(rng.uniform(-2, 2)))
    shift = float(rng.uniform(-0.05, 0.05)) * length
    corner, offset = float(rng.uniform(1.5, 5)), (gap + depth) / 2
    near = rounded_rectangle(length, depth, corner, (0.0, -offset))
    away = offset + 0.45 * length * abs(float(np.sin(lean)))  # its nearer end keeps the gap
    far = rounded_rectangle(0.9 * length, depth, corner, (shift, away), lean)
    parts = (_facing(rng, "bracket", near, thickness), _facing(rng, "guard", far, thickness))
    return tuple(turned(part, both_turn) for part in parts)


def _room(design: Sheet, thickness: float) -> Array:
    """(2,) width and height in which a part may lie clear of the ring."""
    if design.window is None:
        raise ValueError(f"The sheet {design.identity} has no window for a part.")
    x0, y0, x1, y1 = design.window
    clear = 2 * (4.0 + 0.6 * thickness)
    return np.minimum(np.array([x1 - x0, y1 - y0]) - clear, _LONGEST_MM)


def _extent(width: float, height: float, turn: float) -> Array:
    c, s = abs(np.cos(turn)), abs(np.sin(turn))
    return np.array([width * c + height * s, width * s + height * c])


def _bolt_holes(
    rng: np.random.Generator, centre: Array, width: float, thickness: float
) -> tuple[Hole, ...]:
    """A bore in the middle and holes round it, each inside the plate."""
    count = int(rng.integers(3, 7))
    radius = float(rng.uniform(2.0, 6.0))
    outermost = width / 2 - radius - 4.0
    circle = float(rng.uniform(0.65, 1.0)) * outermost
    bore = float(rng.uniform(0.35, 1.0)) * (circle - radius - 4.0)
    start = rng.uniform(0, 2 * np.pi)
    turns = start + 2 * np.pi * np.arange(count) / count
    places = centre + circle * np.column_stack([np.cos(turns), np.sin(turns)])
    chamfer = _chamfer(rng, thickness, 0.3)
    holes = [
        Hole(f"hole-{k + 1}", (float(x), float(y)), radius, chamfer)
        for k, (x, y) in enumerate(places)
    ]
    bore_hole = Hole("bore", (float(centre[0]), float(centre[1])), bore, _chamfer(rng, thickness))
    return (bore_hole, *holes)


def _chamfer(rng: np.random.Generator, thickness: float, often: float = 0.4) -> float:
    """0, or 0.3 to 1 mm but never more than 40 % of the thickness."""
    width = float(rng.uniform(0.3, 1.0))
    return min(width, 0.4 * thickness) if rng.random() < often else 0.0


def _chamfer_reflectance(rng: np.random.Generator, face: float) -> float:
    """Brighter than the face where it was cut later, darker on a bright one.

    A 45° slope gets about 0.7 of a level face's light, so these factors keep it to be seen:
    a person points at a rim that they see.
    """
    return face * float(rng.uniform(1.9, 2.6) if face < 0.27 else rng.uniform(0.5, 0.9))


def made(
    rng: np.random.Generator,
    name: str,
    outline: Profile,
    thickness: float,
    holes: tuple[Hole, ...],
) -> Part:
    """The part with the looks of some material."""
    face = float(np.exp(rng.uniform(np.log(0.05), np.log(0.6))))
    return Part(
        name,
        outline,
        thickness,
        holes,
        face_reflectance=face,
        wall_reflectance=face * float(rng.uniform(0.6, 1.0)),
        chamfer_reflectance=_chamfer_reflectance(rng, face),
        texture=float(rng.uniform(0.0, 0.05)),
        grain_rad=float(rng.uniform(0, np.pi)),
        gloss=float(rng.uniform(0.05, 0.4)) if rng.random() < 0.4 else 0.0,
    )


def _facing(rng: np.random.Generator, name: str, outline: Profile, thickness: float) -> Part:
    corners = np.array(outline.points_mm)
    centre, size = tuple(corners.mean(axis=0)), np.ptp(corners, axis=0)
    hole = Hole("hole-1", centre, float(rng.uniform(0.1, 0.25)) * min(size))
    return made(rng, name, outline, thickness, (hole,))


def turned(part: Part, turn: float) -> Part:
    """The part with everything turned about the sheet's centre."""
    c, s = float(np.cos(turn)), float(np.sin(turn))

    def moved(p: Pair) -> Pair:
        return (c * p[0] - s * p[1], s * p[0] + c * p[1])

    outline = Profile(tuple(map(moved, part.outline.points_mm)), part.outline.bulges)
    holes = tuple(Hole(h.name, moved(h.centre_mm), h.radius_mm, h.chamfer_mm) for h in part.holes)
    return replace(part, outline=outline, holes=holes)
