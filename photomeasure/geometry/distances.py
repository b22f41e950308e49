"""How far apart are two shapes, where, and how deep do they overlap?

Points, segments and chains of segments (polylines) in two or three dimensions, by closed
forms. A signed gap is the clear distance, 0 at contact, and minus the depth of overlap:
contact and overlap are results, never errors. A closed polyline is given with its first
point repeated at the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Closest:
    """A distance and the two points it lies between, (D,) each.

    For a signed gap the value is negative where the shapes overlap, and the points show
    the reach of the one past the other.
    """

    value: float
    on_a: Array
    on_b: Array

    def swapped(self) -> Closest:
        """The same with the shapes in the other order."""
        return Closest(self.value, self.on_b, self.on_a)


def point_polyline(point: Array, points: Array) -> Closest:
    """From a point (D,) to the nearest point of a polyline (N, D)."""
    point = np.asarray(point, float)
    lengths, feet = _to_polyline(point[None], np.asarray(points, float))
    return Closest(float(lengths[0]), point, feet[0])


def polyline_polyline(a: Array, b: Array) -> Closest:
    """Between two polylines (N, D) and (M, D), D = 2 or 3; 0 where they cross.

    Pairs of segments whose midpoints are too far apart to matter are never looked at.
    """
    starts_a, ends_a = _segments(np.asarray(a, float))
    starts_b, ends_b = _segments(np.asarray(b, float))
    apart = (starts_a + ends_a)[:, None] / 2 - (starts_b + ends_b)[None] / 2
    between = np.linalg.norm(apart, axis=2)
    reach = np.add.outer(
        np.linalg.norm(ends_a - starts_a, axis=1), np.linalg.norm(ends_b - starts_b, axis=1)
    )
    i, j = np.nonzero(between - reach / 2 <= np.min(between) * (1 + 1e-12))
    return _closest_pair(starts_a[i], ends_a[i], starts_b[j], ends_b[j])


def circle_circle_gap(
    centre_a: Array, radius_a: float, centre_b: Array, radius_b: float
) -> Closest:
    """Signed gap between two circular outlines, side by side or one inside the other.

    max(d − ra − rb, |ra − rb| − d): negative, it is the shortest shift that separates them.
    """
    centre_a, centre_b = np.asarray(centre_a, float), np.asarray(centre_b, float)
    offset = centre_b - centre_a
    distance = float(np.linalg.norm(offset))
    toward = offset / distance if distance > 0 else np.array([1.0, 0.0])
    outside, inside = distance - radius_a - radius_b, abs(radius_a - radius_b) - distance
    side_a = side_b = toward
    if outside >= inside:
        side_b = -toward
    elif radius_a < radius_b:
        side_a = side_b = -toward
    return Closest(
        max(outside, inside), centre_a + radius_a * side_a, centre_b + radius_b * side_b
    )


def polyline_circle_gap(points: Array, centre: Array, radius: float) -> Closest:
    """Signed gap between a polyline (N, 2) and a circular outline, from out- or inside.

    max(nearest − r, r − farthest), with the distances of the polyline from the centre.
    """
    points, centre = np.asarray(points, float), np.asarray(centre, float)
    near = point_polyline(centre, points)
    lengths = np.linalg.norm(points - centre, axis=1)
    farthest = int(np.argmax(lengths))
    if near.value - radius >= radius - lengths[farthest]:
        value, at = near.value - radius, near.on_b
    else:
        value, at = radius - float(lengths[farthest]), points[farthest]
    return Closest(value, at, _on_circle(at, centre, radius))


def polyline_polyline_gap(a: Array, b: Array) -> Closest:
    """Signed gap between two polylines (N, 2) and (M, 2).

    Where they cross, each is cut by the other into alternate sides; the depth is the
    shortest reach past the other outline of any one side. For two segments that is how far
    the nearest end sticks through.
    """
    closest = polyline_polyline(a, b)
    if closest.value > 0:
        return closest
    a, b = np.asarray(a, float), np.asarray(b, float)
    reaches = [*_reaches(a, b), *(reach.swapped() for reach in _reaches(b, a))]
    least = min(reaches, key=lambda reach: reach.value, default=closest)
    return Closest(-least.value, least.on_a, least.on_b)


def _on_circle(at: Array, centre: Array, radius: float) -> Array:
    offset = at - centre
    length = float(np.linalg.norm(offset))
    toward = offset / length if length > 0 else np.array([1.0, 0.0])
    return np.asarray(centre + radius * toward)


def _segments(points: Array) -> tuple[Array, Array]:
    """Starts and ends, (N − 1, D) each; a single point is a segment of no length."""
    return (points, points) if len(points) == 1 else (points[:-1], points[1:])


def _dots(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("...i,...i->...", a, b))


def _feet(points: Array, starts: Array, ends: Array) -> Array:
    """(..., D) nearest point of each segment to each point, broadcast."""
    along = ends - starts
    squares = _dots(along, along)
    share = _dots(points - starts, along) / np.where(squares > 0, squares, 1.0)
    return np.asarray(starts + np.clip(share, 0.0, 1.0)[..., None] * along)


def _to_polyline(points: Array, polyline: Array) -> tuple[Array, Array]:
    """(K,) distances of (K, D) points to a polyline, and the (K, D) nearest points."""
    starts, ends = _segments(polyline)
    feet = _feet(points[:, None], starts[None], ends[None])
    offsets = feet - points[:, None]
    squares = _dots(offsets, offsets)
    nearest = np.argmin(squares, axis=1)
    rows = np.arange(len(points))
    return np.sqrt(squares[rows, nearest]), feet[rows, nearest]


def _closest_pair(starts_a: Array, ends_a: Array, starts_b: Array, ends_b: Array) -> Closest:
    """The nearest of K pairs of segments.

    The minimum lies at an end of one segment, or inside both where the lines come closest.
    """
    inner_a, inner_b = _inner_points(starts_a, ends_a, starts_b, ends_b)
    ends_on_a = _feet(starts_b, starts_a, ends_a), _feet(ends_b, starts_a, ends_a)
    ends_on_b = _feet(starts_a, starts_b, ends_b), _feet(ends_a, starts_b, ends_b)
    on_a = np.vstack([starts_a, ends_a, *ends_on_a, inner_a])
    on_b = np.vstack([*ends_on_b, starts_b, ends_b, inner_b])
    squares = _dots(on_a - on_b, on_a - on_b)
    nearest = int(np.argmin(squares))
    at_a, at_b = on_a[nearest], on_b[nearest]
    crossing = nearest >= 4 * len(starts_a) and starts_a.shape[1] == 2
    return Closest(0.0 if crossing else float(np.sqrt(squares[nearest])), at_a, at_b)


def _inner_points(
    starts_a: Array, ends_a: Array, starts_b: Array, ends_b: Array
) -> tuple[Array, Array]:
    """(J, D) points where the carrying lines come closest inside both segments."""
    u, v, w = ends_a - starts_a, ends_b - starts_b, starts_a - starts_b
    uu, vv, uv = _dots(u, u), _dots(v, v), _dots(u, v)
    determinant = uu * vv - uv * uv
    solvable = determinant > 1e-14 * uu * vv
    divisor = np.where(solvable, determinant, 1.0)
    s = (uv * _dots(v, w) - vv * _dots(u, w)) / divisor
    t = (uu * _dots(v, w) - uv * _dots(u, w)) / divisor
    inside = solvable & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    on_a = starts_a[inside] + s[inside, None] * u[inside]
    return on_a, starts_b[inside] + t[inside, None] * v[inside]


def _reaches(a: Array, b: Array) -> list[Closest]:
    """How far each of the two sides of `a`, as cut by `b`, reaches from `b`; a's point first.

    Empty where all vertices of `a` lie on one side.
    """
    side = np.concatenate([[0], np.cumsum(_crossings(a, b))]) % 2
    if np.all(side == 0):
        return []
    lengths, feet = _to_polyline(a, b)
    deepest = [int(np.argmax(np.where(side == one, lengths, -1.0))) for one in (0, 1)]
    return [Closest(float(lengths[k]), a[k], feet[k]) for k in deepest]


def _crossings(a: Array, b: Array) -> NDArray[np.intp]:
    """How often each segment of `a` crosses polyline `b`, by the sides of the ends."""
    (p, q), (r, s) = _segments(a), _segments(b)
    r_side, s_side = _side(p, q, r), _side(p, q, s)
    p_side, q_side = _side(r, s, p).T, _side(r, s, q).T
    return np.asarray(np.sum((r_side != s_side) & (p_side != q_side), axis=1))


def _side(starts: Array, ends: Array, points: Array) -> NDArray[np.bool_]:
    """(K, L) whether point l lies left of line k."""
    along = ends - starts
    x = points[None, :, 0] - starts[:, None, 0]
    y = points[None, :, 1] - starts[:, None, 1]
    return np.asarray(along[:, None, 0] * y - along[:, None, 1] * x > 0)
