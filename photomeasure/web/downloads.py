"""What does a person take away? Reports as the command line writes them, sheets to print."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePath

import numpy as np
from starlette.responses import Response

from photomeasure import files, pipeline
from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.sheet_pdf import render_page_pdf, render_sheet_pdf
from photomeasure.records.job import Job
from photomeasure.records.sheet import Page, Sheet
from photomeasure.vision.sheets import PAGES, page, sheet
from photomeasure.web.gate import REPORT_POLICY
from photomeasure.web.kept import Kept

_PAGES = {design.name for design in PAGES}
_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".pdf": "application/pdf",
    ".zip": "application/zip",
    ".svg": "image/svg+xml",
    ".dxf": "image/vnd.dxf",
    ".step": "model/step",
    ".stl": "model/stl",
    ".3mf": "model/3mf",
}


@dataclass(frozen=True)
class Download:
    """A file to save or to look at."""

    filename: str
    content: bytes

    @property
    def media_type(self) -> str:
        """By the file's suffix."""
        return _TYPES.get(PurePath(self.filename).suffix, "application/octet-stream")


class Reports:
    """The reports of one job folder, made by the same call as `photomeasure measure`."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._made: Kept[Download] = Kept(4)

    def of(self, job: Job, revision: str, format_name: str) -> Download:
        """The report in one format. Raises PhotomeasureError."""
        exporter = EXPORTERS[format_name]
        return self._made.get(
            (revision, format_name, self._stamps(job)), lambda: self._make(job, exporter.name)
        )

    def _make(self, job: Job, format_name: str) -> Download:
        exporter = EXPORTERS[format_name]
        cameras = files.read_cameras(self._path.parent, job)
        report = pipeline.measure(job, lambda e: files.load_photo(self._path, e), cameras)
        made = exporter.render(report)
        if isinstance(made, bytes):
            return Download(exporter.filename, made)
        return Download(f"{exporter.filename}.zip", zipped(made.items()))

    def _stamps(self, job: Job) -> tuple[int, ...]:
        paths = [self._path.parent / photo.file for photo in job.photos]
        return tuple(p.stat().st_mtime_ns for p in paths if p.exists())


def download(made: Download, look: bool) -> Response:
    """A file as an answer; a page that is looked at may do nothing but be read."""
    way = "inline" if look else "attachment"
    headers = {"content-disposition": f'{way}; filename="{made.filename}"'}
    if look:
        headers["content-security-policy"] = REPORT_POLICY
    return Response(made.content, media_type=made.media_type, headers=headers)


def sheet_download(design: str, copy: str) -> Download:
    """A sheet at true size. Raises JobError when there is none."""
    identity = f"{design}-{copy}"
    if design in _PAGES:
        return Download(f"{identity}.pdf", render_page_pdf(page(identity)))
    return Download(f"{identity}.pdf", render_sheet_pdf(sheet(identity)))


def sheet_picture(design: str) -> Download:
    """A small drawing of a design. Raises JobError when there is none."""
    identity = f"{design}-A"
    drawn = page(identity) if design in _PAGES else sheet(identity)
    return Download(f"{identity}.svg", _svg(drawn).encode())


def _svg(drawn: Sheet | Page) -> str:
    x0, y0, x1, y1 = drawn.page
    placed = drawn.cards if isinstance(drawn, Page) else ((drawn, (0.0, 0.0)),)
    squares = "".join(
        _rectangle(*square)
        for one, (x, y) in placed
        for square in (np.asarray(one.squares) + np.array([x, y, x, y])).tolist()
    )
    bars = "".join(_rectangle(*block) for bar in drawn.bars for block in bar.blocks)
    width, height = x1 - x0, y1 - y0
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0} {-y1} {width} {height}">'
        f'<path fill="#fff" d="{_rectangle(x0, y0, x1, y1)}"/>'
        f'<path fill="#111" d="{squares}{bars}"/></svg>'
    )


def _rectangle(x0: float, y0: float, x1: float, y1: float) -> str:
    return f"M{x0:g} {-y0:g}H{x1:g}V{-y1:g}H{x0:g}Z"


def zipped(named: Iterable[tuple[str, bytes]]) -> bytes:
    """Files by name, in one."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in named:
            archive.writestr(name, content)
    return out.getvalue()
