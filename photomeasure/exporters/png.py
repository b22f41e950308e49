"""Stills for a video: each picture with at most three measurements, legible at 1080p.

Text stands inside the 5 % margin, callouts are 40 px and titles 62 px high on a frame of
1920 × 1080 px (common practice for legible captions). A number on a still always comes
from the report.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from photomeasure.errors import ExportError
from photomeasure.exporters import words
from photomeasure.exporters.crop import crop_box
from photomeasure.exporters.overlay import (
    Overlay,
    Stroke,
    grid,
    numbers,
    on_picture,
    overlay,
    picture_title,
)
from photomeasure.exporters.svg import arrow_heads
from photomeasure.exporters.tags import Tag
from photomeasure.records.report import Measurement, Picture, Report

FRAME_PX = (1920, 1080)
MARGIN_PX = (96, 54)
CALLOUT_PX = 40
TITLE_PX = 62
_SMALL_PX = 40
_LEAST_PANEL_PX = 560
_MOST_CALLOUTS = 3

_GROUND = (21, 23, 26)
_PAPER = (255, 248, 236)
_ACCENT = (255, 122, 61)
_QUIET = (190, 184, 172)
_STYLES: dict[str, tuple[tuple[int, int, int], int]] = {
    "feature": (_PAPER, 3),
    "dimension": (_ACCENT, 5),
    "construction": (_ACCENT, 3),
    "alternative": (_PAPER, 2),
    "grid": ((120, 140, 156), 1),
    "grid-fifty": ((60, 88, 110), 2),
}


def render(report: Report) -> dict[str, bytes]:
    """File name → PNG, in the order of the pictures; three measurements a still at most."""
    stills: dict[str, bytes] = {}
    for picture in report.pictures:
        measurements = on_picture(report, picture, report.measurements)
        for first in range(0, max(1, len(measurements)), _MOST_CALLOUTS):
            name = f"still-{len(stills) + 1:02d}-{_slug(picture)}.png"
            part = measurements[first : first + _MOST_CALLOUTS]
            stills[name] = _png(render_still(report, picture, part))
    return stills


def render_still(
    report: Report, picture: Picture, measurements: Sequence[Measurement]
) -> NDArray[np.uint8]:
    """(1080, 1920, 3) uint8: the picture on the left, titles and verdicts on the right."""
    fitted = fitted_picture(report, picture)
    left, top, right, bottom = crop_box(report, fitted)
    above = (FRAME_PX[1] - (bottom - top)) // 2
    inset = max(0, MARGIN_PX[1] - above)
    room = (left + MARGIN_PX[0], top + inset, right - 8, bottom - inset)
    drawn = overlay(report, fitted, CALLOUT_PX, measurements, room)
    frame = Image.new("RGB", FRAME_PX, _GROUND)
    frame.paste(_annotated(fitted, drawn).crop((left, top, right, bottom)), (0, above))
    _panel(ImageDraw.Draw(frame), right - left + 48, report, picture, measurements)
    return np.asarray(frame)


def fitted_picture(report: Report, picture: Picture) -> Picture:
    """The picture at the size at which its crop fits on a still."""
    left, top, right, bottom = crop_box(report, picture)
    room = FRAME_PX[0] - _LEAST_PANEL_PX
    factor = min(room / (right - left), FRAME_PX[1] / (bottom - top))
    height, width = picture.pixels.shape[:2]
    size = (int(width * factor), int(height * factor))
    pixels = np.asarray(Image.fromarray(picture.pixels).resize(size, Image.Resampling.BICUBIC))
    return replace(picture, pixels=pixels, scale=picture.scale * size[0] / width)


def _annotated(picture: Picture, drawn: Overlay) -> Image.Image:
    image = Image.fromarray(picture.pixels)
    draw = ImageDraw.Draw(image)
    if picture.plane is not None:
        for line in grid(picture)[0]:
            _stroke(draw, line)
    for stroke in drawn.strokes:
        if stroke.role in ("feature", "dimension"):
            _line(draw, stroke, _GROUND, _STYLES[stroke.role][1] + 4)
    for stroke in drawn.strokes:
        _stroke(draw, stroke)
        if stroke.arrows:
            for head in arrow_heads(stroke.points_px, 26):
                draw.polygon(_pairs(head), fill=_ACCENT, outline=_GROUND)
    for tag in drawn.tags:
        if tag.role == "value":
            _tag(draw, tag)
    return image


def _stroke(draw: ImageDraw.ImageDraw, stroke: Stroke) -> None:
    colour, width = _STYLES[stroke.role]
    if stroke.role not in ("construction", "alternative"):
        _line(draw, stroke, colour, width)
        return
    for k in range(0, len(stroke.points_px) - 1, 2):
        draw.line(_pairs(stroke.points_px[k : k + 2]), fill=colour, width=width)


def _line(
    draw: ImageDraw.ImageDraw, stroke: Stroke, colour: tuple[int, int, int], width: int
) -> None:
    draw.line(_pairs(stroke.points_px), fill=colour, width=width, joint="curve")


def _pairs(points_px: NDArray[np.float64]) -> list[tuple[float, float]]:
    """Pillow counts from pixel centres, an overlay from the corner."""
    return [(float(x) - 0.5, float(y) - 0.5) for x, y in points_px]


def _tag(draw: ImageDraw.ImageDraw, tag: Tag) -> None:
    x0, y0, x1, y1 = tag.box
    middle = (y0 + y1) / 2
    near = min(max(tag.anchor_px[0], x0), x1), min(max(tag.anchor_px[1], y0), y1)
    draw.line([tag.anchor_px, near], fill=_PAPER, width=3)
    draw.rounded_rectangle(tag.box, 10, fill=_GROUND, outline=_PAPER, width=2)
    _badge(draw, tag.badge, (x0 + CALLOUT_PX * 0.95, middle))
    at = (x0 + CALLOUT_PX * 1.9, middle)
    draw.text(at, tag.text, fill=_PAPER, font=_font(CALLOUT_PX), anchor="lm")


def _badge(draw: ImageDraw.ImageDraw, text: str, at: tuple[float, float]) -> None:
    radius = CALLOUT_PX * 0.66
    draw.ellipse([at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius], fill=_ACCENT)
    draw.text(at, text, fill=_GROUND, font=_font(CALLOUT_PX), anchor="mm")


def _panel(
    draw: ImageDraw.ImageDraw,
    x: int,
    report: Report,
    picture: Picture,
    measurements: Sequence[Measurement],
) -> None:
    y = _lines(draw, report.job.title, (x, MARGIN_PX[1]), TITLE_PX, colour=_PAPER, most=3) + 12
    place = f"measured {report.job.position}" if report.job.position else picture_title(picture)
    y = _lines(draw, place, (x, y), _SMALL_PX, colour=_QUIET, most=2) + 30
    for measurement in measurements:
        number = str(numbers(report)[measurement.name])
        _badge(draw, number, (x + CALLOUT_PX * 0.66, y + CALLOUT_PX * 0.62))
        y = _lines(draw, measurement.name, (x + 70, y), CALLOUT_PX, colour=_PAPER, most=2)
        y = _lines(
            draw, _outcome(measurement, report), (x + 70, y), _SMALL_PX, colour=_QUIET, most=2
        )
        y += 22
    foot = FRAME_PX[1] - MARGIN_PX[1] - _SMALL_PX
    draw.text((x, foot), "± 95 % interval", fill=_QUIET, font=_font(_SMALL_PX))


def _outcome(measurement: Measurement, report: Report) -> str:
    decisions = words.decisions_of(measurement.primary, report)
    return "; ".join(words.verdict_words(d) for d in decisions) or "not judged"


def _lines(
    draw: ImageDraw.ImageDraw,
    text: str,
    at: tuple[float, float],
    size: int,
    *,
    colour: tuple[int, int, int],
    most: int,
) -> float:
    """Write wrapped text, at most so many lines; the y where the next may begin."""
    font = _font(size)
    room = FRAME_PX[0] - MARGIN_PX[0] - at[0]
    fits = max(4, int(room / (font.getlength("abcdefghijklmno") / 15)))
    rows = textwrap.wrap(text, fits, max_lines=most, placeholder=" …") or [""]
    for k, row in enumerate(rows):
        draw.text((at[0], at[1] + k * size * 1.22), row, fill=colour, font=font)
    return at[1] + len(rows) * size * 1.22


@cache
def _font(size: int) -> ImageFont.FreeTypeFont:
    """The sans serif that comes with the plotting library, found without importing it."""
    spec = find_spec("matplotlib")
    folder = Path(spec.origin).parent if spec and spec.origin else Path()
    path = folder / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    try:
        return ImageFont.truetype(str(path), size)
    except OSError as error:
        raise ExportError(
            f"The font {path.name} is not in the installed matplotlib. Install it again."
        ) from error


def _slug(picture: Picture) -> str:
    name = f"photo-{picture.photo}" if picture.plane is None else f"plane-{picture.plane}"
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _png(pixels: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", compress_level=1)
    return out.getvalue()
