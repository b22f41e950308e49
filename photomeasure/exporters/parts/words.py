"""What must everybody who holds a file of a part be told, in plain words?"""

from __future__ import annotations

from photomeasure.parts.profiles import box_mm
from photomeasure.records.part import Part, RoundHole, Slot

NOT_AN_APPROVAL = "Measured shape, not an approval: whoever fits the part answers for its use."
"""Stands on every file of a part that touches what can hurt."""


def facts(part: Part) -> list[str]:
    """One line each: unit and scale, size, which side is seen, levels, bends, cautions."""
    x0, y0, x1, y1 = box_mm(part.outline)
    lines = [
        f"{part.name}: all lengths in mm, scale 1:1",
        f"overall {x1 - x0:.2f} x {y1 - y0:.2f} mm, thickness {part.thickness_mm:g} mm",
        f"{part.view_side}; origin: {part.datum}",
        "nominal shape: the shop allows for kerf",
    ]
    if part.title.material:
        lines.append(f"material {part.title.material}, quantity {part.title.quantity}")
    lines += [f"{h.name}: {callout(h)}" for h in part.holes if h.thread or h.fit]
    lines += [_level(level.name, level.height_mm) for level in part.levels]
    lines += [
        f"bend {b.angle_deg:g} deg {'up' if b.up else 'down'}, inside radius "
        f"{b.inside_radius_mm:g} mm"
        for b in part.bends
    ]
    if part.cautions:
        lines += [NOT_AN_APPROVAL, *part.cautions]
    return lines


def _level(name: str, height_mm: float) -> str:
    kind = "raised seat" if height_mm > 0 else "recess, not cut through"
    return (
        f"{name}: {kind}, {abs(height_mm):g} mm {'above' if height_mm > 0 else 'below'} the face"
    )


def callout(hole: RoundHole) -> str:
    """Diameter, and thread or clearance class where one was said."""
    size = f"Ø{hole.diameter.value:.2f}"
    if hole.thread:
        return f"{hole.thread} ({size} as drawn)"
    return f"{size} ({hole.fit})" if hole.fit else size


def how_measured(one: RoundHole | Slot) -> str:
    """What a size rests on, with U of 95 %."""
    size = one.diameter if isinstance(one, RoundHole) else one.width
    seen = f"{size.how} {size.measured:.3f} ± {size.expanded:.3f}"
    return seen if size.chosen is None else f"{seen}, chosen: {size.why or 'said'}"
