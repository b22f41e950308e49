"""What keeps a part from being one solid: holes and levels that leave it, or meet each other?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from photomeasure.parts.clearances import boundaries
from photomeasure.parts.profiles import polygon
from photomeasure.records.part import Part, Profile


def level_through(part: Part, profile: Profile) -> int | None:
    """The level that an inner boundary goes through, if any."""
    area = polygon(profile)
    for k, level in enumerate(part.levels):
        if polygon(level.outline).contains_properly(area):
            return k
    return None


def hole_faults(part: Part) -> Iterator[str]:
    """Inner boundaries that leave the part or run into each other, with the remedy."""
    inner = {name: polygon(p) for name, p in boundaries(part).items()}
    outer = polygon(part.outline)
    for name, area in inner.items():
        if not outer.contains(area):
            yield f"{name} runs out of the outline. Correct one of them."
    for a, b in combinations(inner, 2):
        if inner[a].intersects(inner[b]):
            yield f"{a} and {b} run into each other. Correct one of them."


def level_faults(part: Part) -> Iterator[str]:
    """What keeps the levels from being made, with the remedy."""
    for k in range(len(part.levels)):
        yield from _faults(part, k)
    for name, profile in boundaries(part).items():
        area = polygon(profile)
        for level in part.levels:
            rim = polygon(level.outline)
            if rim.intersects(area) and not rim.contains_properly(area):
                yield (
                    f"{name} crosses the rim of level {level.name}. Move one of them, or leave "
                    "the level out."
                )


def _faults(part: Part, k: int) -> Iterator[str]:
    level = part.levels[k]
    if level.height_mm == 0 or part.thickness_mm + level.height_mm <= 0:
        yield (
            f"Level {level.name} has a height of {level.height_mm:g} mm on a part of "
            f"{part.thickness_mm:g} mm. Give a height above it, or a recess less deep than it."
        )
    area = polygon(level.outline)
    if not polygon(part.outline).contains_properly(area):
        yield f"Level {level.name} reaches the part's edge. Draw it inside."
    for other in part.levels[:k]:
        if polygon(other.outline).intersects(area):
            yield f"Levels {other.name} and {level.name} overlap. Move them apart."
