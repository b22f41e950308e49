"""How does a part become a DXF that a shop cuts as it is?

R2010, $INSUNITS millimetres. CUT holds closed polylines with true arcs and circles and
nothing else; ETCH and BEND what their names say; REF the words and the outlines of levels,
which are milled and not cut. Every file is audited before it leaves.
"""

from __future__ import annotations

from io import StringIO
from typing import Any

from ezdxf.document import Drawing

from photomeasure.errors import ExportError
from photomeasure.exporters.parts.words import facts, in_lines
from photomeasure.parts.profiles import box_mm, disc_of, stadium
from photomeasure.records.part import Part, Profile

MILLIMETRES = 4
LAYERS = {"CUT": 7, "ETCH": 5, "BEND": 3, "REF": 8}  # name: colour index
_TEXT_MM, _LETTERS = 3.0, 80
_DIAMETER = "%%c"  # as DXF writes Ø, whatever the font


def render(part: Part) -> bytes:
    """A DXF R2010."""
    return render_version(part, "R2010")


def render_version(part: Part, version: str) -> bytes:
    """A DXF of this version. Raises ExportError where the audit finds a fault."""
    document = Drawing.new(version)
    if version != "R12":  # which has no place for it
        document.units = MILLIMETRES
    for name, colour in LAYERS.items():
        document.layers.add(name, color=colour)
    _draw(document.modelspace(), part, old=version == "R12")
    return _audited(document, part)


def _draw(space: Any, part: Part, old: bool) -> None:
    slots = [stadium(s.centre_mm, s.length_mm, s.width.value, s.angle_rad) for s in part.slots]
    for profile in (part.outline, *slots, *part.openings):
        _closed(space, profile, "CUT", old)
    for hole in part.holes:
        radius = hole.diameter.value / 2
        space.add_circle(hole.centre_mm, radius, dxfattribs={"layer": "CUT"})
    for profile in part.etchings:
        _closed(space, profile, "ETCH", old)
    for bend in part.bends:
        space.add_line(bend.start_mm, bend.end_mm, dxfattribs={"layer": "BEND"})
    for level in part.levels:
        _closed(space, level.outline, "REF", old)
    _words(space, part)


def _closed(space: Any, profile: Profile, layer: str, old: bool) -> None:
    disc = disc_of(profile)
    if disc is not None:
        space.add_circle(*disc, dxfattribs={"layer": layer})
        return
    points = [(x, y, b) for (x, y), b in zip(profile.points_mm, profile.bulges, strict=True)]
    draw = space.add_polyline2d if old else space.add_lwpolyline
    draw(points, format="xyb", close=True, dxfattribs={"layer": layer})


def _words(space: Any, part: Part) -> None:
    """What a reader must know, below the part."""
    x0, y0, _, _ = box_mm(part.outline)
    for k, line in enumerate(in_lines(facts(part), _LETTERS)):
        at = (x0, y0 - (k + 2) * 1.7 * _TEXT_MM)
        attributes = {"layer": "REF", "height": _TEXT_MM, "insert": at}
        space.add_text(line.replace("Ø", _DIAMETER), dxfattribs=attributes)


def _audited(document: Drawing, part: Part) -> bytes:
    auditor = document.audit()
    if auditor.has_errors or auditor.has_fixes:
        first = (auditor.errors or auditor.fixes)[0].message
        raise ExportError(
            f"The DXF of {part.name} did not pass its audit: {first}. Ask for a coarser tolerance."
        )
    stream = StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding, errors="dxfreplace")
