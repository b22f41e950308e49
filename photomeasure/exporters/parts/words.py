"""What must everybody who holds a file of a part be told, in plain words?"""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

from photomeasure.parts.profiles import box_mm, disc_of
from photomeasure.records.part import Part, RoundHole, Slot

NOT_AN_APPROVAL = "Measured shape, not an approval: whoever fits the part answers for its use."
"""Stands on every file of a part that touches what can hurt."""


def facts(part: Part) -> list[str]:
    """One line each: unit and scale, size, which side is seen, levels, bends, cautions."""
    return [*frame_facts(part), *to_make(part), *told_cautions(part)]


def frame_facts(part: Part) -> list[str]:
    """Unit and scale, size, which side is seen, and that nothing is added for the cut."""
    x0, y0, x1, y1 = box_mm(part.outline)
    return [
        f"{part.name}: all lengths in mm, scale 1:1",
        f"overall {x1 - x0:.2f} x {y1 - y0:.2f} mm, thickness {part.thickness_mm:g} mm",
        f"{part.view_side}; origin: {part.datum}",
        "nominal shape: the shop allows for kerf",
    ]


def outline_words(part: Part) -> str:
    """Of what the outline is made."""
    disc = disc_of(part.outline)
    if disc is not None:
        return f"a circle of Ø{2 * disc[1]:.2f} mm"
    arcs = sum(bulge != 0 for bulge in part.outline.bulges)
    lines = len(part.outline.bulges) - arcs
    return (
        f"{lines} {'line' if lines == 1 else 'lines'} and {arcs} {'arc' if arcs == 1 else 'arcs'}"
    )


def to_make(part: Part) -> list[str]:
    """What lines do not say: material, threads and fits, levels, bends, engravings."""
    lines = []
    if part.title.material:
        lines.append(f"material {part.title.material}, quantity {part.title.quantity}")
    return [*lines, *_callouts(part), *work_besides_holes(part)]


def _callouts(part: Part) -> list[str]:
    """Threads and fits, holes that are alike in one line."""
    said: dict[str, list[str]] = {}
    for hole in part.holes:
        if hole.thread or hole.fit:
            said.setdefault(callout(hole), []).append(hole.name)
    return [f"{' '.join(names)}: {words}" for words, names in said.items()]


def work_besides_holes(part: Part) -> list[str]:
    """Levels, bends and engravings, one line each."""
    lines = [_level(level.name, level.height_mm) for level in part.levels]
    lines += [
        f"bend {b.angle_deg:g} deg {'up' if b.up else 'down'}, inside radius "
        f"{b.inside_radius_mm:g} mm"
        for b in part.bends
    ]
    if part.etchings:
        lines.append(f"{len(part.etchings)} closed line(s) engraved, not cut")
    return lines


def told_cautions(part: Part) -> list[str]:
    """What stands on every file of a part that touches what can hurt; else nothing."""
    return [NOT_AN_APPROVAL, *part.cautions] if part.cautions else []


def in_lines(words: Iterable[str], letters: int) -> list[str]:
    """Each of some words in lines of at most so many letters, the later ones set in."""
    return [line for one in words for line in wrap(one, letters, subsequent_indent="  ")]


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
