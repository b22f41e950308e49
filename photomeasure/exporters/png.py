"""Stills for a video: each picture with at most three measurements, legible at 1080p.

Text stands inside the 5 % margin, callouts are 40 px and titles 62 px high on a frame of
1920 × 1080 px (common practice for legible captions); beside the picture they shrink where
there is much to tell. A number on a still always comes from the report.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from photomeasure.exporters.canvas import Canvas, Colour
from photomeasure.exporters.crop import crop_box
from photomeasure.exporters.overlay import (
    Overlay,
    Stroke,
    grid,
    on_picture,
    overlay,
)
from photomeasure.exporters.panel import (
    ACCENT,
    CALLOUT_PX,
    GROUND,
    LEAST_PANEL_PX,
    PAPER,
    Area,
    Entry,
    draw_badge,
    draw_panel,
    entries,
    share_out,
)
from photomeasure.exporters.svg import arrow_heads
from photomeasure.exporters.tags import Tag
from photomeasure.records.report import Picture, Report

FRAME_PX = (1920, 1080)
MARGIN_PX = (96, 54)
_LEAST_PICTURE_PX = 620  # so that a callout has room on a slim one

_STYLES: dict[str, tuple[Colour, int]] = {
    "feature": (PAPER, 3),
    "dimension": (ACCENT, 5),
    "construction": (ACCENT, 3),
    "grid": ((120, 140, 156), 1),
    "grid-fifty": ((60, 88, 110), 2),
}
"""How each role is drawn; other edges that fit too are left to the page."""


def render(report: Report) -> dict[str, bytes]:
    """File name → PNG, in the order of the pictures; three measurements a still at most.

    What has no room on one still goes on to the next.
    """
    stills: dict[str, bytes] = {}
    for picture in report.pictures:
        fitted = fitted_picture(report, picture)
        listed = entries(report, on_picture(report, picture, report.measurements))
        for page in share_out(listed, report, picture, _panel_area(report, fitted)):
            name = f"still-{len(stills) + 1:02d}-{_slug(picture)}.png"
            stills[name] = _png(render_still(report, fitted, page))
    return stills


def render_still(report: Report, fitted: Picture, page: Sequence[Entry]) -> NDArray[np.uint8]:
    """(1080, 1920, 3) uint8: the picture on the left, titles and verdicts on the right.

    fitted : as `fitted_picture` makes it.
    """
    left, top, right, bottom = crop_box(report, fitted)
    above = (FRAME_PX[1] - (bottom - top)) // 2
    inset = max(0, MARGIN_PX[1] - above)
    wide = _shown_width(report, fitted)
    room = (left + MARGIN_PX[0], top + inset, left + wide - 8, bottom - inset)
    drawn = overlay(report, fitted, CALLOUT_PX, [e.measurement for e in page], room)
    frame = Image.new("RGB", FRAME_PX, GROUND)
    shown = Image.fromarray(fitted.pixels).crop((left, top, right, bottom))
    frame.paste(shown, (0, above))
    canvas = Canvas(frame)
    _draw_on(canvas, fitted, drawn, np.array([-left, above - top], float))
    _mask(canvas, wide, above)
    draw_panel(canvas, page, report, fitted, _panel_area(report, fitted))
    return np.asarray(canvas.finished())


def _shown_width(report: Report, fitted: Picture) -> int:
    """How much of the frame belongs to the picture and its callouts."""
    left, _, right, _ = crop_box(report, fitted)
    return max(right - left, _LEAST_PICTURE_PX)


def _panel_area(report: Report, fitted: Picture) -> Area:
    (width, height), (side, above) = FRAME_PX, MARGIN_PX
    return Area(_shown_width(report, fitted) + 48, above, width - side, height - above)


def fitted_picture(report: Report, picture: Picture) -> Picture:
    """The picture at the size at which its crop fits on a still."""
    left, top, right, bottom = crop_box(report, picture)
    room = FRAME_PX[0] - LEAST_PANEL_PX
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
            canvas.line(stroke.points_px + shift, GROUND, _STYLES[stroke.role][1] + 4)
    for stroke in strokes:
        _stroke(canvas, stroke, shift)
        if stroke.arrows:
            for head in arrow_heads(stroke.points_px + shift, 26):
                canvas.polygon(head, ACCENT, GROUND)
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
    canvas.box((right, 0, width, height), GROUND)
    if above > 0:
        canvas.box((0, 0, width, above), GROUND)
        canvas.box((0, height - above, width, height), GROUND)


def _tag(canvas: Canvas, tag: Tag, shift: NDArray[np.float64]) -> None:
    corners = np.reshape(tag.box, (2, 2)) + shift
    anchor = np.array(tag.anchor_px) + shift
    (x0, y0), (x1, y1) = corners
    middle = float(y0 + y1) / 2
    canvas.line([_place(anchor), _place(np.clip(anchor, *corners))], PAPER, 3)
    canvas.disc(_place(anchor), 6, PAPER)
    canvas.box((x0, y0, x1, y1), GROUND, PAPER, 10)
    draw_badge(canvas, tag.badge, (x0 + CALLOUT_PX * 0.95, middle), CALLOUT_PX)
    canvas.text((x0 + CALLOUT_PX * 1.9, middle), tag.text, CALLOUT_PX, PAPER, "lm")


def _place(point: NDArray[np.float64]) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _slug(picture: Picture) -> str:
    name = f"photo-{picture.photo}"
    if picture.plane is not None:
        name = f"plane-{picture.plane}-from-{picture.photo}"
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _png(pixels: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", compress_level=1)
    return out.getvalue()
