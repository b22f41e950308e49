"""Which addresses belong to the parts of a job's folder? Their text, outlines and files."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Query
from starlette.responses import Response

from photomeasure.exporters.parts.words import (
    NOT_AN_APPROVAL,
    callout,
    how_measured,
    outline_words,
)
from photomeasure.parts.clearances import webs
from photomeasure.parts.profiles import box_mm
from photomeasure.records.part import Offer, Part, RoundHole, Slot
from photomeasure.web import answers, part_answers
from photomeasure.web.conflicts import unless_changed
from photomeasure.web.downloads import download
from photomeasure.web.job_store import JobStore
from photomeasure.web.locating import chain
from photomeasure.web.outlines import Found, Outlines
from photomeasure.web.part_store import ID, PartStore

PartId = Annotated[str, Query(pattern=f"^{ID}$", max_length=8)]
Name = Annotated[str, Query(min_length=1, max_length=20)]
_Responses = dict[int | str, dict[str, Any]]
_CONFLICT: _Responses = {
    409: {"model": part_answers.PartConflict, "description": "The part was changed elsewhere."}
}
_FILE: _Responses = {
    200: {"content": {"application/octet-stream": {}}, "description": "The file."}
}


def part_routes(jobs: JobStore, parts: PartStore, outlines: Outlines) -> APIRouter:
    """All addresses of parts."""
    router = APIRouter()
    _text_routes(router, parts)
    _outline_routes(router, jobs, parts, outlines)
    return router


def _text_routes(router: APIRouter, parts: PartStore) -> None:
    @router.get("/parts")
    def stored() -> list[part_answers.PartStored]:
        """All parts as they stand."""
        return [parts.stored(part) for part in parts.ids()]

    @router.put("/part", response_model=part_answers.PartStored, responses=_CONFLICT)
    def save(part: PartId, change: part_answers.PartChange) -> part_answers.PartStored | Response:
        """Write a whole part in place of the revision that was changed."""
        return _changed(parts, part, lambda: parts.save(part, change.table, change.revision))

    @router.post("/part_undo", response_model=part_answers.PartStored, responses=_CONFLICT)
    def undo(part: PartId, step: answers.Step) -> part_answers.PartStored | Response:
        """One change of a part back."""
        return _changed(parts, part, lambda: parts.step(part, step.revision, forward=False))

    @router.post("/part_redo", response_model=part_answers.PartStored, responses=_CONFLICT)
    def redo(part: PartId, step: answers.Step) -> part_answers.PartStored | Response:
        """One change of a part forward."""
        return _changed(parts, part, lambda: parts.step(part, step.revision, forward=True))

    @router.post("/part_remove", response_model=part_answers.PartStored, responses=_CONFLICT)
    def remove(part: PartId, step: answers.Step) -> part_answers.PartStored | Response:
        """Take a part's file away; one change back brings it again."""
        return _changed(parts, part, lambda: parts.remove(part, step.revision))


def _changed(
    parts: PartStore, part: str, change: Callable[[], part_answers.PartStored]
) -> part_answers.PartStored | Response:
    return unless_changed(
        change, lambda said: part_answers.PartConflict(problem=said, stored=parts.stored(part))
    )


def _outline_routes(
    router: APIRouter, jobs: JobStore, parts: PartStore, outlines: Outlines
) -> None:
    @router.get("/outline")
    def outline(part: PartId) -> part_answers.OutlineAnswer:
        """The outline of a part, as the command gives it. Takes some seconds; see doing."""
        entry = parts.table(part).record()
        return told_of(part, outlines.of(part, entry, jobs.standing().job))

    @router.post("/part_places")
    def places(part: PartId, at: part_answers.PhotoPlaces) -> part_answers.PartPlaces:
        """Where places in the photo lie in the frame of a part file. Nothing is saved."""
        entry = parts.table(part).record()
        points_px = np.array(at.points_px, float)
        points_mm = outlines.places(part, entry, jobs.standing().job, points_px)
        return part_answers.PartPlaces(points_mm=chain(points_mm))

    @router.get("/doing")
    def doing(part: PartId) -> part_answers.Doing:
        """What is being done for a part's outline at this moment."""
        return part_answers.Doing(words=outlines.doing(part))

    @router.get("/part_file", responses=_FILE, response_class=Response)
    def part_file(part: PartId, format: Name) -> Response:
        """A file of a part in one format; "all" for those that the command writes, zipped."""
        entry = parts.table(part).record()
        return download(outlines.file(part, entry, jobs.standing().job, format), look=False)


def told_of(part: str, found: Found) -> part_answers.OutlineAnswer:
    """An outline for the page."""
    outlined = found.outlined
    made = outlined.part
    return part_answers.OutlineAnswer(
        part=part,
        found=_found(made),
        seen=[chain(px) for px in found.seen],
        cut=[part_answers.Ring(name=name, chain_px=chain(px)) for name, px in found.cut],
        bends=[
            part_answers.Ring(name=f"bend {k}", chain_px=chain(px))
            for k, px in enumerate(found.bends, 1)
        ],
        frame_px=chain(found.frame),
        holes=[*map(_hole, made.holes), *map(_hole, made.slots)],
        openings=[f"opening {k}" for k, _ in enumerate(made.openings, 1)],
        offers=[_offer(one) for one in outlined.offers],
        shop=[part_answers.ShopRemark(words=r.words, grave=r.grave) for r in outlined.shop],
        remarks=list(made.remarks),
        cautions=[NOT_AN_APPROVAL, *made.cautions] if made.cautions else [],
    )


def _found(part: Part) -> list[str]:
    x0, y0, x1, y1 = box_mm(part.outline)
    lines = [
        f"{x1 - x0:.2f} x {y1 - y0:.2f} mm",
        f"{part.thickness_mm:g} mm thick, {part.view_side}",
        f"edge known to ± {2 * part.u_boundary_mm:.2f} mm (95 %)",
        f"{outline_words(part)} within {part.tolerance_mm:g} mm",
    ]
    for web in webs(part)[:1]:
        lines.append(f"least material: {web.width_mm:.2f} mm, {' to '.join(web.between)}")
    return lines


def _hole(one: RoundHole | Slot) -> part_answers.HoleAnswer:
    if isinstance(one, RoundHole):
        words, size = callout(one), one.diameter
    else:
        words = f"slot {one.width.value:.2f} x {one.length_mm + one.width.value:.2f}"
        size = one.width
    return part_answers.HoleAnswer(
        name=one.name,
        at_mm=one.centre_mm,
        callout=words,
        measured=how_measured(one),
        diameter_mm=size.measured if isinstance(one, RoundHole) else None,
        plus_minus_mm=size.expanded,
    )


def _offer(offer: Offer) -> part_answers.PartOffer:
    return part_answers.PartOffer(
        name=offer.name,
        words=offer.words,
        off_mm=offer.off_mm,
        plus_minus_mm=2 * offer.u_mm,
        within=offer.within,
    )
