"""How does a part reach a machine that reads only DXF R12?

The same drawing in the old format. It carries no unit, so the file's name and a text say mm.
"""

from __future__ import annotations

from photomeasure.exporters.parts.dxf import render_version
from photomeasure.records.part import Part


def render(part: Part) -> bytes:
    """A DXF R12."""
    return render_version(part, "R12")
