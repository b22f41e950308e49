"""How does a part look from the other side, grown or shrunk, or with its corners rounded?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.parts.fit import fit_profile
from photomeasure.parts.profiles import (
    Piece,
    corner_rad,
    mirrored,
    moved,
    pieces_of,
    polygon,
    profile_through,
)
from photomeasure.records.part import (
    MIRRORED,
    VIEWED,
    Bend,
    Contour,
    Level,
    Pair,
    Part,
    Profile,
    RoundHole,
    Slot,
)

Array = NDArray[np.float64]

_SMOOTH_RAD = 1e-3
_FINE_SAG_MM = 1e-4
_FINE_MM = 0.005
_LEAST_ROUND_MM = 1e-3


def placed(part: Part, turn_rad: float, shift_mm: Pair | Array) -> Part:
    """The whole part turned about the origin, then shifted."""

    def at(point: Pair) -> Pair:
        c, s = np.cos(turn_rad), np.sin(turn_rad)
        x, y = c * point[0] - s * point[1], s * point[0] + c * point[1]
        return float(x + shift_mm[0]), float(y + shift_mm[1])

    def profile(one: Profile) -> Profile:
        return moved(one, turn_rad, shift_mm)

    return _mapped(part, at, profile, lambda angle: angle + turn_rad)


def mirrored_part(part: Part) -> Part:
    """The same part seen from its other side, its box where it was."""
    x = np.array(part.outline.points_mm)[:, 0]
    shift = float(x.min() + x.max())
    turned = _mapped(
        part,
        lambda p: (shift - p[0], p[1]),
        lambda one: moved(mirrored(one), 0.0, (shift, 0.0)),
        lambda angle: -angle,
    )
    side = MIRRORED if part.view_side == VIEWED else VIEWED
    return replace(turned, view_side=side)


def _mapped(part: Part, at, profile, angle) -> Part:  # type: ignore[no-untyped-def]
    def hole(h: RoundHole) -> RoundHole:
        return replace(h, centre_mm=at(h.centre_mm))

    def slot(s: Slot) -> Slot:
        turned = (angle(s.angle_rad) + np.pi / 2) % np.pi - np.pi / 2
        return replace(s, centre_mm=at(s.centre_mm), angle_rad=float(turned))

    def bend(b: Bend) -> Bend:
        return replace(b, start_mm=at(b.start_mm), end_mm=at(b.end_mm))

    def level(one: Level) -> Level:
        return replace(one, outline=profile(one.outline))

    return replace(
        part,
        outline=profile(part.outline),
        holes=tuple(map(hole, part.holes)),
        slots=tuple(map(slot, part.slots)),
        openings=tuple(map(profile, part.openings)),
        levels=tuple(map(level, part.levels)),
        bends=tuple(map(bend, part.bends)),
        etchings=tuple(map(profile, part.etchings)),
    )


def offset(profile: Profile, by_mm: float) -> Profile:
    """The profile that lies everywhere by_mm outside (or inside, where negative).

    Exact where all joints are smooth and no radius vanishes; else the area is grown and
    lines and arcs are fitted to it within 0.005 mm. New outer corners are round.
    Raises GeometryError where nothing or more than one area is left.
    """
    pieces = pieces_of(profile)
    if _all_smooth(pieces) and all(_grown_radius(p, by_mm) > 0 for p in pieces if p.is_arc):
        return _shifted(pieces, by_mm)
    fine = shapely.segmentize(polygon(profile, _FINE_SAG_MM), 0.2)
    grown = fine.buffer(by_mm, quad_segs=256)
    if grown.is_empty or grown.geom_type != "Polygon":
        raise GeometryError(
            f"Offset by {by_mm:g} mm, nothing or more than one piece is left. Offset by less."
        )
    return fit_exact(_evenly(grown.exterior))


def _evenly(ring: shapely.LinearRing) -> Array:
    """(N, 2) points along a ring, none on a corner."""
    count = int(np.clip(ring.length / 0.2, 200, 2000))
    places = (np.arange(count) + 0.5) / count
    points = shapely.line_interpolate_point(ring, places, normalized=True)
    return np.asarray(shapely.get_coordinates(points))


def fit_exact(chain: Array) -> Profile:
    """Lines and arcs through points without noise, (N, 2), in either direction."""
    forwards = chain if shapely.LinearRing(chain).is_ccw else chain[::-1]
    contour = Contour(forwards, np.full(len(chain), 1e-4), np.zeros((0, len(chain), 2)))
    return fit_profile(contour, _FINE_MM).profile


def _all_smooth(pieces: Sequence[Piece]) -> bool:
    return all(
        abs(corner_rad(pieces[k - 1], piece)) < _SMOOTH_RAD for k, piece in enumerate(pieces)
    )


def _grown_radius(arc: Piece, by_mm: float) -> float:
    return arc.radius + (by_mm if arc.bulge > 0 else -by_mm)


def _shifted(pieces: Sequence[Piece], by_mm: float) -> Profile:
    outward = [np.array([h[1], -h[0]]) for h in (p.heading(at_end=False) for p in pieces)]
    points = [p.start + by_mm * n for p, n in zip(pieces, outward, strict=True)]
    return profile_through(points, [p.bulge for p in pieces])


def rounded(profile: Profile, radius_mm: float, only_near: Sequence[Pair] = ()) -> Profile:
    """Every corner between two lines (or those nearest to some points) rounded; not at all by
    less than a thousandth of a mm, of which nothing can be drawn.

    Raises GeometryError where a side is too short for the radius.
    """
    if radius_mm < _LEAST_ROUND_MM:
        return profile
    pieces = pieces_of(profile)
    corners = [
        k
        for k, piece in enumerate(pieces)
        if not piece.is_arc
        and not pieces[k - 1].is_arc
        and abs(corner_rad(pieces[k - 1], piece)) > _SMOOTH_RAD
    ]
    if only_near:
        corners = [_nearest(pieces, corners, point) for point in only_near]
    points: list[Array] = []
    bulges: list[float] = []
    taken = np.zeros(len(pieces))
    for k, piece in enumerate(pieces):
        if k not in corners:
            points.append(piece.start)
            bulges.append(piece.bulge)
            continue
        turn = corner_rad(pieces[k - 1], piece)
        back = radius_mm * abs(np.tan(turn / 2))
        taken[[k - 1, k]] += back
        points += [
            piece.start - back * pieces[k - 1].heading(at_end=True),
            piece.start + back * piece.heading(at_end=False),
        ]
        bulges += [float(np.tan(turn / 4)), piece.bulge]
    _refuse_short(pieces, taken, radius_mm)
    return profile_through(points, bulges)


def _nearest(pieces: Sequence[Piece], corners: Sequence[int], point: Pair) -> int:
    if not corners:
        raise GeometryError("This outline has no sharp corner to round. Leave the rounding out.")
    return min(corners, key=lambda k: float(np.hypot(*(pieces[k].start - point))))


def _refuse_short(pieces: Sequence[Piece], taken: Array, radius_mm: float) -> None:
    for piece, needed in zip(pieces, taken, strict=True):
        if needed > piece.length + 1e-9:
            raise GeometryError(
                f"A side of {piece.length:.2f} mm has no room for corners of {radius_mm:g} mm, "
                f"which need {needed:.2f} mm of it. Choose a smaller radius."
            )
