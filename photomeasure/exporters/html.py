"""The report as one page that needs nothing else: no network, no scripts, prints well.

Everything a person typed is escaped by the template engine; pictures lie inside the page
as JPEG with their drawings as inline SVG on top.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup, escape
from numpy.typing import NDArray
from PIL import Image

from photomeasure import __version__
from photomeasure.exporters import words
from photomeasure.exporters.crop import crop_box
from photomeasure.exporters.overlay import grid, letters, numbers, overlay, picture_title
from photomeasure.exporters.svg import (
    budget_bar,
    grid_svg,
    interval_ruler,
    overlay_svg,
    verdict_sign,
)
from photomeasure.exporters.titles import quantity_titles
from photomeasure.geometry.camera import camera_centre, image_from_plane, tilt_rad
from photomeasure.records.job import PrintEntry
from photomeasure.records.report import Decision, Picture, Quantity, Report
from photomeasure.records.view import View

_MOST_PX = 1600
_JPEG_QUALITY = 84
_TEXT_SHARE = 1 / 56  # of the longer side: about 19 px on a page 1100 px wide
_UNIT_FACTORS = {"mm": 1.0, "in": 25.4, "deg": 1.0}


@dataclass(frozen=True)
class _Figure:
    """One picture ready for the page: an SVG that holds the JPEG and its drawing."""

    title: str
    left: int
    top: int
    width: int
    height: int
    jpeg: str
    drawing: Markup
    legend: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class _ViewRow:
    """What a reader wants to know of one view: of a photo from one sheet or card.

    used : whether a feature is measured from it.
    """

    view: View
    tilt_deg: float
    camera_height_mm: float
    px_per_mm: float
    corners: str
    used: bool


@dataclass(frozen=True)
class _BudgetRow:
    """One source of a budget: its u, its share of the variance, a bar as long as that share."""

    source: str
    u: str
    share: str
    bar: Markup


def render(report: Report) -> bytes:
    """UTF-8 HTML of the whole report."""
    page = _template().render(
        report=report,
        words=words,
        titles=quantity_titles(report),
        version=__version__,
        stylesheet=Markup(_stylesheet()),
        figures=[_figure(report, picture) for picture in report.pictures],
        views=[_view_row(report, view) for view in report.solution.views],
        prints=_prints(report),
        letters=letters(report),
        numbers=numbers(report),
        notes={entry.name: entry.note for entry in report.job.judged},
        sign=verdict_sign,
        budget=_budget,
        ruler=_ruler,
        with_code=_with_code,
        planes={plane.name: plane for plane in report.job.planes},
    )
    return page.encode("utf-8")


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("photomeasure.exporters", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _template() -> Template:
    return _environment().get_template("report.html.j2")


def _stylesheet() -> str:
    loader = _environment().loader
    assert loader is not None
    return loader.get_source(_environment(), "report.css")[0]


def _figure(report: Report, picture: Picture) -> _Figure:
    picture = _reduced(picture)
    left, top, right, bottom = crop_box(report, picture)
    text_px = max(right - left, bottom - top) * _TEXT_SHARE
    drawn = overlay(report, picture, text_px, room=(left + 2, top + 2, right - 2, bottom - 2))
    ground = Markup("")
    if picture.plane is not None:
        ground = grid_svg(*grid(picture), (left, top, right, bottom), text_px)
    shown = {tag.badge for tag in drawn.tags}
    legend = [
        (str(n), m.name, words.figure(m.primary, report.job.unit))
        for m, n in zip(report.measurements, numbers(report).values(), strict=True)
        if str(n) in shown
    ]
    return _Figure(
        title=picture_title(picture),
        left=left,
        top=top,
        width=right - left,
        height=bottom - top,
        jpeg=_jpeg(picture.pixels[top:bottom, left:right]),
        drawing=ground + overlay_svg(drawn, text_px),
        legend=tuple(legend),
    )


def _reduced(picture: Picture) -> Picture:
    longest = max(picture.pixels.shape[:2])
    if longest <= _MOST_PX:
        return picture
    image = Image.fromarray(picture.pixels)
    image.thumbnail((_MOST_PX, _MOST_PX))
    pixels = np.asarray(image)
    return replace(
        picture, pixels=pixels, scale=picture.scale * pixels.shape[1] / picture.pixels.shape[1]
    )


def _jpeg(pixels: NDArray[np.uint8]) -> str:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=_JPEG_QUALITY)
    return base64.b64encode(out.getvalue()).decode("ascii")


def _view_row(report: Report, view: View) -> _ViewRow:
    origin = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    points = image_from_plane(origin, view.parameters, 0.0)
    across = np.linalg.norm(points[1:] - points[0], axis=1)
    seen = [o for o in report.observations if (o.photo, o.sheet) == (view.photo, view.sheet)]
    return _ViewRow(
        view=view,
        tilt_deg=math.degrees(tilt_rad(view.parameters)),
        camera_height_mm=float(camera_centre(view.parameters)[2]),
        px_per_mm=float(np.mean(across)),
        corners=" + ".join(f"{len(o.saddles_px)} of {o.expected}" for o in seen),
        used=(view.photo, view.sheet) in report.targets,
    )


def _prints(report: Report) -> list[tuple[str, PrintEntry | None]]:
    """Every print in use with its bar readings, or None where nobody read them."""
    readings = {entry.sheet: entry for entry in report.job.prints}
    prints = dict.fromkeys(o.printed_on(readings) for o in report.observations)
    return [(name, readings.get(name)) for name in prints]


def _budget(quantity: Quantity, job_unit: str) -> list[_BudgetRow]:
    """The sources of a budget, largest first, that carry at least 0.05 % of the variance."""
    total = sum(u * u for u in quantity.budget.values())
    ordered = sorted(quantity.budget.items(), key=lambda item: -item[1])
    return [
        _BudgetRow(
            source,
            words.standard_uncertainty(u, quantity.unit, job_unit),
            f"{100 * u * u / total:.0f} %" if u * u >= 0.005 * total else "< 1 %",
            budget_bar(u * u / total),
        )
        for source, u in ordered
        if u * u >= 0.0005 * total > 0
    ]


def _with_code(text: str) -> Markup:
    """Text in which `words of the job file` stand between backticks, escaped."""
    pieces = text.split("`")
    if len(pieces) % 2 == 0:
        return escape(text)
    marked = [Markup("<code>{}</code>").format(p) if k % 2 else p for k, p in enumerate(pieces)]
    return Markup("").join(marked)


def _ruler(quantity: Quantity, decision: Decision) -> Markup:
    factor = _UNIT_FACTORS[decision.rule.unit] / _UNIT_FACTORS[quantity.unit]
    return interval_ruler(quantity, decision.rule, factor)
