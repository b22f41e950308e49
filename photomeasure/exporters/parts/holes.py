"""How does the hole table of a part reach a spreadsheet?

Measured and chosen sizes stand side by side. Text that a spreadsheet would run is made plain.
"""

from __future__ import annotations

import csv
from io import StringIO

from photomeasure.exporters.parts.words import facts
from photomeasure.records.part import Part, Size

_HEAD = (
    "id", "kind", "x_mm", "y_mm", "u_xy_mm", "size_mm", "measured_mm", "U_mm", "chosen_mm",
    "length_mm", "angle_deg", "thread", "fit", "how",
)  # fmt: skip

_COLUMNS = (
    "x_mm, y_mm: the centre, from the lower left corner of the box round the outline as drawn",
    "u_xy_mm: standard uncertainty of x and of y each, against the middle of the part",
    "size_mm: diameter, or width of a slot, as drawn: chosen_mm if there is one, else measured_mm",
    "U_mm: of measured_mm, half of its 95 % interval",
    "length_mm: of a slot between the centres of its ends; angle_deg: anticlockwise from x",
)


def render(part: Part) -> bytes:
    """UTF-8 with one line per hole and slot, after lines that start with # and say what it is."""
    text = StringIO()
    writer = csv.writer(text)
    for line in (*facts(part), *_COLUMNS):
        writer.writerow([f"# {line}"])
    writer.writerow(_HEAD)
    for h in part.holes:
        at, size = _at(h.centre_mm, h.u_centre_mm), _size(h.diameter)
        writer.writerow([h.name, "hole", *at, *size, "", "", _plain(h.thread), _plain(h.fit),
                         h.diameter.how])  # fmt: skip
    for s in part.slots:
        at, size = _at(s.centre_mm, s.u_centre_mm), _size(s.width)
        turn = f"{s.angle_rad * 57.29577951308232:.3f}"
        writer.writerow([s.name, "slot", *at, *size, f"{s.length_mm:.3f}", turn, "", "",
                         s.width.how])  # fmt: skip
    return text.getvalue().encode("utf-8-sig")


def _at(centre: tuple[float, float], u: float) -> tuple[str, str, str]:
    return f"{centre[0]:.3f}", f"{centre[1]:.3f}", f"{u:.3f}"


def _size(size: Size) -> tuple[str, str, str, str]:
    chosen = "" if size.chosen is None else f"{size.chosen:.3f}"
    return f"{size.value:.3f}", f"{size.measured:.3f}", f"{size.expanded:.3f}", chosen


def _plain(text: str) -> str:
    """Text that begins like a formula is quoted, so that no spreadsheet runs it."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t")) else text
