"""How much material stands between holes and edges, and where is it thinnest?"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import shapely
from shapely.ops import nearest_points

from photomeasure.parts.profiles import circle, polygon, stadium
from photomeasure.records.part import Pair, Part, Profile

_HALVINGS = 12


@dataclass(frozen=True)
class Web:
    """The least material between two boundaries: its width and its middle.

    centre_mm : from the centre of a round hole to the outline, for the edge distance of
    structural rules; None for other pairs.
    """

    between: tuple[str, str]
    width_mm: float
    at_mm: Pair
    centre_mm: float | None = None


def boundaries(part: Part) -> dict[str, Profile]:
    """Every inner boundary by name: holes, slots, openings."""
    found = {h.name: circle(h.centre_mm, h.diameter.value / 2) for h in part.holes}
    found |= {
        s.name: stadium(s.centre_mm, s.length_mm, s.width.value, s.angle_rad) for s in part.slots
    }
    found |= {f"opening {k}": profile for k, profile in enumerate(part.openings, 1)}
    return found


def material(part: Part) -> shapely.Geometry:
    """The area of the part, its holes cut out, by polygons within 0.001 mm of the arcs."""
    outer = polygon(part.outline)
    return outer.difference(shapely.union_all([polygon(p) for p in boundaries(part).values()]))


def webs(part: Part) -> tuple[Web, ...]:
    """The webs between every two inner boundaries and to the outline, the thinnest first.

    A web to the outline is also the land width there.
    """
    inner = {name: polygon(profile) for name, profile in boundaries(part).items()}
    rim = polygon(part.outline).exterior
    radii = {h.name: h.diameter.value / 2 for h in part.holes}
    found = [_web(("outline", name), rim, area, radii.get(name)) for name, area in inner.items()]
    found += [_web((a, b), inner[a], inner[b], None) for a, b in combinations(inner, 2)]
    return tuple(sorted(found, key=lambda web: web.width_mm))


def _web(
    names: tuple[str, str], a: shapely.Geometry, b: shapely.Geometry, radius: float | None
) -> Web:
    first, second = nearest_points(a, b)
    at = (float(first.x + second.x) / 2, float(first.y + second.y) / 2)
    width = float(a.distance(b))
    return Web(names, width, at, None if radius is None else width + radius)


def neck_mm(part: Part) -> float:
    """The width of the narrowest neck: eroded by half of it, the material falls apart.

    Half the least width of the whole where it never falls apart.
    """
    whole = material(part)
    low, high = 0.0, float(min(_sides(whole)))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        left = whole.buffer(-middle / 2)
        apart = left.is_empty or left.geom_type != "Polygon"
        opened = not apart and len(left.interiors) < len(whole.interiors)
        if apart or opened:
            high = middle
        else:
            low = middle
    return (low + high) / 2


def _sides(area: shapely.Geometry) -> tuple[float, float]:
    x0, y0, x1, y1 = area.bounds
    return x1 - x0, y1 - y0
