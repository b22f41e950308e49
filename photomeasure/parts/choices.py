"""What becomes of a part when a person's choices are taken, and which are refused?

A choice that the photo contradicts is refused unless it is confirmed; measured and chosen
sizes are both kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from photomeasure.errors import JobError
from photomeasure.parts.regular import StandardSizes, offers
from photomeasure.records.part import Part, RoundHole

_TIGHTEST_MM = 0.005


@dataclass(frozen=True)
class HoleChoice:
    """What a person says of one hole; None and "" leave it as measured."""

    name: str
    diameter_mm: float | None = None
    thread: str = ""
    fit: str = ""


def with_choices(
    part: Part,
    holes: Sequence[HoleChoice] = (),
    take: Sequence[str] = (),
    confirmed: Sequence[str] = (),
    sizes: StandardSizes = (),
) -> Part:
    """The part with offers taken by name, then holes as said.

    Raises JobError, listing every fault, for unknown names and for choices outside the
    95 % interval of what was measured that are not confirmed by name.
    """
    problems: list[str] = []
    for name in take:
        part = _taken(part, name, confirmed, sizes, problems)
    for choice in holes:
        part = _chosen(part, choice, confirmed, problems)
    if problems:
        raise JobError(problems)
    return part


def _taken(
    part: Part, name: str, confirmed: Sequence[str], sizes: StandardSizes, problems: list[str]
) -> Part:
    open_offers = {o.offer.name: o for o in offers(part, sizes)}
    if name not in open_offers:
        known = "; ".join(open_offers) or "none"
        problems.append(f"Nothing like {name!r} is on offer for this part. On offer: {known}.")
        return part
    offered = open_offers[name]
    offer = offered.offer
    if not offer.within and name not in confirmed:
        problems.append(
            f"{name!r} would move the part by {offer.off_mm:.3f} mm, but it is measured to "
            f"± {2 * offer.u_mm:.3f} mm: {offer.words}. Leave it, or confirm it by adding "
            f"{name!r} to `confirmed`."
        )
        return part
    note = f"{name}: {offer.words}; taken, moving it by up to {offer.off_mm:.3f} mm"
    return replace(offered.part, remarks=(*part.remarks, note))


def _chosen(part: Part, choice: HoleChoice, confirmed: Sequence[str], problems: list[str]) -> Part:
    hole = next((h for h in part.holes if h.name == choice.name), None)
    if hole is None:
        known = ", ".join(h.name for h in part.holes) or "none"
        problems.append(f"There is no round hole {choice.name!r}. Holes: {known}.")
        return part
    made = replace(hole, thread=choice.thread or hole.thread, fit=choice.fit or hole.fit)
    if choice.diameter_mm is not None:
        size = hole.diameter
        off = abs(choice.diameter_mm - size.measured)
        if off > max(size.expanded, _TIGHTEST_MM) and choice.name not in confirmed:
            problems.append(
                f"{choice.name} measures {size.measured:.3f} ± {size.expanded:.3f} mm, but "
                f"{choice.diameter_mm:g} mm was chosen. Correct it, or confirm it by adding "
                f"{choice.name!r} to `confirmed`."
            )
        why = choice.fit or choice.thread or "chosen"
        made = replace(made, diameter=replace(size, chosen=choice.diameter_mm, why=why))
    return replace(part, holes=_swapped(part.holes, made))


def _swapped(holes: Sequence[RoundHole], made: RoundHole) -> tuple[RoundHole, ...]:
    return tuple(made if h.name == made.name else h for h in holes)
