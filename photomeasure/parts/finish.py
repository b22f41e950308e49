"""Which lines and arcs, tangent where they should be, lie closest to their points?

Least squares of all pieces at once under equations: where a piece runs smoothly into the
next, the line touches the circle or the circles touch. Solved by Gauss–Newton steps with
Lagrange multipliers, so the equations hold exactly and are no compromise.

A line is (direction angle, distance to its left from the origin); an arc is (centre x, y,
signed radius), positive where it turns left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEPS = 14
_DONE_MM = 1e-7
_ROUNDINGS_MM, _TRIED = (0.3, 100.0), 60
_SOFT = 2.5  # distances beyond this many times the usual one pull less (Huber)


@dataclass(frozen=True, eq=False)
class Primitive:
    """A line (numbers: angle, left offset) or an arc (x, y, signed radius) and its points."""

    numbers: Array
    points_mm: Array

    @property
    def is_arc(self) -> bool:
        """Whether it bends."""
        return len(self.numbers) == 3

    @property
    def normal(self) -> Array:
        """(2,) to the left of a line."""
        return np.array([-np.sin(self.numbers[0]), np.cos(self.numbers[0])])

    def distances(self) -> Array:
        """(N,) signed distances of its points, positive to the left."""
        return _distances(self.numbers, self.points_mm)


@dataclass(frozen=True)
class Angle:
    """Two lines, by index, that stand at a fixed angle to each other."""

    a: int
    b: int
    angle_rad: float


def _distances(numbers: Array, points: Array) -> Array:
    if len(numbers) == 2:
        angle, offset = numbers
        return np.asarray(points @ np.array([-np.sin(angle), np.cos(angle)]) - offset)
    x, y, r = numbers
    return np.asarray(np.sign(r) * (abs(r) - np.hypot(points[:, 0] - x, points[:, 1] - y)))


def _slopes(numbers: Array, points: Array) -> Array:
    """(N, 2 or 3) of the distances by the numbers."""
    if len(numbers) == 2:
        angle = numbers[0]
        by_angle = -(points @ np.array([np.cos(angle), np.sin(angle)]))
        return np.column_stack([by_angle, -np.ones(len(points))])
    x, y, r = numbers
    arm = points - [x, y]
    unit = arm / np.maximum(np.hypot(*arm.T), 1e-12)[:, None]
    return np.column_stack([np.sign(r) * unit, np.ones(len(points))])


def start_line(points: Array) -> Array:
    """(2,) the line through points, in their order."""
    middle = points.mean(axis=0)
    way = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    way = way if way @ (points[-1] - points[0]) > 0 else -way
    return np.array([np.arctan2(way[1], way[0]), float(middle @ [-way[1], way[0]])])


def start_arc(points: Array) -> Array:
    """(3,) the algebraic circle through points, its radius signed by how they turn."""
    middle = points.mean(axis=0)
    p = points - middle
    design = np.column_stack([2 * p, np.ones(len(p))])
    cx, cy, c = np.linalg.lstsq(design, (p**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(max(c + cx * cx + cy * cy, 1e-9)))
    chord, mid = p[-1] - p[0], p[len(p) // 2] - p[0]
    left = chord[0] * mid[1] - chord[1] * mid[0] < 0
    return np.array([cx + middle[0], cy + middle[1], radius if left else -radius])


def start_rounding(before: Primitive, after: Primitive, points: Array) -> Array:
    """(3,) the arc that touches two lines, in their order, and lies nearest to points."""
    normals = np.array([before.normal, after.normal])
    corner = np.linalg.pinv(normals) @ [before.numbers[1], after.numbers[1]]
    away = np.linalg.pinv(normals) @ [1.0, 1.0]  # by which its centre moves with its radius
    left = np.sin(after.numbers[0] - before.numbers[0]) > 0
    radii = np.geomspace(*_ROUNDINGS_MM, _TRIED) * (1.0 if left else -1.0)
    centres = corner + radii[:, None] * away
    apart = np.hypot(*(points[:, None] - centres).transpose(2, 0, 1)) - np.abs(radii)
    best = int((apart**2).sum(axis=0).argmin())
    return np.array([*centres[best], radii[best]])


def gap(a: Primitive, b: Primitive) -> float:
    """How far two pieces are from touching; 0 where one runs smoothly into the other."""
    return _touch(a.numbers, b.numbers)[0]


def _touch(a: Array, b: Array) -> tuple[float, Array, Array]:
    """The equation of tangency and its slopes by the numbers of either."""
    if len(a) == 2 and len(b) == 3:
        value, by_line, by_arc = _line_touches(a, b)
        return value, by_line, by_arc
    if len(a) == 3 and len(b) == 2:
        value, by_line, by_arc = _line_touches(b, a)
        return value, by_arc, by_line
    if len(a) == 2:
        return float(np.sin(b[0] - a[0])), np.zeros(2), np.zeros(2)
    apart = b[:2] - a[:2]
    distance = max(float(np.hypot(*apart)), 1e-12)
    unit, inner = apart / distance, a[2] - b[2]
    side = np.sign(inner) or 1.0
    by_a = np.array([*-unit, -side])
    by_b = np.array([*unit, side])
    return distance - abs(inner), by_a, by_b


def _line_touches(line: Array, arc: Array) -> tuple[float, Array, Array]:
    """A circle of signed radius r touches where its centre lies r to the line's left."""
    angle, offset = line
    normal = np.array([-np.sin(angle), np.cos(angle)])
    along = np.array([np.cos(angle), np.sin(angle)])
    value = float(arc[:2] @ normal - offset - arc[2])
    by_line = np.array([-float(arc[:2] @ along), -1.0])
    return value, by_line, np.array([*normal, -1.0])


