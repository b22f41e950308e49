"""What does the title block of a drawing say?

The data fields of ISO 7200:2004, from memory: legal owner, identification number, date of
issue, sheet, title, approval person, creator and document type are mandatory; revision and
material go with them here. Its width of 180 mm is the standard's.
"""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from photomeasure.exporters.parts.page import THICK_MM, THIN_MM, text
from photomeasure.exporters.parts.table import cut_short
from photomeasure.records.part import Part

BLOCK_MM = (175.0, 40.0)
_ROWS = 4


def draw_title_block(
    canvas: Canvas, part: Part, scale: str, sheet: str, right: float, bottom: float
) -> None:
    """Above the lower right corner of the frame."""
    title = part.title
    fields = [
        [("legal owner", title.owner, 60.0), ("title", title.title or part.name, 75.0),
         ("identification number", title.number, 40.0)],
        [("document type", title.document, 60.0), ("material", title.material, 45.0),
         ("thickness, mm", f"{part.thickness_mm:g}", 30.0),
         ("quantity", str(title.quantity), 40.0)],
        [("creator", title.creator, 60.0), ("finish", title.finish, 45.0),
         ("general tolerance", title.general_tolerance, 30.0), ("scale", scale, 40.0)],
        [("approval person", title.approver, 60.0), ("date of issue", title.date, 45.0),
         ("revision", title.revision, 30.0), ("sheet", sheet, 40.0)],
    ]  # fmt: skip
    left, height = right - BLOCK_MM[0], BLOCK_MM[1] / _ROWS
    for k, row in enumerate(fields):
        x, y = left, bottom + BLOCK_MM[1] - (k + 1) * height
        for name, words, width in row:
            canvas.setLineWidth(THIN_MM)
            canvas.rect(x, y, width, height)
            text(canvas, (x + 1.0, y + height - 2.8), name, 1.8)
            text(canvas, (x + 1.0, y + 2.4), cut_short(words, width - 2.0), 3.0)
            x += width
    canvas.setLineWidth(THICK_MM)
    canvas.rect(left, bottom, *BLOCK_MM)
