"""How does a part become a dimensioned drawing that a shop can read and file?

One page: the part at a scale of ISO 5455, overall dimensions, hole names, a hole table that
says how each number was measured and how sure it is, a title block with the fields of ISO
7200, the view side, an arrow up, cautions. What does not fit goes on further pages.
"""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

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
from photomeasure.exporters.parts.words import NOT_AN_APPROVAL, callout, facts, how_measured
from photomeasure.parts.clearances import webs
from photomeasure.parts.profiles import box_mm, circle, pieces_of, stadium
from photomeasure.records.part import Pair, Part, Profile

A3_MM = (420.0, 297.0)
_MARGIN_MM = 10.0
_TABLE_MM = 175.0
_VIEW_MM = (A3_MM[0] - 2 * _MARGIN_MM - _TABLE_MM - 34.0, A3_MM[1] - 2 * _MARGIN_MM - 46.0)
_SCALES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)  # ISO 5455
_HOLE_HEAD = ("id", "X", "Y", "± U", "size", "as measured, ± U (95 %)")
_HOLE_WIDTHS = (12.0, 17.0, 17.0, 14.0, 47.0, 68.0)
_ROWS_A_PAGE = 30


def render(part: Part) -> bytes:
    """A PDF, A3 across."""
    canvas, buffer = new_canvas(f"{part.name}, drawing")
    rows, notes = _hole_rows(part), _notes(part)
    chunks = [rows[k : k + _ROWS_A_PAGE] for k in range(0, len(rows), _ROWS_A_PAGE)] or [[]]
    scale = _scale(part)
    for number, chunk in enumerate(chunks, 1):
        begin_page(canvas, *A3_MM)
        canvas.setLineWidth(THICK_MM)
        canvas.rect(*([_MARGIN_MM] * 2), *(side - 2 * _MARGIN_MM for side in A3_MM))
        if number == 1:
            _draw_view(canvas, part, scale)
        _draw_right(canvas, chunk, notes if number == len(chunks) else [])
        sheet = f"{number} of {len(chunks)}"
        draw_title_block(canvas, part, _ratio(scale), sheet, A3_MM[0] - _MARGIN_MM, _MARGIN_MM)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


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
    doubt = f" ± {2 * part.u_boundary_mm * 2**0.5:.2f} seen" if part.u_boundary_mm else ""
    text(canvas, ((x0 + x1) / 2, below + 1.0), f"{size[0]:.2f}{doubt}", 3.0, align="middle")
    canvas.saveState()
    canvas.translate(beside - 1.0, (y0 + y1) / 2)
    canvas.rotate(90)
    text(canvas, (0, 0), f"{size[1]:.2f}{doubt}", 3.0, align="middle")
    canvas.restoreState()


def _names(canvas: Canvas, part: Part, scale: float, origin: Pair) -> None:
    marks = [(h.name, h.centre_mm, h.diameter.value / 2) for h in part.holes]
    marks += [(s.name, s.centre_mm, s.width.value / 2) for s in part.slots]
    for name, (x, y), radius in marks:
        reach = 0.72 * scale * radius + 0.8
        at = origin[0] + scale * x + reach, origin[1] + scale * y + reach
        text(canvas, at, name, 3.0)
    for words, (x, y) in _radii(part.outline):
        text(canvas, (origin[0] + scale * x, origin[1] + scale * y), words, 2.5, align="middle")


def _radii(outline: Profile) -> list[tuple[str, Pair]]:
    """Each radius of the outline once, with how many arcs have it, outside its first arc."""
    arcs = [piece for piece in pieces_of(outline) if piece.is_arc]
    found = []
    for radius in sorted({round(arc.radius, 1) for arc in arcs}):
        alike = [arc for arc in arcs if round(arc.radius, 1) == radius]
        many = f"{len(alike)}× " if len(alike) > 1 else ""
        mean = sum(arc.radius for arc in alike) / len(alike)
        chain = alike[0].points(1e-3)
        middle = chain[len(chain) // 2]
        inward = (alike[0].centre - middle) / alike[0].radius
        side = 1.0 if alike[0].bulge > 0 else -1.0
        at = middle - side * inward * 5.0
        found.append((f"{many}R{mean:.2f}", (float(at[0]), float(at[1]))))
    return found


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


def _hole_rows(part: Part) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
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


def _notes(part: Part) -> list[str]:
    lines = [
        f"General tolerance {part.title.general_tolerance} (ISO 2768-1); all lengths in mm.",
        f"Outline: lines and tangent arcs within {part.tolerance_mm:g} mm of the edge that was "
        f"seen in a photo, its place known to ± {2 * part.u_boundary_mm:.2f} mm (95 %).",
        "± U of X and Y in the table: against the middle of the part, not its corner.",
        *facts(part)[2:4],
    ]
    thinnest = webs(part)[:1]
    lines += [
        f"Least material: {w.width_mm:.2f} mm between {w.between[0]} and {w.between[1]}."
        for w in thinnest
    ]
    lines += [f for f in facts(part)[4:] if f not in (*part.cautions, NOT_AN_APPROVAL)]
    lines += list(part.remarks)
    if part.cautions:
        lines += [NOT_AN_APPROVAL, *part.cautions]
    return lines


def _draw_right(canvas: Canvas, rows: Sequence[tuple[str, ...]], notes: Sequence[str]) -> None:
    """The hole table, and the notes between it and the title block."""
    left = A3_MM[0] - _MARGIN_MM - _TABLE_MM
    top = A3_MM[1] - _MARGIN_MM
    if rows:
        draw_table(canvas, (left, top), _HOLE_WIDTHS, _HOLE_HEAD, rows)
        top -= table_height(rows)
    lowest = _MARGIN_MM + BLOCK_MM[1] + 3.0
    y = top - 5.0
    for note in notes:
        for k, line in enumerate(wrapped(note, _TABLE_MM - 8.0, 2.4)):
            if y < lowest:
                return
            text(canvas, (left + (3.0 if k == 0 else 5.0), y), line, 2.4)
            y -= 3.4
        y -= 0.8
