"""How are profiles and words put on a PDF page in true millimetres?"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from math import ceil
from pathlib import Path

import numpy as np
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import getRegisteredFontNames, registerFont, stringWidth
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from photomeasure.parts.profiles import pieces_of
from photomeasure.records.part import Pair, Profile

FONT, BOLD = "DejaVuSans", "DejaVuSans-Bold"
THIN_MM, THICK_MM = 0.18, 0.35
CHECK_MM = 100.0
_END_MM = 0.4


def new_canvas(title: str) -> tuple[Canvas, BytesIO]:
    """A canvas whose pages print at actual size, and where its bytes go."""
    _know_fonts()
    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=1)
    canvas.setTitle(title)
    canvas.setAuthor("photomeasure")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas, buffer


def _know_fonts() -> None:
    """A font that has Ø, ± and the letters of names; it comes with matplotlib."""
    if FONT in getRegisteredFontNames():
        return
    import matplotlib  # noqa: PLC0415  slow to import, and only pages need its font

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name in (FONT, BOLD):
        registerFont(TTFont(name, str(folder / f"{name}.ttf")))


def begin_page(canvas: Canvas, width_mm: float, height_mm: float) -> None:
    """A page in millimetres, the origin at its lower left."""
    canvas.setPageSize((width_mm * mm, height_mm * mm))
    canvas.scale(mm, mm)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)


def draw_profile(canvas: Canvas, profile: Profile, fill: bool = False) -> None:
    """The curve, arcs as cubic curves within a millionth of their radius."""
    path = canvas.beginPath()
    path.moveTo(*profile.points_mm[0])
    for piece in pieces_of(profile):
        if piece.is_arc:
            _arc(path, piece.centre, piece.start, piece.angle_rad)
        else:
            path.lineTo(*(float(v) for v in piece.end))
    path.close()
    canvas.drawPath(path, stroke=1, fill=int(fill))


def _arc(path: PDFPathObject, centre: np.ndarray, start: np.ndarray, angle: float) -> None:
    count = max(1, ceil(abs(angle) / (np.pi / 4)))
    step = angle / count
    pull = 4 / 3 * np.tan(step / 4)
    arm = start - centre
    for _ in range(count):
        c, s = np.cos(step), np.sin(step)
        following = np.array([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])
        first = arm + pull * np.array([-arm[1], arm[0]])
        second = following - pull * np.array([-following[1], following[0]])
        path.curveTo(*(float(v) for p in (first, second, following) for v in centre + p))
        arm = following


def text(
    canvas: Canvas,
    at: Pair,
    words: str,
    size_mm: float = 2.5,
    bold: bool = False,
    align: str = "left",
) -> None:
    """One line; align is left, right or middle."""
    canvas.setFont(BOLD if bold else FONT, size_mm)
    draw = {
        "left": canvas.drawString,
        "right": canvas.drawRightString,
        "middle": canvas.drawCentredString,
    }[align]
    draw(at[0], at[1], words)


def wrapped(words: str, width_mm: float, size_mm: float, bold: bool = False) -> list[str]:
    """Words in lines no wider than this."""
    font = BOLD if bold else FONT
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and stringWidth(longer, font, size_mm) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def check_bar(canvas: Canvas, at: Pair, upright: bool) -> None:
    """A bar of 100 mm from outer edge to outer edge of its end strokes, with its words."""
    canvas.saveState()
    canvas.translate(*at)
    canvas.rotate(90 if upright else 0)
    canvas.setFillGray(0)
    canvas.rect(0, 0, CHECK_MM, 1.0, stroke=0, fill=1)
    canvas.setFillGray(1)
    for k in range(1, 10, 2):
        canvas.rect(10 * k, 0.25, 10 - _END_MM * (k == 9), 0.5, stroke=0, fill=1)
    canvas.setFillGray(0)
    text(canvas, (0, 1.8), "100 mm: check with a caliper; print at actual size (100 %)", 2.2)
    canvas.restoreState()


def arrow(canvas: Canvas, tip: Pair, tail: Pair, head_mm: float = 2.5) -> None:
    """A line with a filled head at its tip."""
    way = np.subtract(tip, tail)
    unit = way / max(float(np.hypot(*way)), 1e-9)
    side = head_mm * 0.18 * np.array([-unit[1], unit[0]])
    neck = np.array(tip) - head_mm * unit
    canvas.line(*tail, *(float(v) for v in neck))
    polygon(canvas, [tip, neck + side, neck - side])


def polygon(canvas: Canvas, points: Sequence[Pair | np.ndarray]) -> None:
    """A filled polygon."""
    path = canvas.beginPath()
    path.moveTo(float(points[0][0]), float(points[0][1]))
    for x, y in points[1:]:
        path.lineTo(float(x), float(y))
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
