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

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from photomeasure.exporters import words
from photomeasure.exporters.canvas import Canvas, Colour, text_width
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
from photomeasure.records.report import Decision, Measurement, Picture, Report

FRAME_PX = (1920, 1080)
MARGIN_PX = (96, 54)
CALLOUT_PX = 40
TITLE_PX = 62
_SMALL_PX = 40
_LEAST_PANEL_PX = 660
_MOST_CALLOUTS = 3
_LINE = 1.22  # of the letters' size

_GROUND = (21, 23, 26)
_PAPER = (255, 248, 236)
_ACCENT = (255, 122, 61)
_QUIET = (190, 184, 172)
_STYLES: dict[str, tuple[Colour, int]] = {
    "feature": (_PAPER, 3),
    "dimension": (_ACCENT, 5),
    "construction": (_ACCENT, 3),
    "grid": ((120, 140, 156), 1),
    "grid-fifty": ((60, 88, 110), 2),
}
"""How each role is drawn; other edges that fit too are left to the page."""


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
    shown = Image.fromarray(fitted.pixels).crop((left, top, right, bottom))
    frame.paste(shown, (0, above))
    canvas = Canvas(frame)
    _draw_on(canvas, fitted, drawn, np.array([-left, above - top], float))
    _mask(canvas, right - left, above)
    _panel(canvas, right - left + 48, report, picture, measurements)
    return np.asarray(canvas.finished())


def fitted_picture(report: Report, picture: Picture) -> Picture:
    """The picture at the size at which its crop fits on a still."""
    left, top, right, bottom = crop_box(report, picture)
    room = FRAME_PX[0] - _LEAST_PANEL_PX
    factor = min(room / (right - left), FRAME_PX[1] / (bottom - top))
    height, width = picture.pixels.shape[:2]
    size = (int(width * factor), int(height * factor))
    pixels = np.asarray(Image.fromarray(picture.pixels).resize(size, Image.Resampling.BICUBIC))
    return replace(picture, pixels=pixels, scale=picture.scale * size[0] / width)


def _draw_on(canvas: Canvas, picture: Picture, drawn: Overlay, shift: NDArray[np.float64]) -> None:
    """Grid, strokes, arrow heads, then tags. shift : from picture px to frame px."""
    if picture.plane is not None:
        for line in grid(picture)[0]:
            _stroke(canvas, line, shift)
    strokes = [s for s in drawn.strokes if s.role in _STYLES]
    for stroke in strokes:
        if stroke.role in ("feature", "dimension"):
            canvas.line(stroke.points_px + shift, _GROUND, _STYLES[stroke.role][1] + 4)
    for stroke in strokes:
        _stroke(canvas, stroke, shift)
        if stroke.arrows:
            for head in arrow_heads(stroke.points_px + shift, 26):
                canvas.polygon(head, _ACCENT, _GROUND)
    for tag in drawn.tags:
        if tag.role == "value":
            _tag(canvas, tag, shift)


def _stroke(canvas: Canvas, stroke: Stroke, shift: NDArray[np.float64]) -> None:
    colour, width = _STYLES[stroke.role]
    chain = stroke.points_px + shift
    if stroke.role != "construction":
        canvas.line(chain, colour, width)
        return
    for k in range(0, len(chain) - 1, 2):
        canvas.line(chain[k : k + 2], colour, width)


def _mask(canvas: Canvas, right: int, above: int) -> None:
    """Cover what was drawn past the picture's borders."""
    width, height = FRAME_PX
    canvas.box((right, 0, width, height), _GROUND)
    if above > 0:
        canvas.box((0, 0, width, above), _GROUND)
        canvas.box((0, height - above, width, height), _GROUND)


def _tag(canvas: Canvas, tag: Tag, shift: NDArray[np.float64]) -> None:
    corners = np.reshape(tag.box, (2, 2)) + shift
    anchor = np.array(tag.anchor_px) + shift
    (x0, y0), (x1, y1) = corners
    middle = float(y0 + y1) / 2
    canvas.line([_place(anchor), _place(np.clip(anchor, *corners))], _PAPER, 3)
    canvas.disc(_place(anchor), 6, _PAPER)
    canvas.box((x0, y0, x1, y1), _GROUND, _PAPER, 10)
    _badge(canvas, tag.badge, (x0 + CALLOUT_PX * 0.95, middle))
    canvas.text((x0 + CALLOUT_PX * 1.9, middle), tag.text, CALLOUT_PX, _PAPER, "lm")


