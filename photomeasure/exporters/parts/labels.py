"""What on a part has a name, and where may it stand without lying on a line?"""

from __future__ import annotations

import numpy as np

from photomeasure.parts.profiles import box_mm
from photomeasure.records.part import Pair, Part, Slot


def labels(part: Part) -> list[tuple[str, Pair, float]]:
    """Of every hole and slot the name, a centre, and how far from it the rim is: the name stands
    to the upper right of that."""
    found = [(h.name, h.centre_mm, h.diameter.value / 2) for h in part.holes]
    return found + [(s.name, _right_end(s), s.width.value / 2) for s in part.slots]


def _right_end(slot: Slot) -> Pair:
    """The centre of the end that lies farther right, or higher where it stands upright."""
    way = np.array([np.cos(slot.angle_rad), np.sin(slot.angle_rad)])
    way = way if way[0] > 1e-9 or way[1] > 0 else -way
    x, y = np.array(slot.centre_mm) + slot.length_mm / 2 * way
    return float(x), float(y)


def level_labels(part: Part) -> list[tuple[str, Pair]]:
    """What to write above the top of every level and engraving, and where that is."""
    named = [(f"{one.name} {one.height_mm:+g}", one.outline) for one in part.levels]
    named += [("engraved", profile) for profile in part.etchings]
    boxes = [(words, box_mm(profile)) for words, profile in named]
    return [(words, ((x0 + x1) / 2, y1)) for words, (x0, _, x1, y1) in boxes]
