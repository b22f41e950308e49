"""How does a scale sheet or a page of cards become a page that prints at true size?

Vector only, in millimetres, nothing between the pixels: all shapes of one ink are filled
as one path, so that neighbouring cells of a marker show no hairline. The same sheets
always give the same bytes. Nothing is printed closer than the sheet's own quiet zone to
the chessboard, and no text closer than PRINTER_MARGIN_MM to the edge of the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from photomeasure.errors import ExportError
from photomeasure.records.sheet import CheckBar, Page, Rectangle, Sheet
from photomeasure.vision.sheets import COPIES, DESIGNS, PAGE_COPIES, PAGES, page, sheet
from photomeasure.vision.sheets.layout import BAR_GAP_MM as QUIET_ZONE_MM

PRINTER_MARGIN_MM = 5.0  # common practice, no source: most printers reach within 4.2 mm
PLAIN, BOLD = "Helvetica", "Helvetica-Bold"
TEXT_MM = 2.5
IDENTITY_MM = 3.5
LINE_MM = 0.12
ARROW_MM = (1.3, 0.45)  # length and half width of a dimension arrow
READING_MM = 24.0  # where the caliper reading is written
LIKE_EDGE = {"x": "left edge to left edge", "y": "lower edge to lower edge"}
USE_WINDOW = "Lay the part in the window, keep the whole ring in the photo."
USE_BOARD = "Take six to twelve photos from different angles."
USE_CARDS = "Read both bars, then cut and glue to stiff flat board."
ACTUAL_SIZE = "Print at actual size (100 %)"
CUT_DASH_MM = (1.6, 1.2)
CARD_TEXT_MM = 2.1


def render_sheet_pdf(*sheets: Sheet) -> bytes:
    """A PDF with one page a sheet, at true size, the same bytes every time.

    Raises ExportError when no sheet is given.
    """
    if not sheets:
        raise ExportError("No sheet was named; a PDF needs at least one. Name a sheet.")
    canvas, buffer = _document(s.identity for s in sheets)
    for one in sheets:
        _draw_sheet(canvas, one)
    canvas.save()
    return buffer.getvalue()


def render_page_pdf(*pages: Page) -> bytes:
    """A PDF of pages of cards, at true size, the same bytes every time.

    Raises ExportError when no page is given.
    """
    if not pages:
        raise ExportError("No page was named; a PDF needs at least one. Name a page of cards.")
    canvas, buffer = _document(p.identity for p in pages)
    for one in pages:
        _draw_cards(canvas, one)
    canvas.save()
    return buffer.getvalue()


def render_ready_made_pdfs() -> dict[str, bytes]:
    """Copy A of every design, as file name → bytes; these lie in calibration/."""
    sheets = [f"{design.name}-{COPIES[0]}" for design in DESIGNS]
    pages = [f"{design.name}-{PAGE_COPIES[0]}" for design in PAGES]
    return {
        **{f"{identity}.pdf": render_sheet_pdf(sheet(identity)) for identity in sheets},
        **{f"{identity}.pdf": render_page_pdf(page(identity)) for identity in pages},
    }


def _document(identities: Iterable[str]) -> tuple[Canvas, BytesIO]:
    buffer = BytesIO()
    # Uncompressed, so that the bytes do not depend on the machine's zlib.
    canvas = Canvas(buffer, invariant=1, pageCompression=0)
    canvas.setTitle(", ".join(identities))
    canvas.setAuthor("photomeasure")
    canvas.setSubject("Scale sheet for measuring from photos. Print at actual size (100 %).")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas, buffer


def _begin_page(canvas: Canvas, paper: Rectangle) -> None:
    """A page of this size, from here on in mm of its own frame."""
    x0, y0, x1, y1 = paper
    canvas.setPageSize(((x1 - x0) * mm, (y1 - y0) * mm))
    canvas.scale(mm, mm)
    canvas.translate(-x0, -y0)


def _draw_sheet(canvas: Canvas, one: Sheet) -> None:
    _begin_page(canvas, one.page)
    _draw_pattern(canvas, one)
    for bar in one.bars:
        _draw_bar(canvas, bar)
    _draw_header(canvas, one)
    canvas.showPage()


def _draw_cards(canvas: Canvas, one: Page) -> None:
    _begin_page(canvas, one.page)
    for card, (x, y) in one.cards:
        canvas.saveState()
        canvas.translate(x, y)
        _draw_pattern(canvas, card)
        _draw_cut(canvas, card)
        canvas.restoreState()
    for bar in one.bars:
        _draw_bar(canvas, bar)
    left = min(x + card.page[0] for card, (x, _) in one.cards)
    right = max(x + card.page[2] for card, (x, _) in one.cards)
    bottom = max(y + card.page[3] for card, (_, y) in one.cards) + QUIET_ZONE_MM
    box = (left, bottom, right, one.page[3] - PRINTER_MARGIN_MM)
    canvas.setFillGray(0)
    _draw_wide_header(canvas, one.identity, one.title, box, USE_CARDS)
    canvas.showPage()


def _draw_cut(canvas: Canvas, card: Sheet) -> None:
    """The line to cut along; inside it, below the pattern, identity and an arrow up."""
    x0, y0, x1, y1 = card.page
    canvas.setLineWidth(LINE_MM)
    canvas.setStrokeGray(0.55)
    canvas.setDash(*CUT_DASH_MM)
    canvas.rect(x0, y0, x1 - x0, y1 - y0)
    canvas.setDash()
    canvas.setFillGray(0)
    baseline = y0 + 0.8
    left, right = float(card.squares[:, 0].min()), float(card.squares[:, 2].max())
    _text(canvas, left, baseline, card.identity, BOLD, size=CARD_TEXT_MM)
    if right - left > 40:
        _draw_up(canvas, right - 10, baseline - 0.3, CARD_TEXT_MM)
    else:  # no room for words
        _draw_arrow(canvas, right - 1, baseline - 0.3, CARD_TEXT_MM)


def _draw_pattern(canvas: Canvas, one: Sheet) -> None:
    for ink in sorted({patch.ink for patch in one.patches}):
        _fill(canvas, (p.rectangle for p in one.patches if p.ink == ink), ink)
    _fill(canvas, (tuple(square) for square in one.squares), 1.0)
    for marker in one.markers:
        _fill(canvas, _black_runs(marker.corners_mm, marker.cells), 1.0)


def _fill(canvas: Canvas, rectangles: Iterable[Rectangle], ink: float) -> None:
    """Fill rectangles as one path: edges that they share leave no seam."""
    path = canvas.beginPath()
    for x0, y0, x1, y1 in rectangles:
        path.rect(float(x0), float(y0), float(x1 - x0), float(y1 - y0))
    canvas.setFillGray(1.0 - ink)
    canvas.drawPath(path, stroke=0, fill=1)


def _black_runs(corners_mm: NDArray[np.float64], cells: NDArray[np.bool_]) -> Iterator[Rectangle]:
    """The black cells of a marker, neighbours in a row merged. corners_mm : (4, 2)."""
    (left, top), (right, bottom) = corners_mm[0], corners_mm[2]
    xs = np.linspace(left, right, cells.shape[1] + 1)
    ys = np.linspace(top, bottom, cells.shape[0] + 1)
    for row, white in enumerate(cells):
        steps = np.diff(np.concatenate([[0], (~white).astype(int), [0]]))
        for begin, end in zip(*(np.flatnonzero(steps == s) for s in (1, -1)), strict=True):
            yield (xs[begin], ys[row + 1], xs[end], ys[row])


def _draw_bar(canvas: Canvas, bar: CheckBar) -> None:
    """Both blocks, and between them the dimension line with room for the reading."""
    _fill(canvas, bar.blocks, 1.0)
    along, across = bar.block_mm if bar.axis == "x" else bar.block_mm[::-1]
    x, y = bar.start_mm
    canvas.saveState()
    canvas.translate(*((x, y) if bar.axis == "x" else (x + across, y)))
    canvas.rotate(0 if bar.axis == "x" else 90)
    _draw_dimension(canvas, bar, along, across / 2)
    canvas.restoreState()


def _draw_dimension(canvas: Canvas, bar: CheckBar, along: float, middle: float) -> None:
    """The dimension line along +x from 0 to the bar's length, broken by its text.

    Inside the first block it is white, so that it visibly starts at that block's edge.
    """
    words = f"{bar.length_mm:g} mm – measure {LIKE_EDGE[bar.axis]} with a caliper:"
    text = _width(words, PLAIN, TEXT_MM)
    total = text + READING_MM + _width(" mm", PLAIN, TEXT_MM) + 1.5
    begin = (bar.length_mm + along - total) / 2
    canvas.setLineWidth(LINE_MM)
    _arrow(canvas, (0.15, middle), (along, middle), ink=0.0)
    _arrow(canvas, (bar.length_mm, middle), (begin + total + 2, middle), ink=1.0)
    canvas.line(along, middle, begin - 2, middle)
    baseline = middle - 0.36 * TEXT_MM
    _text(canvas, begin, baseline, words)
    blank, under = begin + text + 1.5, baseline - 0.5
    canvas.line(blank, under, blank + READING_MM, under)
    _text(canvas, begin + total, baseline, "mm", align="right")


def _arrow(
    canvas: Canvas, tip: tuple[float, float], tail: tuple[float, float], ink: float
) -> None:
    """A horizontal line with an arrow head at its tip."""
    (x, y), (length, half) = tip, ARROW_MM
    back = x + length if tail[0] > x else x - length
    canvas.setFillGray(1 - ink)
    canvas.setStrokeGray(1 - ink)
    canvas.line(back, y, *tail)
    _polygon(canvas, ((x, y), (back, y - half), (back, y + half)))


def _draw_header(canvas: Canvas, one: Sheet) -> None:
    """Above the chessboard: identity, which side is up, how to print and how to use."""
    left, right = float(one.squares[:, 0].min()), float(one.squares[:, 2].max())
    bottom = float(one.squares[:, 3].max()) + QUIET_ZONE_MM
    top = one.page[3] - PRINTER_MARGIN_MM
    use = USE_BOARD if one.window is None else USE_WINDOW
    canvas.setFillGray(0)
    if top - bottom < 7.0:
        _draw_narrow_header(canvas, one, (left, bottom, right, top), use)
    else:
        _draw_wide_header(canvas, one.identity, one.title, (left, bottom, right, top), use)


def _draw_wide_header(canvas: Canvas, identity: str, title: str, box: Rectangle, use: str) -> None:
    left, bottom, right, top = box
    upper = (bottom + top) / 2 + 0.8
    lower = upper - 3.8
    _text(canvas, left, upper, identity, BOLD, size=IDENTITY_MM)
    _text(canvas, left, lower, title)
    _text(canvas, right, upper, ACTUAL_SIZE, BOLD, align="right")
    _text(canvas, right, lower, use, align="right")
    _draw_up(canvas, (left + right) / 2, lower - 0.5, 6.0)


def _draw_narrow_header(canvas: Canvas, one: Sheet, box: Rectangle, use: str) -> None:
    """The same on one line, where the paper leaves no room for two."""
    left, bottom, right, top = box
    baseline = (bottom + top) / 2 - 0.36 * TEXT_MM
    _text(canvas, left, baseline, one.identity, BOLD)
    beside = left + _width(one.identity, BOLD, TEXT_MM) + 4
    _text(canvas, beside, baseline, one.title)
    _text(canvas, right, baseline, use, align="right")
    beside = right - _width(use, PLAIN, TEXT_MM) - 4
    _text(canvas, beside, baseline, ACTUAL_SIZE, BOLD, align="right")
    _draw_up(canvas, (left + right) / 2, baseline - 0.4, 3.2)


def _draw_up(canvas: Canvas, x: float, y: float, height: float) -> None:
    """An arrow up with its words beside it; the pair is centred on x."""
    words, gap, half = "this side up", 1.5, height / 4
    begin = x - (2 * half + gap + _width(words, PLAIN, TEXT_MM)) / 2
    _draw_arrow(canvas, begin + half, y, height)
    _text(canvas, begin + 2 * half + gap, y + height / 2 - 0.36 * TEXT_MM, words)


def _draw_arrow(canvas: Canvas, middle: float, y: float, height: float) -> None:
    """An arrow up that stands on y, half as wide as high."""
    half, neck = height / 4, y + height / 2
    head = ((middle, y + height), (middle - half, neck), (middle + half, neck))
    _polygon(canvas, head)
    _fill(canvas, [(middle - half / 3, y, middle + half / 3, neck)], 1.0)


def _polygon(canvas: Canvas, points: tuple[tuple[float, float], ...]) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _width(words: str, font: str, size: float) -> float:
    return float(stringWidth(words, font, size))


def _text(
    canvas: Canvas,
    x: float,
    y: float,
    words: str,
    font: str = PLAIN,
    *,
    size: float = TEXT_MM,
    align: str = "left",
) -> None:
    canvas.setFont(font, size)
    draw = canvas.drawRightString if align == "right" else canvas.drawString
    draw(x, y, words)
