"""What on a part has a name, and where may it stand without lying on a line?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from photomeasure.parts.profiles import box_mm, circle, polygon_points, stadium
from photomeasure.records.part import Pair, Part, Slot

_WIDE, _HIGH = 0.66, 0.8  # of a letter, by its size
_AIR_MM, _CLEAR_MM, _CROSS_MM = 1.0, 0.6, 2.0
_WAYS_DEG = (45, 0, 90, -45, 135, 180, -90, -135)
_FARTHER = (0.0, 1.0, 2.0, 4.0, 7.0)  # letters


def labels(part: Part, letter_mm: float, scale: float = 1.0) -> list[tuple[str, Pair]]:
    """The name of every hole and slot and where its lower left corner stands, mm of the part: to
    the upper right if that is free of lines and other names, else as near as it is.

    letter_mm : on paper. scale : of the drawing.
    """
    letter = letter_mm / scale
    lines, placed = _lines(part, scale), []
    for name, centre, aside in _named(part):
        boxes = [_box(name, at, letter) for at in _around(centre, aside, letter, scale)]
        free = [box for box in boxes if box.distance(lines) > _CLEAR_MM / scale]
        chosen = (free or boxes)[0]
        lines = lines.union(chosen)
        placed.append((name, (chosen.bounds[0], chosen.bounds[1])))
    return placed


def _named(part: Part) -> list[tuple[str, Pair, float]]:
    """Of every hole and slot the name, a centre, and how far from it the rim is."""
    found = [(h.name, h.centre_mm, h.diameter.value / 2) for h in part.holes]
    return found + [(s.name, _right_end(s), s.width.value / 2) for s in part.slots]


def _around(centre: Pair, aside: float, letter: float, scale: float) -> Iterator[Pair]:
    """Middles of places for two letters beside a rim, the nearest and most usual first; inside
    it too, which a large one leaves room for."""
    reach = aside + _AIR_MM / scale + _WIDE * letter
    for farther in (*_FARTHER, -aside / 2 / letter):
        for degrees in _WAYS_DEG:
            way = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
            x, y = centre + (reach + farther * letter) * way
            yield float(x), float(y)


def _box(name: str, middle: Pair, letter: float) -> shapely.Geometry:
    wide, high = _WIDE * letter * len(name) / 2, _HIGH * letter / 2
    return shapely.box(middle[0] - wide, middle[1] - high, middle[0] + wide, middle[1] + high)


def _lines(part: Part, scale: float) -> shapely.Geometry:
    """All that is drawn, the centre lines of holes with it."""
    slots = [stadium(s.centre_mm, s.length_mm, s.width.value, s.angle_rad) for s in part.slots]
    rounds = [circle(h.centre_mm, h.diameter.value / 2) for h in part.holes]
    levels = [level.outline for level in part.levels]
    closed = [part.outline, *slots, *rounds, *part.openings, *levels, *part.etchings]
    chains: list[shapely.Geometry] = [shapely.LinearRing(polygon_points(p, 0.05)) for p in closed]
    for hole in part.holes:
        (x, y), reach = hole.centre_mm, hole.diameter.value / 2 + _CROSS_MM / scale
        chains.append(shapely.LineString([(x - reach, y), (x + reach, y)]))
        chains.append(shapely.LineString([(x, y - reach), (x, y + reach)]))
    chains += [shapely.LineString([bend.start_mm, bend.end_mm]) for bend in part.bends]
    return shapely.union_all(chains)


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