def _place(point: NDArray[np.float64]) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _badge(canvas: Canvas, text: str, at: tuple[float, float]) -> None:
    canvas.disc(at, CALLOUT_PX * 0.66, _ACCENT)
    canvas.text(at, text, CALLOUT_PX, _GROUND, "mm")


def _panel(
    canvas: Canvas,
    x: int,
    report: Report,
    picture: Picture,
    measurements: Sequence[Measurement],
) -> None:
    y = _lines(canvas, report.job.title, (x, MARGIN_PX[1]), TITLE_PX, colour=_PAPER, most=4) + 12
    place = report.job.position or picture_title(picture)
    y = _lines(canvas, place, (x, y), _SMALL_PX, colour=_QUIET, most=3) + 30
    for measurement in measurements:
        number = str(numbers(report)[measurement.name])
        _badge(canvas, number, (x + CALLOUT_PX * 0.66, y + CALLOUT_PX * 0.62))
        y = _lines(canvas, measurement.name, (x + 70, y), CALLOUT_PX, colour=_PAPER, most=2)
        for outcome in _outcomes(measurement, report):
            y = _lines(canvas, outcome, (x + 70, y), _SMALL_PX, colour=_QUIET, most=3)
        y += 22
    _foot(canvas, (x, y), report)


def _foot(canvas: Canvas, at: tuple[float, float], report: Report) -> None:
    """What can hurt, always; above it what ± means, where there is room."""
    x, y = at
    foot = FRAME_PX[1] - MARGIN_PX[1]
    cautions = words.caution_words(report)
    if cautions:
        text = f"Can hurt: {cautions}. The local code and licensed practice decide."
        foot -= round(len(_rows(text, x, _SMALL_PX, 4)) * _SMALL_PX * _LINE)
        canvas.box((x - 12, foot - 8, *FRAME_PX), _GROUND)
        _lines(canvas, text, (x, foot), _SMALL_PX, colour=_PAPER, most=4)
    if y <= foot - _SMALL_PX * _LINE:
        above = (x, foot - _SMALL_PX * _LINE)
        canvas.text(above, "± spans a 95 % interval", _SMALL_PX, _QUIET)


def _outcomes(measurement: Measurement, report: Report) -> list[str]:
    """One line a rule that can fail; advice only where there is no such rule."""
    decisions = words.decisions_of(measurement.primary, report)
    judging = [d for d in decisions if d.rule.can_fail]
    return [_outcome(d) for d in judging or decisions] or ["not judged"]


def _outcome(decision: Decision) -> str:
    return f"{words.verdict_words(decision)} ({words.limit_words(decision.rule)})"


def _lines(
    canvas: Canvas,
    text: str,
    at: tuple[float, float],
    size: int,
    *,
    colour: Colour,
    most: int,
) -> float:
    """Write wrapped text, at most so many lines; the y where the next may begin."""
    rows = _rows(text, at[0], size, most)
    for k, row in enumerate(rows):
        canvas.text((at[0], at[1] + k * size * _LINE), row, size, colour)
    return at[1] + len(rows) * size * _LINE


def _rows(text: str, x: float, size: int, most: int) -> list[str]:
    """Text wrapped to the room right of x, at most so many lines."""
    room = FRAME_PX[0] - MARGIN_PX[0] - x
    fits = max(4, int(room / (text_width("abcdefghijklmno", size) / 15)))
    return textwrap.wrap(text, fits, max_lines=most, placeholder=" …") or [""]


def _slug(picture: Picture) -> str:
    name = f"photo-{picture.photo}"
    if picture.plane is not None:
        name = f"plane-{picture.plane}-from-{picture.photo}"
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _png(pixels: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", compress_level=1)
    return out.getvalue()
