"""What is a person told of a part that was outlined, on the terminal?"""

from __future__ import annotations

from collections.abc import Sequence

from photomeasure.exporters.parts.words import (
    NOT_AN_APPROVAL,
    callout,
    how_measured,
    outline_words,
)
from photomeasure.parts.clearances import webs
from photomeasure.parts.profiles import box_mm
from photomeasure.records.part import Offer, Part, Remark


def render_summary(part: Part, offers: Sequence[Offer], shop: Sequence[Remark]) -> str:
    """What was found, what is on offer, what a shop would ask, what to beware of."""
    lines = [*_found(part), *_holes(part)]
    if offers:
        lines += ["On offer, nothing taken unless you say so (`take`):"]
        lines += [f"  {_offered(o)}" for o in offers]
    lines += ["Shop check: nothing to ask."] if not shop else ["A shop would ask:"]
    lines += [f"  {'! ' if r.grave else ''}{r.words}" for r in shop]
    lines += [f"Note: {w}" for w in part.remarks]
    if part.cautions:
        lines += [NOT_AN_APPROVAL, *part.cautions]
    return "\n".join(lines)


def _found(part: Part) -> list[str]:
    x0, y0, x1, y1 = box_mm(part.outline)
    lines = [
        f"{part.name}: {x1 - x0:.2f} x {y1 - y0:.2f} mm, {part.thickness_mm:g} mm thick, "
        f"{part.view_side}",
        f"outline: {outline_words(part)} within {part.tolerance_mm:g} mm; "
        f"edge known to ± {2 * part.u_boundary_mm:.2f} mm (95 %)",
    ]
    if part.openings:
        lines.append(f"{len(part.openings)} opening(s) of their own shape")
    lines += [
        f"least material: {w.width_mm:.2f} mm, {' to '.join(w.between)}" for w in webs(part)[:1]
    ]
    return lines


def _holes(part: Part) -> list[str]:
    rows = [
        f"  {h.name:4} x {h.centre_mm[0]:8.2f}  y {h.centre_mm[1]:8.2f}  {callout(h)}; "
        f"{how_measured(h)}"
        for h in part.holes
    ]
    rows += [
        f"  {s.name:4} x {s.centre_mm[0]:8.2f}  y {s.centre_mm[1]:8.2f}  slot "
        f"{s.width.value:.2f} x {s.length_mm + s.width.value:.2f}; {how_measured(s)}"
        for s in part.slots
    ]
    return ["holes, mm from the " + part.datum + ":", *rows] if rows else []


def _offered(offer: Offer) -> str:
    inside = "inside" if offer.within else "OUTSIDE"
    return (
        f'"{offer.name}": {offer.words}; off by {offer.off_mm:.3f} mm, {inside} the '
        f"± {2 * offer.u_mm:.3f} mm of the photo"
    )