def finish(
    primitives: Sequence[Primitive], tangent: Sequence[bool], angles: Sequence[Angle] = ()
) -> list[Primitive]:
    """The least-squares pieces under the equations.

    tangent[k] : whether piece k runs smoothly into the next (the last into the first).
    """
    numbers = [p.numbers.copy() for p in primitives]
    starts = np.concatenate([[0], np.cumsum([len(n) for n in numbers])])
    for _ in range(_STEPS):
        normal, right = _normal_equations(numbers, primitives, starts)
        rows, values = _equations(numbers, tangent, angles, starts)
        step = _constrained_step(normal, right, rows, values, starts)
        step = _no_leap(step, numbers)
        numbers = [n + step[a:b] for n, a, b in zip(numbers, starts[:-1], starts[1:], strict=True)]
        if np.abs(step).max() < _DONE_MM:
            break
    return [Primitive(n, p.points_mm) for n, p in zip(numbers, primitives, strict=True)]


def _no_leap(step: Array, numbers: Sequence[Array]) -> Array:
    """Shorten a step that would move a piece by more than a third of the smallest radius."""
    radii = [abs(n[2]) for n in numbers if len(n) == 3]
    most = max(0.3 * min(radii, default=10.0), 0.05)
    return step * min(1.0, most / max(float(np.abs(step).max()), 1e-12))


def _normal_equations(
    numbers: Sequence[Array], primitives: Sequence[Primitive], starts: Array
) -> tuple[Array, Array]:
    size = int(starts[-1])
    normal, right = np.zeros((size, size)), np.zeros(size)
    for k, (n, p) in enumerate(zip(numbers, primitives, strict=True)):
        misses = _distances(n, p.points_mm)
        usual = 1.4826 * float(np.median(np.abs(misses))) + 1e-9
        weight = 1 / np.maximum(np.abs(misses) / (_SOFT * usual), 1.0)
        slopes = _slopes(n, p.points_mm)
        a, b = starts[k], starts[k + 1]
        normal[a:b, a:b] = (slopes * weight[:, None]).T @ slopes
        right[a:b] = -(slopes * weight[:, None]).T @ misses
    normal += 1e-9 * np.diag(np.diag(normal)) + 1e-12 * np.eye(size)
    return normal, right


def _equations(
    numbers: Sequence[Array], tangent: Sequence[bool], angles: Sequence[Angle], starts: Array
) -> tuple[Array, Array]:
    """(E, P) slopes and (E,) values of what must be zero."""
    rows, values = [], []
    count = len(numbers)
    for k in range(count):
        if not tangent[k]:
            continue
        following = (k + 1) % count
        value, by_a, by_b = _touch(numbers[k], numbers[following])
        row = np.zeros(int(starts[-1]))
        row[starts[k] : starts[k + 1]] += by_a
        row[starts[following] : starts[following + 1]] += by_b
        rows.append(row)
        values.append(value)
    for fixed in angles:
        row = np.zeros(int(starts[-1]))
        row[starts[fixed.a]], row[starts[fixed.b]] = -1.0, 1.0
        rows.append(row)
        off = numbers[fixed.b][0] - numbers[fixed.a][0] - fixed.angle_rad
        values.append(float((off + np.pi) % (2 * np.pi) - np.pi))
    return np.array(rows).reshape(-1, int(starts[-1])), np.array(values)


def _constrained_step(
    normal: Array, right: Array, rows: Array, values: Array, starts: Array
) -> Array:
    """Solve the step and its multipliers; equations that repeat each other do no harm."""
    size, count = len(right), len(values)
    if count == 0:  # each piece for itself
        blocks = [slice(a, b) for a, b in pairwise(starts)]
        return np.concatenate([np.linalg.solve(normal[b, b], right[b]) for b in blocks])
    scale = float(np.trace(normal)) / size
    system = np.zeros((size + count, size + count))
    system[:size, :size] = normal / scale
    system[:size, size:] = rows.T
    system[size:, :size] = rows
    system[size:, size:] = -1e-12 * np.eye(count)
    return np.asarray(np.linalg.solve(system, np.concatenate([right / scale, -values]))[:size])
