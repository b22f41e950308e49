"""What does a profile of lines and arcs measure, and how does it lie in the plane?

All formulas are exact for arcs; `polygon` alone approximates, within a stated sag.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.records.part import Pair, Profile

Array = NDArray[np.float64]

SAG_MM = 0.001
SAME_MM = 1e-6


@dataclass(frozen=True, eq=False)
class Piece:
    """A line or an arc from start to end, (2,) each. An arc has a centre and a radius."""

    start: Array
    end: Array
    bulge: float

    @property
    def is_arc(self) -> bool:
        """Whether it bends."""
        return self.bulge != 0.0

    @property
    def angle_rad(self) -> float:
        """Signed angle that it turns through, positive to the left; 0 for a line."""
        return float(4 * np.arctan(self.bulge))

    @property
    def centre(self) -> Array:
        """(2,) of an arc."""
        chord = self.end - self.start
        lift = (1 - self.bulge**2) / (4 * self.bulge)
        return np.asarray((self.start + self.end) / 2 + lift * np.array([-chord[1], chord[0]]))

    @property
    def radius(self) -> float:
        """Of an arc."""
        chord = float(np.hypot(*(self.end - self.start)))
        return chord * (1 + self.bulge**2) / (4 * abs(self.bulge))

    @property
    def length(self) -> float:
        """Along the line or arc."""
        chord = float(np.hypot(*(self.end - self.start)))
        return self.radius * abs(self.angle_rad) if self.is_arc else chord

    def heading(self, at_end: bool) -> Array:
        """(2,) unit direction in which it leaves its start or reaches its end."""
        chord = self.end - self.start
        turn = (1 if at_end else -1) * self.angle_rad / 2
        c, s = np.cos(turn), np.sin(turn)
        x, y = chord / np.hypot(*chord)
        return np.array([c * x - s * y, s * x + c * y])

    def points(self, sag_mm: float) -> Array:
        """(N, 2) chain from the start, the end left out, within sag_mm of the arc."""
        if not self.is_arc:
            return self.start[None, :]
        step = 2 * np.arccos(max(0.0, 1 - sag_mm / max(self.radius, sag_mm)))
        count = max(2, ceil(abs(self.angle_rad) / max(step, 1e-3)))
        turns = self.angle_rad * np.arange(count) / count
        arm = self.start - self.centre
        c, s = np.cos(turns), np.sin(turns)
        swept = np.column_stack([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])
        return np.asarray(self.centre + swept)


def pieces_of(profile: Profile) -> list[Piece]:
    """Its lines and arcs in order."""
    points = [np.array(p, float) for p in profile.points_mm]
    ends = [*points[1:], points[0]]
    return [Piece(a, b, f) for a, b, f in zip(points, ends, profile.bulges, strict=True)]


def turn_rad(one: Array, other: Array) -> float:
    """Signed angle from one direction (2,) to another, positive to the left."""
    return float(np.arctan2(one[0] * other[1] - one[1] * other[0], one @ other))


def corner_rad(before: Piece, after: Piece) -> float:
    """Signed angle of the corner between two pieces, positive to the left."""
    return turn_rad(before.heading(at_end=True), after.heading(at_end=False))


def disc_of(profile: Profile) -> tuple[Pair, float] | None:
    """Centre and radius of a profile that is one circle, else None."""
    first, *rest = pieces_of(profile)
    if not all(p.is_arc and p.bulge * first.bulge > 0 for p in (first, *rest)):
        return None
    same = all(
        abs(p.radius - first.radius) < SAME_MM and np.hypot(*(p.centre - first.centre)) < SAME_MM
        for p in rest
    )
    x, y = first.centre
    return ((float(x), float(y)), first.radius) if same else None


def profile_through(points: Iterable[Array], bulges: Iterable[float]) -> Profile:
    """A profile from vertices (2,) each and bulges."""
    return Profile(tuple((float(x), float(y)) for x, y in points), tuple(float(b) for b in bulges))


def polygon_points(profile: Profile, sag_mm: float = SAG_MM) -> Array:
    """(N, 2) closed chain, the last point joining the first."""
    return np.concatenate([piece.points(sag_mm) for piece in pieces_of(profile)])


def polygon(profile: Profile, sag_mm: float = SAG_MM) -> shapely.Polygon:
    """The same as an area."""
    return shapely.Polygon(polygon_points(profile, sag_mm))


def area_mm2(profile: Profile) -> float:
    """Exact signed area: the polygon of the vertices and a segment of a circle per arc."""
    total = 0.0
    for piece in pieces_of(profile):
        total += 0.5 * float(piece.start[0] * piece.end[1] - piece.start[1] * piece.end[0])
        if piece.is_arc:
            angle = piece.angle_rad
            total += 0.5 * piece.radius**2 * (angle - float(np.sin(angle)))
    return total


def length_mm(profile: Profile) -> float:
    """Its whole length."""
    return sum(piece.length for piece in pieces_of(profile))


def box_mm(profile: Profile) -> tuple[float, float, float, float]:
    """x0, y0, x1, y1, exact also where an arc bulges beyond its ends."""
    found = [np.array(profile.points_mm)]
    for piece in pieces_of(profile):
        if piece.is_arc:
            found.append(_extremes(piece))
    points = np.concatenate(found)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _extremes(piece: Piece) -> Array:
    """(k, 2) where an arc runs along an axis."""
    directions = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]], float)
    arm = piece.start - piece.centre
    first = np.arctan2(arm[1], arm[0])
    turn = np.sign(piece.angle_rad)
    ahead = turn * (np.arctan2(directions[:, 1], directions[:, 0]) - first) % (2 * np.pi)
    return np.asarray(piece.centre + piece.radius * directions[ahead < abs(piece.angle_rad)])


def moved(profile: Profile, turn_rad: float, shift_mm: Pair | Array) -> Profile:
    """Turned about the origin, then shifted."""
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    points = np.array(profile.points_mm) @ np.array([[c, s], [-s, c]]) + np.asarray(shift_mm)
    return profile_through(points, profile.bulges)


def mirrored(profile: Profile) -> Profile:
    """Seen from the other side: x changes its sign; anticlockwise again."""
    points = np.array(profile.points_mm) * [-1.0, 1.0]
    # Backwards, the piece that began at a vertex now ends there; both turns of an arc cancel.
    order = [0, *range(len(points) - 1, 0, -1)]
    return profile_through(points[order], [profile.bulges[k - 1] for k in order])


def circle(centre_mm: Pair | Array, radius_mm: float) -> Profile:
    """A circle as two half turns."""
    x, y = centre_mm
    return Profile(((x + radius_mm, y), (x - radius_mm, y)), (1.0, 1.0))


def stadium(centre_mm: Pair, length_mm: float, width_mm: float, angle_rad: float) -> Profile:
    """The outline of a slot. length_mm : between the centres of its ends."""
    half, r = length_mm / 2, width_mm / 2
    plain = Profile(((-half, -r), (half, -r), (half, r), (-half, r)), (0.0, 1.0, 0.0, 1.0))
    return moved(plain, angle_rad, centre_mm)


def distance_mm(points_mm: Array, profile: Profile) -> Array:
    """(N,) distance of (N, 2) points from the profile, exact."""
    each = [_distance_to_piece(points_mm, piece) for piece in pieces_of(profile)]
    return np.asarray(np.min(each, axis=0))


def _distance_to_piece(points: Array, piece: Piece) -> Array:
    to_ends = np.minimum(np.hypot(*(points - piece.start).T), np.hypot(*(points - piece.end).T))
    if np.array_equal(piece.start, piece.end):  # joints may fall together while a fit is tried
        return np.asarray(to_ends)
    if not piece.is_arc:
        way = piece.end - piece.start
        along = (points - piece.start) @ way / float(way @ way)
        foot = piece.start + np.clip(along, 0, 1)[:, None] * way
        return np.asarray(np.hypot(*(points - foot).T))
    arm, first = points - piece.centre, piece.start - piece.centre
    turn = np.sign(piece.angle_rad)
    ahead = turn * (np.arctan2(arm[:, 1], arm[:, 0]) - np.arctan2(first[1], first[0]))
    over_arc = ahead % (2 * np.pi) <= abs(piece.angle_rad)
    off = np.abs(np.hypot(*arm.T) - piece.radius)
    return np.asarray(np.where(over_arc, off, to_ends))


def sampled(profile: Profile, spacing_mm: float) -> tuple[Array, Array]:
    """(N, 2) points evenly along the profile and (N, 2) their unit directions."""
    points, headings = [], []
    for piece in pieces_of(profile):
        count = max(1, round(piece.length / spacing_mm))
        share = (np.arange(count) + 0.5) / count
        turns = piece.angle_rad * (share - 0.5)
        chord = piece.end - piece.start
        unit = chord / np.hypot(*chord)
        c, s = np.cos(turns), np.sin(turns)
        headings.append(np.column_stack([c * unit[0] - s * unit[1], s * unit[0] + c * unit[1]]))
        if piece.is_arc:
            side = np.sign(piece.bulge)
            outward = np.column_stack([headings[-1][:, 1], -headings[-1][:, 0]]) * side
            points.append(piece.centre + piece.radius * outward)
        else:
            points.append(piece.start + share[:, None] * chord)
    return np.concatenate(points), np.concatenate(headings)


def is_closed_and_simple(profile: Profile) -> bool:
    """Whether it bounds one area without crossing itself."""
    return bool(polygon(profile).is_valid) and sqrt(abs(area_mm2(profile))) > 0
