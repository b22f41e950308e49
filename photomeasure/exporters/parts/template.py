"""How is a part printed 1:1 on plain paper, to be laid on the work?

Every page bears check bars in x and y. A part larger than a page is tiled: pages overlap by
10 mm and are joined at lettered crosses. Lines are drawn where the edge is, at the middle of
the stroke.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from reportlab.pdfgen.canvas import Canvas

from photomeasure.errors import ExportError
from photomeasure.exporters.parts.labels import labels, level_labels
from photomeasure.exporters.parts.page import (
    THIN_MM,
    begin_page,
    check_bar,
    draw_profile,
    new_canvas,
    text,
    wrapped,
)
from photomeasure.exporters.parts.words import frame_facts, to_make, told_cautions
from photomeasure.parts.profiles import box_mm, circle, stadium
from photomeasure.records.part import Pair, Part

A4_MM = (210.0, 297.0)
OVERLAP_MM = 10.0
_MARGIN_MM = 8.0
_BAR_MM = 7.0  # room for the bar at the left and for the one below
_WORDS_MM = 26.0  # room for the words below
_CROSS_MM = 3.0
_PUNCH_MM = 2.5
_MOST_PAGES = 60
_LINES = 8  # of words below
_MAP_MM = 40.0


@dataclass(frozen=True)
class _Tiling:
    """Pages side by side: paper, columns, rows, the frame of each (width, height) and where
    the first frame's lower left lies on the part."""

    paper: Pair
    columns: int
    rows: int
    frame: Pair
    origin: Pair

    @property
    def pages(self) -> int:
        return self.columns * self.rows

    def corner(self, column: int, row: int) -> Pair:
        """Lower left of a frame, on the part."""
        step = self.frame[0] - OVERLAP_MM, self.frame[1] - OVERLAP_MM
        return self.origin[0] + column * step[0], self.origin[1] + row * step[1]


def render(part: Part) -> bytes:
    """A PDF of A4 pages. Raises ExportError for a part that needs too many."""
    tiling = min((_tiling(part, turned) for turned in (False, True)), key=lambda t: t.pages)
    if tiling.pages > _MOST_PAGES:
        raise ExportError(
            f"{part.name} would need {tiling.pages} pages at true size; at most {_MOST_PAGES} "
            "are made. Leave the template out and use the DXF."
        )
    canvas, buffer = new_canvas(f"{part.name}, template 1:1")
    below, after = _told(part, tiling)
    for row in range(tiling.rows):
        for column in range(tiling.columns):
            _draw_page(canvas, part, tiling, (column, row), below)
    if after:
        _draw_rest(canvas, part, tiling, after)
    canvas.save()
    return buffer.getvalue()


def _told(part: Part, tiling: _Tiling) -> tuple[list[str], list[str]]:
    """The lines below every page, cautions early, and those that need a page of their own."""
    frame = frame_facts(part)
    joining = ["Cut along a dashed frame, lay crosses of one letter on each other."]
    told = joining * (tiling.pages > 1)
    told += ["; ".join(frame[1:3]), *told_cautions(part), "; ".join([*frame[3:], *to_make(part)])]
    lines = [line for fact in told for line in wrapped(fact, _width(tiling), 2.0)]
    if len(lines) <= _LINES:
        return lines, []
    return [*lines[: _LINES - 1], "… and more on the last page."], told


def _width(tiling: _Tiling) -> float:
    return tiling.paper[0] - 2 * _MARGIN_MM - (_MAP_MM if tiling.pages > 1 else 0.0)


def _draw_rest(canvas: Canvas, part: Part, tiling: _Tiling, told: Sequence[str]) -> None:
    """A page of words, all of them."""
    begin_page(canvas, *tiling.paper)
    left, top = 2 * _MARGIN_MM, tiling.paper[1] - 2 * _MARGIN_MM
    text(canvas, (left, top), f"{part.name}: what goes with the template", 3.5, bold=True)
    lines = [line for one in told for line in wrapped(one, tiling.paper[0] - 2 * left, 2.8)]
    for k, line in enumerate(lines):
        text(canvas, (left, top - 8.0 - 4.2 * k), line, 2.8)
    canvas.showPage()


def _tiling(part: Part, turned: bool) -> _Tiling:
    x0, y0, x1, y1 = box_mm(part.outline)
    paper = A4_MM[::-1] if turned else A4_MM
    frame = (
        paper[0] - 2 * _MARGIN_MM - _BAR_MM,
        paper[1] - 2 * _MARGIN_MM - _BAR_MM - _WORDS_MM,
    )
    pad = 2.0
    columns = _count(x1 - x0 + 2 * pad, frame[0])
    rows = _count(y1 - y0 + 2 * pad, frame[1])
    covered = [n * f - (n - 1) * OVERLAP_MM for n, f in zip((columns, rows), frame, strict=True)]
    origin = ((x0 + x1 - covered[0]) / 2, (y0 + y1 - covered[1]) / 2)
    return _Tiling(paper, columns, rows, frame, origin)


def _count(length: float, frame: float) -> int:
    return max(1, ceil((length - OVERLAP_MM) / (frame - OVERLAP_MM)))


