"""How do the contours of a part become the part, in a frame of its own?

The outer contour becomes the outline, each inner one a hole, a slot or an opening. The frame:
x along the longest straight side as it lies nearest to the sheet's x, the origin at the lower
left corner of the part's box.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.parts.fit import fit_profile, refuse_crossing
from photomeasure.parts.holes import opening_of, round_hole
from photomeasure.parts.profiles import box_mm, circle, pieces_of
from photomeasure.parts.shaping import placed
from photomeasure.records.part import Contour, Part, Profile, RoundHole, Slot

Array = NDArray[np.float64]
Progress = Callable[[str], None]


def build_part(
    name: str,
    outer: Contour,
    inner: Sequence[Contour],
    thickness_mm: float,
    tolerance_mm: float,
    shaped: Sequence[str] = (),
    progress: Progress = lambda words: None,
) -> Part:
    """The part that these contours bound, in its own frame.

    shaped : names of openings that are what they are though they look like a covered circle.
    Inner boundaries are named from the largest, H1 and on for holes, S1 for slots.
    Raises GeometryError in words where a boundary cannot be told.
    """
    progress("fitting lines and arcs to the outline")
    outline, is_disc = _outline_of(outer, tolerance_mm)
    refuse_crossing(outline)
    ordered = sorted(inner, key=_reading_order)
    found: list[RoundHole | Slot | Profile] = []
    for k, contour in enumerate(ordered, 1):
        progress(f"fitting opening {k} of {len(ordered)}")
        if f"opening {k}" in shaped:
            found.append(fit_profile(contour, tolerance_mm).profile)
        else:
            found.append(opening_of(contour, f"opening {k}", tolerance_mm))
    turn = _turn_of(outline)
    part = Part(
        name=name,
        outline=outline,
        thickness_mm=thickness_mm,
        holes=_named([f for f in found if isinstance(f, RoundHole)], "H"),
        slots=_named([f for f in found if isinstance(f, Slot)], "S"),
        openings=tuple(f for f in found if isinstance(f, Profile)),
        tolerance_mm=tolerance_mm,
        u_boundary_mm=boundary_doubt(outer),
    )
    part = placed(part, turn, (0.0, 0.0))
    x0, y0, x1, y1 = box_mm(part.outline)
    return replace(
        placed(part, 0.0, (-x0, -y0)),
        # Of a disc a part of the rim may be hidden; it is as large as what is seen says.
        photo_size_mm=(x1 - x0, y1 - y0) if is_disc else _extent(outer.points_mm, turn),
        turn_rad=turn,
        shift_mm=(-x0, -y0),
    )


def _outline_of(outer: Contour, tolerance_mm: float) -> tuple[Profile, bool]:
    """The disc whose rim is all that is seen, and True; else lines and arcs, or where none fit
    the disc that nearly all of it lies on, and False."""
    disc = round_hole(outer, "outline", tolerance_mm)
    if disc is None:
        return fit_profile(outer, tolerance_mm).profile, False
    radius = disc.diameter.measured / 2
    rim = circle(disc.centre_mm, radius)
    off = np.abs(np.hypot(*(outer.points_mm - disc.centre_mm).T) - radius)
    if off.max() <= tolerance_mm:
        return rim, True
    try:
        return fit_profile(outer, tolerance_mm).profile, False
    except GeometryError:
        return rim, False


def _named(found: list, letter: str) -> tuple:  # type: ignore[type-arg]
    return tuple(replace(f, name=f"{letter}{k}") for k, f in enumerate(found, 1))


def _reading_order(contour: Contour) -> tuple[float, float]:
    """The largest first, then by height and side as they lie."""
    x, y = contour.points_mm.mean(axis=0)
    size = float(np.ptp(contour.points_mm, axis=0).max())
    return -round(size), float(round(-y) + x / 1e4)


def boundary_doubt(contour: Contour) -> float:
    """Standard uncertainty of the place of the boundary, mm, shape and size together."""
    points, modes = contour.points_mm, contour.modes_mm
    steps = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    lengths = np.maximum(np.hypot(*steps.T), 1e-12)
    normals = np.column_stack([steps[:, 1], -steps[:, 0]]) / lengths[:, None]
    across = np.einsum("kni,ni->kn", modes, normals)
    return float(np.sqrt(np.mean((across**2).sum(axis=0))))


def _turn_of(outline: Profile) -> float:
    """By how much to turn the longest side onto the nearest axis; 0 where none is long."""
    lines = [p for p in pieces_of(outline) if not p.is_arc]
    if not lines:
        return 0.0
    longest = max(lines, key=lambda p: p.length)
    way = longest.end - longest.start
    angle = float(np.arctan2(way[1], way[0]))
    return float(np.round(angle / (np.pi / 2)) * (np.pi / 2) - angle)


def _extent(points: Array, turn: float) -> tuple[float, float]:
    c, s = np.cos(turn), np.sin(turn)
    width, height = np.ptp(points @ np.array([[c, s], [-s, c]]), axis=0)
    return float(width), float(height)
