"""Where does one line or arc end and the next begin, and do they make a closed profile?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.parts.finish import Primitive
from photomeasure.parts.profiles import profile_through
from photomeasure.records.part import Profile

Array = NDArray[np.float64]

_LEAST_LENGTH_MM = 0.05


def profile_of(
    primitives: Sequence[Primitive], tangent: Sequence[bool]
) -> tuple[Profile, list[int]]:
    """The closed profile of pieces in order, and the indices of pieces that do not fit in.

    A piece does not fit in where it would run backwards or hardly at all.
    """
    count = len(primitives)
    joints = [_joint(primitives[k], primitives[(k + 1) % count], tangent[k]) for k in range(count)]
    bulges, bad = [], []
    for k, piece in enumerate(primitives):
        start, end = joints[k - 1], joints[k]
        bulges.append(_bulge(piece, start, end))
        if not _runs_along(piece, start, end, bulges[-1]):
            bad.append(k)
    return profile_through([joints[k - 1] for k in range(count)], bulges), bad


def _joint(a: Primitive, b: Primitive, tangent: bool) -> Array:
    near = (a.points_mm[-1] + b.points_mm[0]) / 2
    if tangent:
        return _contact(a, b)
    found = _crossings(a, b)
    if len(found) == 0:
        return _contact(a, b) if a.is_arc or b.is_arc else near
    return np.asarray(found[np.argmin(np.hypot(*(found - near).T))])


def _contact(a: Primitive, b: Primitive) -> Array:
    """Where two pieces touch, or the middle between them where they just miss."""
    if a.is_arc and b.is_arc:
        apart = b.numbers[:2] - a.numbers[:2]
        unit = apart / max(float(np.hypot(*apart)), 1e-12)
        ra, rb = a.numbers[2], b.numbers[2]
        inside = ra * rb > 0
        side_a = -1.0 if inside and abs(ra) < abs(rb) else 1.0
        side_b = side_a if inside else -1.0
        on_a = a.numbers[:2] + side_a * abs(ra) * unit
        on_b = b.numbers[:2] + side_b * abs(rb) * unit
        return np.asarray((on_a + on_b) / 2)
    line, arc = (b, a) if a.is_arc else (a, b)
    centre = arc.numbers[:2]
    foot = centre - (float(centre @ line.normal) - line.numbers[1]) * line.normal
    on_arc = centre - arc.numbers[2] * line.normal
    return np.asarray((foot + on_arc) / 2)


def _crossings(a: Primitive, b: Primitive) -> Array:
    """(k, 2) where the endless line or full circle of one meets that of the other."""
    if not a.is_arc and not b.is_arc:
        matrix = np.array([a.normal, b.normal])
        if abs(np.linalg.det(matrix)) < 1e-3:
            return np.empty((0, 2))
        return np.linalg.solve(matrix, [a.numbers[1], b.numbers[1]])[None, :]
    if a.is_arc and b.is_arc:
        return _two_circles(a.numbers, b.numbers)
    line, arc = (b, a) if a.is_arc else (a, b)
    off = float(arc.numbers[:2] @ line.normal) - line.numbers[1]
    room = arc.numbers[2] ** 2 - off**2
    if room < 0:
        return np.empty((0, 2))
    along = np.array([line.normal[1], -line.normal[0]])
    foot = arc.numbers[:2] - off * line.normal
    return np.array([foot + np.sqrt(room) * along, foot - np.sqrt(room) * along])


def _two_circles(a: Array, b: Array) -> Array:
    apart = b[:2] - a[:2]
    distance = float(np.hypot(*apart))
    if distance < 1e-9:
        return np.empty((0, 2))
    along = (distance**2 + a[2] ** 2 - b[2] ** 2) / (2 * distance)
    room = a[2] ** 2 - along**2
    if room < 0:
        return np.empty((0, 2))
    unit = apart / distance
    foot, up = a[:2] + along * unit, np.sqrt(room) * np.array([-unit[1], unit[0]])
    return np.array([foot + up, foot - up])


def _bulge(piece: Primitive, start: Array, end: Array) -> float:
    if not piece.is_arc:
        return 0.0
    centre, turn = piece.numbers[:2], np.sign(piece.numbers[2])
    first, last = start - centre, end - centre
    angle = turn * (np.arctan2(last[1], last[0]) - np.arctan2(first[1], first[0])) % (2 * np.pi)
    return float(turn * np.tan(min(angle, 1.999 * np.pi) / 4))


def _runs_along(piece: Primitive, start: Array, end: Array, bulge: float) -> bool:
    """Whether the piece runs the way of its points."""
    if not piece.is_arc:
        angle = piece.numbers[0]
        forward = float((end - start) @ [np.cos(angle), np.sin(angle)])
        return forward > _LEAST_LENGTH_MM
    angle = 4 * abs(np.arctan(bulge))
    chain = np.hypot(*np.diff(piece.points_mm, axis=0).T).sum()
    turned = chain / abs(piece.numbers[2])
    return bool(abs(angle - turned) < 1.2 and angle * abs(piece.numbers[2]) > _LEAST_LENGTH_MM)