def _draw_page(
    canvas: Canvas, part: Part, tiling: _Tiling, at: tuple[int, int], told: Sequence[str]
) -> None:
    column, row = at
    begin_page(canvas, *tiling.paper)
    left, bottom = _MARGIN_MM + _BAR_MM, _MARGIN_MM + _BAR_MM + _WORDS_MM
    check_bar(canvas, (left, _MARGIN_MM + _WORDS_MM), upright=False)
    check_bar(canvas, (_MARGIN_MM + 1.0, bottom), upright=True)
    _words(canvas, part, tiling, at, told)
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(left, bottom, *tiling.frame)
    canvas.clipPath(frame, stroke=0, fill=0)
    x, y = tiling.corner(column, row)
    canvas.translate(left - x, bottom - y)
    _draw_part(canvas, part)
    _marks(canvas, tiling, column, row)
    canvas.restoreState()
    canvas.setLineWidth(0.08)
    canvas.setDash(1, 1)
    canvas.rect(left, bottom, *tiling.frame)
    canvas.setDash()
    canvas.showPage()


def _draw_part(canvas: Canvas, part: Part) -> None:
    canvas.setLineWidth(THIN_MM)
    slots = [stadium(s.centre_mm, s.length_mm, s.width.value, s.angle_rad) for s in part.slots]
    rounds = [circle(h.centre_mm, h.diameter.value / 2) for h in part.holes]
    for profile in (part.outline, *slots, *part.openings, *rounds):
        draw_profile(canvas, profile)
    canvas.setDash(2, 1)  # whatever is not cut through
    for profile in (*(level.outline for level in part.levels), *part.etchings):
        draw_profile(canvas, profile)
    for bend in part.bends:
        canvas.line(*bend.start_mm, *bend.end_mm)
    canvas.setDash()
    for hole in part.holes:
        x, y = hole.centre_mm
        canvas.line(x - _PUNCH_MM, y, x + _PUNCH_MM, y)
        canvas.line(x, y - _PUNCH_MM, x, y + _PUNCH_MM)
    for name, place in labels(part, 2.2):
        text(canvas, place, name, 2.2)
    for words, (x, y) in level_labels(part):
        text(canvas, (x, y + 0.8), words, 2.2, align="middle")


def _marks(canvas: Canvas, tiling: _Tiling, column: int, row: int) -> None:
    """Crosses in the middle of every overlap; those with one letter lie on each other."""
    canvas.setLineWidth(THIN_MM)
    x, y = tiling.corner(column, row)
    width, height = tiling.frame
    half = OVERLAP_MM / 2
    places = []
    for share in (0.2, 0.8):
        if column > 0:
            places.append((("v", column, row, share), x + half, y + share * height))
        if column < tiling.columns - 1:
            places.append((("v", column + 1, row, share), x + width - half, y + share * height))
        if row > 0:
            places.append((("h", column, row, share), x + share * width, y + half))
        if row < tiling.rows - 1:
            places.append((("h", column, row + 1, share), x + share * width, y + height - half))
    for key, at_x, at_y in places:
        canvas.line(at_x - _CROSS_MM, at_y, at_x + _CROSS_MM, at_y)
        canvas.line(at_x, at_y - _CROSS_MM, at_x, at_y + _CROSS_MM)
        text(canvas, (at_x + 0.8, at_y + 0.8), _letter(key, tiling), 2.5, bold=True)


def _letter(key: tuple[str, int, int, float], tiling: _Tiling) -> str:
    """The same letters on both pages that share a cross."""
    kind, column, row, share = key
    number = 2 * (row * (tiling.columns + 1) + column) + (share > 0.5)
    number += 0 if kind == "v" else 2 * (tiling.columns + 1) * (tiling.rows + 1)
    first, second = divmod(int(number), 26)
    return (chr(64 + first) if first else "") + chr(65 + second)


def _words(
    canvas: Canvas, part: Part, tiling: _Tiling, at: tuple[int, int], told: Sequence[str]
) -> None:
    column, row = at
    left, top = _MARGIN_MM, _MARGIN_MM + _WORDS_MM - 4.0
    number = row * tiling.columns + column + 1
    head = f"{part.name}, 1:1, page {number} of {tiling.pages}"
    if tiling.pages > 1:
        head += f" (column {column + 1} of {tiling.columns}, row {row + 1} of {tiling.rows})"
    text(canvas, (left, top), head, 3.0, bold=True)
    for k, line in enumerate(told):
        text(canvas, (left, top - 3.2 - 2.6 * k), line, 2.0)
    if tiling.pages > 1:
        _map(canvas, tiling, column, row)


def _map(canvas: Canvas, tiling: _Tiling, column: int, row: int) -> None:
    """Which page of them this is."""
    size = min(5.0, 18.0 / tiling.rows, 34.0 / tiling.columns)
    x = tiling.paper[0] - _MARGIN_MM - size * tiling.columns
    canvas.setLineWidth(0.1)
    for c in range(tiling.columns):
        for r in range(tiling.rows):
            here = (c, r) == (column, row)
            canvas.setFillGray(0.3 if here else 1.0)
            canvas.rect(x + c * size, _MARGIN_MM + r * size, size, size, stroke=1, fill=1)
    canvas.setFillGray(0)
