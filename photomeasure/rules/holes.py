"""Which standard hole is this one, if any? Every one that fits is said, none is chosen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from photomeasure.rules.tables import TABLES, Cell
from photomeasure.uncertainty.notation import format_length, parse_length_mm

_SERIES = ("fine", "medium", "coarse")
_GRADES = {"fine": "H12", "medium": "H13", "coarse": "H14"}
_IT_MM = (
    (3, (0.10, 0.14, 0.25)),
    (6, (0.12, 0.18, 0.30)),
    (10, (0.15, 0.22, 0.36)),
    (18, (0.18, 0.27, 0.43)),
    (30, (0.21, 0.33, 0.52)),
    (50, (0.25, 0.39, 0.62)),
)
"""Sizes up to this many mm → IT12, IT13, IT14 (ISO 286-1, from memory)."""

_MOST = 4


@dataclass(frozen=True)
class StandardHole:
    """One hole of a table. above_mm : how much larger its standard lets it be made."""

    size_mm: float
    words: str
    family: str
    series: str
    above_mm: float = 0.0


@cache
def standard_holes() -> tuple[StandardHole, ...]:
    """All clearance and tapping holes that are built in, smallest first."""
    return tuple(sorted((*_metric(), *_inch(), *_tapping()), key=lambda hole: hole.size_mm))


def hole_remark(value_mm: float, expanded_mm: float) -> str:
    """What standard hole a measured diameter could be; "" beyond the tables."""
    holes = standard_holes()
    figure = format_length(value_mm, expanded_mm)
    if not holes[0].size_mm - expanded_mm <= value_mm <= holes[-1].size_mm + expanded_mm:
        return ""
    inside = [h for h in holes if abs(h.size_mm - value_mm) <= expanded_mm + 1e-9]
    if not inside:
        return f"As a screw hole, {figure}: {_none(value_mm, holes)}"
    if len(inside) == 1:
        return f"As a screw hole, {figure}: {_one(inside[0], holes)}"
    return f"As a screw hole, {figure}: {_several(inside)}"


def _one(hole: StandardHole, holes: Sequence[StandardHole]) -> str:
    others = [h for h in holes if h.family == hole.family and h is not hole]
    said = f"{hole.words} is {_mm(hole.size_mm)}"
    if not others:
        return f"{said}; no other standard size is inside."
    outside = " and ".join(f"{h.series}, {_mm(h.size_mm)}," for h in others)
    return f"{said}; {outside} {'is' if len(others) == 1 else 'are'} outside."


def _several(inside: Sequence[StandardHole]) -> str:
    count = len(inside)
    if count > _MOST:
        ends = f"from {_mm(inside[0].size_mm)} to {_mm(inside[-1].size_mm)}"
        return f"{count} standard sizes {ends} fit; the figure is too wide to tell them apart."
    listed = "; ".join(f"{h.words}, {_mm(h.size_mm)}" for h in inside)
    both = "both fit, and neither" if count == 2 else f"all {count} fit, and none"
    return f"{both} is chosen: {listed}."


def _none(value_mm: float, holes: Sequence[StandardHole]) -> str:
    allowed = [h for h in holes if h.size_mm < value_mm <= h.size_mm + h.above_mm]
    if allowed:
        last = allowed[-1]
        return (
            f"no standard size is inside, but {last.words}, {_mm(last.size_mm)}, may be made "
            f"up to {_mm(round(last.size_mm + last.above_mm, 3))} ({_GRADES[last.series]})."
        )
    below = [h for h in holes if h.size_mm < value_mm][-1:]
    above = [h for h in holes if h.size_mm > value_mm][:1]
    near = " and ".join(f"{h.words}, {_mm(h.size_mm)}" for h in (*below, *above))
    return f"no standard size is inside; the nearest are {near}."


def _metric() -> Iterator[StandardHole]:
    for thread, *sizes, _ in TABLES["iso-273"].rows:
        for k, size in enumerate(sizes):
            mm = float(str(size))
            words = f"ISO 273 {_SERIES[k]} for {thread}"
            yield StandardHole(mm, words, str(thread), _SERIES[k], _grade_mm(mm, k))


def _inch() -> Iterator[StandardHole]:
    for screw, size, _ in TABLES["asme-b18-2-8"].rows:
        words = f"ASME B18.2.8 normal for {screw}{'' if str(screw).startswith('No') else ' in'}"
        yield StandardHole(_inch_mm(size), words, f"{screw} in", "normal")


def _tapping() -> Iterator[StandardHole]:
    for thread, drill, _ in TABLES["tap-drills"].rows:
        yield StandardHole(float(str(drill)), f"tap drill for {thread}", f"tap {thread}", "drill")


def _inch_mm(size: Cell) -> float:
    return parse_length_mm(size if isinstance(size, str) else f"{size} in")


def _grade_mm(size_mm: float, k: int) -> float:
    return next(grades[k] for up_to, grades in _IT_MM if size_mm <= up_to)


def _mm(size_mm: float) -> str:
    return f"{size_mm:.4g} mm"
