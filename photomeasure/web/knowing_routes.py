"""Which addresses tell what the program knows, whatever the job? Choices, sheets, doors."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.responses import Response

from photomeasure.errors import JobError
from photomeasure.web import answers
from photomeasure.web.choices import choices
from photomeasure.web.downloads import download, sheet_download, sheet_picture
from photomeasure.web.lan import qr_svg

Doors = Callable[[], str]
"""Makes a link that lets one phone in."""

Word = Annotated[str, Query(min_length=1, max_length=80)]
_Responses = dict[int | str, dict[str, Any]]
_PDF: _Responses = {200: {"content": {"application/pdf": {}}, "description": "The sheet."}}
_SVG: _Responses = {200: {"content": {"image/svg+xml": {}}, "description": "The picture."}}


def knowing_routes(sample: bool, doors: Doors | None) -> APIRouter:
    """All of them. doors : None where only this computer is served."""
    router = APIRouter()

    @router.get("/choices")
    def offered() -> answers.Choices:
        """Kinds, rules, sheets and formats that there are."""
        return choices(sample=sample, lan=doors is not None)

    @router.get("/sheet", responses=_PDF, response_class=Response)
    def sheet(design: Word, copy: Word = "A") -> Response:
        """A sheet to print at true size."""
        return download(sheet_download(design, copy), look=False)

    @router.get("/sheet_picture", responses=_SVG, response_class=Response)
    def picture(design: Word) -> Response:
        """A small picture of a sheet."""
        made = sheet_picture(design)
        return Response(made.content, media_type=made.media_type)

    @router.post("/door")
    def door() -> answers.Door:
        """A link for one phone, good once."""
        if doors is None:
            raise JobError(
                "Only this computer is served. Start with: photomeasure open JOB --lan, then "
                "phones in the same network can come in."
            )
        link = doors()
        return answers.Door(link=link, qr=qr_svg(link))

    return router
