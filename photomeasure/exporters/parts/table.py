"""How is a ruled table drawn on a page?"""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from photomeasure.exporters.parts.page import FONT, THIN_MM, text
from photomeasure.records.part import Pair

ROW_MM = 4.6
_SIZE_MM = 2.3


def table_height(rows: Sequence[Sequence[str]]) -> float:
    """With its head."""
    return ROW_MM * (len(rows) + 1)


def draw_table(
    canvas: Canvas,
    top_left: Pair,
    widths: Sequence[float],
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
) -> None:
    """Rows downwards from a corner; what does not fit its column is cut short with an ellipsis."""
    canvas.setLineWidth(THIN_MM)
    left, top = top_left
    for k, row in enumerate([head, *rows]):
        y = top - (k + 1) * ROW_MM
        x = left
        for width, cell in zip(widths, row, strict=True):
            canvas.rect(x, y, width, ROW_MM)
            text(canvas, (x + 1.0, y + 1.4), cut_short(cell, width - 2.0), _SIZE_MM, bold=k == 0)
            x += width


def cut_short(words: str, width: float) -> str:
    """Words that fit a width, else their beginning and an ellipsis."""
    if _fits(words, width):
        return words
    while words and not _fits(f"{words}…", width):
        words = words[:-1]
    return f"{words}…"


def _fits(words: str, width: float) -> bool:
    return bool(stringWidth(words, FONT, _SIZE_MM) <= width)
