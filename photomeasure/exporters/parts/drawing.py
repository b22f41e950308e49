"""How does a part become a dimensioned drawing that a shop can read and file?

One page: the part at a scale of ISO 5455, overall dimensions, names of holes and levels, radii,
bends, a hole table that says how each number was measured and how sure it is, a title block with
the fields of ISO 7200, the view side, an arrow up, cautions. What does not fit goes on further
pages.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from photomeasure.exporters.parts.labels import labels, level_labels
from photomeasure.exporters.parts.page import (
    THICK_MM,
    THIN_MM,
    arrow,
    begin_page,
    check_bar,
    draw_profile,
    new_canvas,
    polygon,
    text,
    wrapped,
)
from photomeasure.exporters.parts.table import draw_table, table_height
from photomeasure.exporters.parts.title_block import BLOCK_MM, draw_title_block
from photomeasure.exporters.parts.words import (
    callout,
    frame_facts,
    how_measured,
    outline_words,
    told_cautions,
    work_besides_holes,
)
from photomeasure.parts.clearances import webs
from photomeasure.parts.profiles import Piece, box_mm, circle, disc_of, pieces_of, stadium
from photomeasure.records.part import Pair, Part, Profile

Array = NDArray[np.float64]
Row = tuple[str, ...]
Line = tuple[float, str, bool]

A3_MM = (420.0, 297.0)
_MARGIN_MM = 10.0
_TABLE_MM = 175.0
_VIEW_MM = (A3_MM[0] - 2 * _MARGIN_MM - _TABLE_MM - 34.0, A3_MM[1] - 2 * _MARGIN_MM - 46.0)
_SCALES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)  # ISO 5455
_HOLE_HEAD = ("id", "X", "Y", "± U", "size", "as measured, ± U (95 %)")
_HOLE_WIDTHS = (12.0, 17.0, 17.0, 14.0, 47.0, 68.0)
_ROWS_A_PAGE = 30
_NOTE_MM, _LINE_MM = 2.4, 3.6
_TOP_MM, _LOWEST_MM = A3_MM[1] - _MARGIN_MM - 5.0, _MARGIN_MM + BLOCK_MM[1] + 3.0
_LEADER_MM = 7.0


def render(part: Part) -> bytes:
    """A PDF, A3 across."""
    canvas, buffer = new_canvas(f"{part.name}, drawing")
    pages, scale = _pages(_hole_rows(part), _note_lines(part)), _scale(part)
    for number, (rows, lines) in enumerate(pages, 1):
        begin_page(canvas, *A3_MM)
        canvas.setLineWidth(THICK_MM)
        canvas.rect(*([_MARGIN_MM] * 2), *(side - 2 * _MARGIN_MM for side in A3_MM))
        if number == 1:
            _draw_view(canvas, part, scale)
        _draw_right(canvas, rows, lines)
        sheet = f"{number} of {len(pages)}"
        draw_title_block(canvas, part, _ratio(scale), sheet, A3_MM[0] - _MARGIN_MM, _MARGIN_MM)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _pages(rows: list[Row], lines: list[Line]) -> list[tuple[list[Row], list[Line]]]:
    """Rows and lines of each page; the lines begin where the rows end."""
    pages: list[tuple[list[Row], list[Line]]] = []
    while rows or lines or not pages:
        chunk, rows = rows[:_ROWS_A_PAGE], rows[_ROWS_A_PAGE:]
        free = _TOP_MM - _LOWEST_MM - (table_height(chunk) if chunk else 0.0)
        room = 0 if rows else int(free / _LINE_MM)
        pages.append((chunk, lines[:room]))
        lines = lines[room:]
    return pages


def _scale(part: Part) -> float:
    x0, y0, x1, y1 = box_mm(part.outline)
    room = min(_VIEW_MM[0] / (x1 - x0), _VIEW_MM[1] / (y1 - y0))
    return next((s for s in _SCALES if s <= room), _SCALES[-1])


def _ratio(scale: float) -> str:
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


def _draw_view(canvas: Canvas, part: Part, scale: float) -> None:
    x0, y0, x1, y1 = box_mm(part.outline)
    middle = (_MARGIN_MM + 26.0 + _VIEW_MM[0] / 2, _MARGIN_MM + 32.0 + _VIEW_MM[1] / 2)
    left = middle[0] - scale * (x1 - x0) / 2
    bottom = middle[1] - scale * (y1 - y0) / 2
    canvas.saveState()
    canvas.translate(left - scale * x0, bottom - scale * y0)
    canvas.scale(scale, scale)
    _draw_shape(canvas, part, scale)
    canvas.restoreState()
    box = (left, bottom, left + scale * (x1 - x0), bottom + scale * (y1 - y0))
    _overall(canvas, box, (x1 - x0, y1 - y0), part)
    _names(canvas, part, scale, (left - scale * x0, bottom - scale * y0))
    _datum(canvas, (left - scale * x0, bottom - scale * y0))
    check_bar(canvas, (_MARGIN_MM + 6.0, _MARGIN_MM + 4.0), upright=False)
    text(canvas, (_MARGIN_MM + 6.0, _MARGIN_MM + 12.0), part.view_side, 3.0, bold=True)
    tip = _MARGIN_MM + 8.0, A3_MM[1] - _MARGIN_MM - 6.0
    arrow(canvas, tip, (tip[0], tip[1] - 12.0))
    text(canvas, (tip[0] + 2.5, tip[1] - 8.0), "up", 3.0)


def _draw_shape(canvas: Canvas, part: Part, scale: float) -> None:
    canvas.setLineWidth(THICK_MM / scale)
    slots = [stadium(s.centre_mm, s.length_mm, s.width.value, s.angle_rad) for s in part.slots]
    rounds = [circle(h.centre_mm, h.diameter.value / 2) for h in part.holes]
    for profile in (part.outline, *slots, *part.openings, *rounds):
        draw_profile(canvas, profile)
    canvas.setLineWidth(THIN_MM / scale)
    for level in part.levels:
        draw_profile(canvas, level.outline)
    for profile in part.etchings:
        draw_profile(canvas, profile)
    canvas.setDash(3 / scale, 1 / scale)
    for bend in part.bends:
        canvas.line(*bend.start_mm, *bend.end_mm)
    for h in part.holes:
        (x, y), reach = h.centre_mm, h.diameter.value / 2 + 2 / scale
        canvas.line(x - reach, y, x + reach, y)
        canvas.line(x, y - reach, x, y + reach)
    canvas.setDash()


def _overall(
    canvas: Canvas, box: tuple[float, float, float, float], size: Pair, part: Part
) -> None:
    """Overall width below and height at the left, the only dimensions of the outline."""
    x0, y0, x1, y1 = box
    canvas.setLineWidth(THIN_MM)
    below, beside = y0 - 9.0, x0 - 9.0
    for x in (x0, x1):
        canvas.line(x, y0 - 1.0, x, below - 1.5)
    for y in (y0, y1):
        canvas.line(x0 - 1.0, y, beside - 1.5, y)
    for tip, tail in ((x0, x1), (x1, x0)):
        arrow(canvas, (tip, below), (tail, below))
    for tip, tail in ((y0, y1), (y1, y0)):
        arrow(canvas, (beside, tip), (beside, tail))
    doubt = f" (seen to ± {2 * part.u_boundary_mm * 2**0.5:.2f})" if part.u_boundary_mm else ""
    text(canvas, ((x0 + x1) / 2, below + 1.0), f"{size[0]:.2f}{doubt}", 3.0, align="middle")
    canvas.saveState()
    canvas.translate(beside - 1.0, (y0 + y1) / 2)
    canvas.rotate(90)
    text(canvas, (0, 0), f"{size[1]:.2f}{doubt}", 3.0, align="middle")
    canvas.restoreState()


def _names(canvas: Canvas, part: Part, scale: float, origin: Pair) -> None:
    """Names beside what they name, radii at the ends of leaders."""

    def at(place: Pair | Array) -> Pair:
        return origin[0] + scale * float(place[0]), origin[1] + scale * float(place[1])

    for name, place in labels(part, 3.0, scale):
        text(canvas, at(place), name, 3.0)
    for words, top in level_labels(part):
        x, y = at(top)
        text(canvas, (x, y + 1.0), words, 2.5, align="middle")
    for bend in part.bends:
        way = f"{bend.angle_deg:g}° {'up' if bend.up else 'down'}, R{bend.inside_radius_mm:g}"
        _along(canvas, at(bend.start_mm), at(bend.end_mm), f"bend {way}")
    for words, tip, outwards in _radii(part.outline):
        x, y = at(tip)
        end = x + _LEADER_MM * float(outwards[0]), y + _LEADER_MM * float(outwards[1])
        arrow(canvas, (x, y), end, 2.0)
        right = outwards[0] >= 0
        beside = end[0] + (0.8 if right else -0.8), end[1] - 0.9
        text(canvas, beside, words, 2.5, align="left" if right else "right")


def _along(canvas: Canvas, start: Pair, end: Pair, words: str) -> None:
    """Words on the middle of a line, readable from below or from the right."""
    turn = float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])))
    turn = (turn + 90.0 - 1e-9) % 180.0 - 90.0 + 1e-9
    canvas.saveState()
    canvas.translate((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    canvas.rotate(turn)
    text(canvas, (0, 1.0), words, 2.5, align="middle")
    canvas.restoreState()


def _radii(outline: Profile) -> list[tuple[str, Array, Array]]:
    """Each radius of the outline once, with how many arcs have it; where its leader touches, and
    (2,) which way that leads off the part. The arc that lies farthest from the dimensions."""
    arcs = [piece for piece in pieces_of(outline) if piece.is_arc]
    if disc_of(outline) is not None:
        top = _middle(arcs[0])
        return [(f"Ø{2 * arcs[0].radius:.2f}", top, (top - arcs[0].centre) / arcs[0].radius)]
    found = []
    for radius in sorted({round(arc.radius, 1) for arc in arcs}):
        alike = [arc for arc in arcs if round(arc.radius, 1) == radius]
        many = f"{len(alike)}× " if len(alike) > 1 else ""
        mean = sum(arc.radius for arc in alike) / len(alike)
        arc = max(alike, key=lambda one: float(np.sum(_middle(one))))
        outwards = (_middle(arc) - arc.centre) / arc.radius * (1.0 if arc.bulge > 0 else -1.0)
        found.append((f"{many}R{mean:.2f}", _middle(arc), outwards))
    return found


def _middle(arc: Piece) -> Array:
    chain = arc.points(1e-3)
    return np.asarray(chain[len(chain) // 2])


def _datum(canvas: Canvas, at: Pair) -> None:
    """X and Y of the part frame at its origin."""
    canvas.setLineWidth(THIN_MM)
    arrow(canvas, (at[0] + 12.0, at[1]), at)
    arrow(canvas, (at[0], at[1] + 12.0), at)
    text(canvas, (at[0] + 12.5, at[1] - 3.0), "X", 2.5)
    text(canvas, (at[0] - 3.0, at[1] + 12.5), "Y", 2.5)
    polygon(
        canvas, [(at[0] - 1, at[1]), (at[0], at[1] + 1), (at[0] + 1, at[1]), (at[0], at[1] - 1)]
    )


def _hole_rows(part: Part) -> list[Row]:
    rows: list[Row] = []
    for h in part.holes:
        x, y = h.centre_mm
        rows.append(
            (
                h.name,
                f"{x:.2f}",
                f"{y:.2f}",
                f"{2 * h.u_centre_mm:.2f}",
                callout(h),
                how_measured(h),
            )
        )
    for s in part.slots:
        x, y = s.centre_mm
        size = f"slot {s.width.value:.2f} × {s.length_mm + s.width.value:.2f}"
        turn = f"{s.angle_rad * 57.29577951308232:.1f}°"
        rows.append(
            (s.name, f"{x:.2f}", f"{y:.2f}", f"{2 * s.u_centre_mm:.2f}", f"{size} at {turn}",
             how_measured(s))
        )  # fmt: skip
    return rows


def _note_lines(part: Part) -> list[Line]:
    """The notes as lines that fit, the cautions before all else: how far each is set in, its
    words, and whether they are bold."""
    told = [(words, True) for words in told_cautions(part)]
    told += [(words, False) for words in _notes(part)]
    lines: list[Line] = []
    for words, bold in told:
        parts = wrapped(words, _TABLE_MM - 8.0, _NOTE_MM, bold)
        lines += [(3.0 if k == 0 else 5.0, line, bold) for k, line in enumerate(parts)]
    return lines


def _notes(part: Part) -> list[str]:
    lines = [
        f"General tolerance {part.title.general_tolerance} (ISO 2768-1); all lengths in mm.",
        f"Outline: {outline_words(part)} within {part.tolerance_mm:g} mm of the edge that was "
        f"seen in a photo, its place known to ± {2 * part.u_boundary_mm:.2f} mm (95 %).",
        "± U of X and Y in the table: against the middle of the part, not its corner. No ± here "
        "is a tolerance.",
        *frame_facts(part)[2:],
    ]
    lines += [
        f"Least material: {w.width_mm:.2f} mm between {w.between[0]} and {w.between[1]}."
        for w in webs(part)[:1]
    ]
    return [*lines, *work_besides_holes(part), *part.remarks]


def _draw_right(canvas: Canvas, rows: Sequence[Row], lines: Sequence[Line]) -> None:
    """The hole table, and the notes between it and the title block."""
    left, top = A3_MM[0] - _MARGIN_MM - _TABLE_MM, A3_MM[1] - _MARGIN_MM
    if rows:
        draw_table(canvas, (left, top), _HOLE_WIDTHS, _HOLE_HEAD, rows)
        top -= table_height(rows)
    for k, (inset, words, bold) in enumerate(lines):
        text(canvas, (left + inset, top - 5.0 - k * _LINE_MM), words, _NOTE_MM, bold)
