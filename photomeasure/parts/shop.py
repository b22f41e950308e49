"""What would a shop ask about this part before cutting it?

Limits come as arguments, as shares of the thickness: shops cut holes and webs down to about
one thickness (a supplier's guides; they say 0.7 to 1.5).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from photomeasure.parts.clearances import boundaries, neck_mm, webs
from photomeasure.parts.faults import hole_faults, level_faults
from photomeasure.parts.jogs import jogs
from photomeasure.parts.profiles import box_mm, pieces_of, polygon
from photomeasure.records.part import Part, Profile, Remark

_SHORTEST_MM = 0.05
_SIZE_SLACK_MM = 0.05


def check_for_shop(
    part: Part, hole_share: float = 1.0, web_share: float = 1.0
) -> tuple[Remark, ...]:
    """Every remark, the grave ones first.

    hole_share, web_share : the smallest hole and web that are cut without a question, as
    shares of the thickness.
    """
    broken = list(_broken(part))
    if broken:  # nothing else can be said of what bounds no area
        return tuple(broken)
    remarks = [
        *(Remark(fault, None, True) for fault in (*hole_faults(part), *level_faults(part))),
        *_bends(part),
        *_size(part),
        *_jogs(part),
        *_small_holes(part, hole_share),
        *_thin_webs(part, web_share),
    ]
    return tuple(sorted(remarks, key=lambda r: not r.grave))


def _cut_through(part: Part) -> dict[str, Profile]:
    return {"outline": part.outline} | boundaries(part)


def _profiles(part: Part) -> dict[str, Profile]:
    return _cut_through(part) | {f"level {level.name}": level.outline for level in part.levels}


def _broken(part: Part) -> Iterator[Remark]:
    """Open gaps, crossings, bits of no length."""
    for name, profile in _profiles(part).items():
        if not np.isfinite(np.array(profile.points_mm)).all() or len(profile.points_mm) < 2:
            yield Remark(f"The {name} has an open gap; it must close. Fit it again.", None, True)
            continue
        if not polygon(profile).is_valid:
            words = f"The {name} crosses itself and bounds no area. Fit it again."
            yield Remark(words, None, True)
        for piece in pieces_of(profile):
            if piece.length < _SHORTEST_MM:
                at = (float(piece.start[0]), float(piece.start[1]))
                yield Remark(
                    f"The {name} has a bit of {piece.length:.3f} mm; a machine stops there. "
                    "Ask for a coarser tolerance.",
                    at,
                    True,
                )


def _bends(part: Part) -> Iterator[Remark]:
    """Bend lines that bend nothing."""
    outer = polygon(part.outline)
    for k, bend in enumerate(part.bends, 1):
        crossing = outer.intersection(shapely.LineString([bend.start_mm, bend.end_mm])).length
        if crossing < _SHORTEST_MM:
            yield Remark(
                f"Bend line {k} runs over {crossing:.2f} mm of the part. Put its ends on the "
                "part's edges.",
                bend.start_mm,
                True,
            )


def _size(part: Part) -> Iterator[Remark]:
    if part.photo_size_mm is None:
        return
    x0, y0, x1, y1 = box_mm(part.outline)
    slack = part.tolerance_mm + 2 * part.u_boundary_mm + _SIZE_SLACK_MM
    for axis, made, seen in zip("xy", (x1 - x0, y1 - y0), part.photo_size_mm, strict=True):
        if abs(made - seen) > slack:
            yield Remark(
                f"The part is {made:.2f} mm long in {axis}, but {seen:.2f} mm in the photo, more "
                f"than {slack:.2f} mm apart. Check what was chosen.",
                None,
                True,
            )


def _jogs(part: Part) -> Iterator[Remark]:
    for name, profile in _cut_through(part).items():
        for jog in jogs(profile):
            yield Remark(
                f"The {name} steps aside by {jog.step_mm:.2f} mm near ({jog.at_mm[0]:.1f}, "
                f"{jog.at_mm[1]:.1f}) mm, as where one edge of a wall or shadow was followed and "
                "then the other. If the part has no such step, draw a stroke along its edge.",
                jog.at_mm,
            )


def _small_holes(part: Part, share: float) -> Iterator[Remark]:
    sizes = [(h.name, h.diameter.value, h.centre_mm) for h in part.holes]
    sizes += [(s.name, s.width.value, s.centre_mm) for s in part.slots]
    for name, width, at in sizes:
        if width < share * part.thickness_mm:
            yield Remark(
                f"{name} is {width:.2f} mm wide in {part.thickness_mm:g} mm of material; many "
                "shops cut no hole smaller than the thickness. Have it drilled, and say so.",
                at,
            )


def _thin_webs(part: Part, share: float) -> Iterator[Remark]:
    least = share * part.thickness_mm
    for web in webs(part):
        if 0 < web.width_mm < least:
            yield Remark(
                f"Between {web.between[0]} and {web.between[1]} stand {web.width_mm:.2f} mm, "
                f"less than {least:g} mm. A thin web burns or bends; ask the shop.",
                web.at_mm,
            )
    if polygon(part.outline).is_valid and not webs(part) and neck_mm(part) < least:
        yield Remark(
            f"The part is only {neck_mm(part):.2f} mm wide at its narrowest, less than "
            f"{least:g} mm. Ask the shop whether it will hold."
        )
