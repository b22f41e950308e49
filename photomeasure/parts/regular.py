"""Which regular things is a part nearly, and what does it become when one of them is taken?

Nothing is imposed: each finder gives offers, and with each the part as it would be. Whether
an offer lies inside what the photo leaves open is for `choices` to judge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle
from photomeasure.parts.finish import Angle, Primitive, finish
from photomeasure.parts.joints import profile_of
from photomeasure.parts.profiles import Piece, distance_mm, pieces_of
from photomeasure.parts.symmetry import symmetric_part
from photomeasure.records.part import Offer, Part, Profile, RoundHole

Array = NDArray[np.float64]
StandardSizes = Sequence[tuple[str, float]]

_FAR_MM = 0.4  # farther than this (and than three times U) nothing is nearly regular
_LEAST_HOLES = 3
_NEARLY_RIGHT_RAD = np.radians(1.5)
_LEAST_SIDE_MM = 5.0
_SMOOTH_RAD = np.radians(1.0)
_MADE_EQUAL = "made equal"


@dataclass(frozen=True, eq=False)
class Offered:
    """An offer, and the part with it taken."""

    offer: Offer
    part: Part


def offers(part: Part, sizes: StandardSizes = ()) -> tuple[Offered, ...]:
    """All regular things that a part nearly is. sizes : name and diameter in mm of standard
    holes, such as ("M6 medium, ISO 273", 6.6)."""
    finders: tuple[Callable[[Part], Iterator[Offered]], ...] = (
        _right_angles,
        _symmetric,
        _equal_holes,
        _bolt_circles,
    )
    found = [o for finder in finders for o in finder(part)]
    found += _standard_sizes(part, sizes)
    return tuple(o for o in found if o.offer.off_mm <= max(_FAR_MM, 6 * o.offer.u_mm))


def _standard_sizes(part: Part, sizes: StandardSizes) -> Iterator[Offered]:
    for group in _without_standard(part) if sizes else ():
        value = group[0].diameter.value
        label, mm = min(sizes, key=lambda size: abs(size[1] - value))
        measures = f"measures {_mm(group[0])}" if len(group) == 1 else f"were made {value:.2f}"
        words = f"{_names(group)} {measures} mm; {label} is {mm:g} mm"
        chosen = [
            replace(h, diameter=replace(h.diameter, chosen=mm, why=label), fit=label)
            for h in group
        ]
        off = max(abs(mm - h.diameter.measured) for h in group)
        u = max(h.diameter.u for h in group)
        yield Offered(
            Offer(f"{_names(group)} to {mm:g}", words, off, u), _with_holes(part, chosen)
        )


def _without_standard(part: Part) -> Iterator[list[RoundHole]]:
    """Holes as measured, each by itself, and those that were made equal, together."""
    equal: dict[float, list[RoundHole]] = {}
    for hole in part.holes:
        if hole.diameter.chosen is None:
            yield [hole]
        elif hole.diameter.why == _MADE_EQUAL:
            equal.setdefault(hole.diameter.chosen, []).append(hole)
    yield from equal.values()


def _mm(hole: RoundHole) -> str:
    return f"{hole.diameter.measured:.2f} ± {hole.diameter.expanded:.2f}"


def _with_holes(part: Part, changed: Sequence[RoundHole]) -> Part:
    by_name = {h.name: h for h in changed}
    return replace(part, holes=tuple(by_name.get(h.name, h) for h in part.holes))


def equal_groups(part: Part) -> list[list[RoundHole]]:
    """Holes whose sizes do not differ by more than is known, largest first; alone or not."""
    groups: list[list[RoundHole]] = []
    for hole in sorted(part.holes, key=lambda h: -h.diameter.value):
        last = groups[-1][-1] if groups else None
        if last is not None and _alike(last, hole):
            groups[-1].append(hole)
        else:
            groups.append([hole])
    return groups


def _alike(a: RoundHole, b: RoundHole) -> bool:
    u = float(np.hypot(a.diameter.u, b.diameter.u))
    return abs(a.diameter.value - b.diameter.value) <= max(2 * u, 1e-9)


def _names(holes: Sequence[RoundHole]) -> str:
    return " ".join(sorted((h.name for h in holes), key=lambda n: (len(n), n)))


def _equal_holes(part: Part) -> Iterator[Offered]:
    for group in equal_groups(part):
        values = np.array([h.diameter.value for h in group])
        if len(group) < 2 or np.ptp(values) < 1e-9:
            continue
        mean = float(values.mean())
        changed = [
            replace(h, diameter=replace(h.diameter, chosen=mean, why=_MADE_EQUAL)) for h in group
        ]
        off, u = float(np.abs(values - mean).max()), max(h.diameter.u for h in group)
        words = f"{_names(group)} nearly have one diameter, {mean:.3f} mm on average"
        yield Offered(Offer(f"equal {_names(group)}", words, off, u), _with_holes(part, changed))


def _bolt_circles(part: Part) -> Iterator[Offered]:
    for group in equal_groups(part):
        if len(group) < _LEAST_HOLES:
            continue
        at = np.array([h.centre_mm for h in group])
        try:
            centre, radius = fit_circle(at)
        except GeometryError:
            continue
        angles = np.unwrap(np.sort(np.arctan2(*(at - centre).T[::-1])))
        order = np.argsort(np.arctan2(*(at - centre).T[::-1]))
        even = 2 * np.pi * np.arange(len(group)) / len(group)
        turns = even + float(np.mean(angles - even))
        ideal = centre + radius * np.column_stack([np.cos(turns), np.sin(turns)])
        off = float(np.hypot(*(at[order] - ideal).T).max())
        if off < 1e-9:
            continue
        changed = [
            replace(group[k], centre_mm=(float(x), float(y)))
            for k, (x, y) in zip(order, ideal, strict=True)
        ]
        words = f"{_names(group)} nearly lie evenly on a circle of {2 * radius:.2f} mm"
        u = float(np.hypot(max(h.u_centre_mm for h in group), 1e-6)) * np.sqrt(2)
        yield Offered(Offer(f"round {_names(group)}", words, off, u), _with_holes(part, changed))


def _right_angles(part: Part) -> Iterator[Offered]:
    squared = _squared(part.outline)
    if squared is None:
        return
    off = float(distance_mm(np.array(squared.points_mm), part.outline).max())
    if off < 1e-6:
        return
    words = "sides of the outline nearly stand at right angles or run parallel"
    offer = Offer("right angles", words, off, part.u_boundary_mm)
    yield Offered(offer, replace(part, outline=squared))


def _squared(profile: Profile) -> Profile | None:
    """All long sides within 1.5° of the square of the longest one put right; None if none."""
    pieces = pieces_of(profile)
    lines = [k for k, p in enumerate(pieces) if not p.is_arc and p.length > _LEAST_SIDE_MM]
    if len(lines) < 2:
        return None
    longest = max(lines, key=lambda k: pieces[k].length)
    angles = []
    for k in lines:
        apart = _angle(pieces[k]) - _angle(pieces[longest])
        right = np.round(apart / (np.pi / 2)) * (np.pi / 2)
        if k != longest and abs(apart - right) < _NEARLY_RIGHT_RAD:
            angles.append(Angle(longest, k, float(right)))
    if not angles:
        return None
    primitives = [_primitive(p) for p in pieces]
    tangent = [_smooth(piece, pieces[(k + 1) % len(pieces)]) for k, piece in enumerate(pieces)]
    solved = finish(primitives, tangent, angles)
    squared, bad = profile_of(solved, tangent)
    return None if bad else squared


def _angle(piece: Piece) -> float:
    return float(np.arctan2(*(piece.end - piece.start)[::-1]))


def _smooth(a: Piece, b: Piece) -> bool:
    return (a.is_arc or b.is_arc) and float(
        a.heading(at_end=True) @ b.heading(at_end=False)
    ) > np.cos(_SMOOTH_RAD)


def _primitive(piece: Piece) -> Primitive:
    points = np.vstack([piece.points(0.01), piece.end])
    count = max(5, round(piece.length))
    along = np.linspace(0, len(points) - 1, count)
    dense = np.column_stack([np.interp(along, np.arange(len(points)), c) for c in points.T])
    if piece.is_arc:
        signed = np.sign(piece.bulge) * piece.radius
        return Primitive(np.array([*piece.centre, signed]), dense)
    normal = np.array([-np.sin(_angle(piece)), np.cos(_angle(piece))])
    return Primitive(np.array([_angle(piece), float(piece.start @ normal)]), dense)


def _symmetric(part: Part) -> Iterator[Offered]:
    made = symmetric_part(part)
    if made is None or made[1] < 1e-6:
        return
    words = "the part is nearly its own mirror image"
    yield Offered(Offer("symmetric", words, made[1], part.u_boundary_mm), made[0])
