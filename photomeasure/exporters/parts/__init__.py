"""Which formats can a part be turned into? One file each, one line in PART_EXPORTERS.

An exporter turns a Part into bytes and never touches the disk. Heavy imports wait until an
exporter is used. The file's name says "mm" where the format itself carries no unit.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

from photomeasure.records.part import Part
from photomeasure.registry import Registry


@dataclass(frozen=True)
class PartExporter:
    """One format of a part. ending : of its file, after the part's name.

    module : where its `render(part)` lives. by_default : made whenever a part is; the
    others when asked for by name.
    """

    name: str
    ending: str
    summary: str
    module: str
    by_default: bool = True

    def load(self) -> None:
        """Import what rendering needs, as can be done beside other work."""
        import_module(self.module)

    def render(self, part: Part) -> bytes:
        """The part as bytes. Raises ExportError where the format cannot hold it."""
        function: Callable[[Part], bytes] = import_module(self.module).render
        return function(part)

    def filename(self, part: Part) -> str:
        """The file for this part: letters without accents, digits and dashes only."""
        plain = unicodedata.normalize("NFKD", part.name).encode("ascii", "ignore").decode()
        return (re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-") or "part") + self.ending


_HERE = "photomeasure.exporters.parts"

PART_EXPORTERS: Registry[PartExporter] = Registry(
    "part format",
    (
        PartExporter("dxf", ".dxf", "for cutting: lines, true arcs and circles", f"{_HERE}.dxf"),
        PartExporter(
            "dxf-r12",
            "-mm-R12.dxf",
            "the same for older machines; it carries no unit, so its name says mm",
            f"{_HERE}.dxf_r12",
            by_default=False,
        ),
        PartExporter("svg", ".svg", "for cutters that read SVG, in mm", f"{_HERE}.svg"),
        PartExporter(
            "template", "-template.pdf", "to print 1:1 and lay on the part", f"{_HERE}.template"
        ),
        PartExporter(
            "drawing", "-drawing.pdf", "dimensions, hole table, title block", f"{_HERE}.drawing"
        ),
        PartExporter("step", ".step", "a solid of planes and true cylinders", f"{_HERE}.step"),
        PartExporter("stl", "-mm.stl", "a mesh for printing, in mm", f"{_HERE}.stl", False),
        PartExporter("3mf", ".3mf", "a mesh for printing that knows its unit", f"{_HERE}.threemf"),
        PartExporter("holes", "-holes.csv", "the hole table for a spreadsheet", f"{_HERE}.holes"),
    ),
)

__all__ = ["PART_EXPORTERS", "PartExporter"]
