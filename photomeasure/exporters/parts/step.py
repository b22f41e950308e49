"""How does a part become a STEP solid of planes and true cylinders, without a CAD kernel?

ISO 10303-21 with the schema AP214, in millimetres: one manifold solid, each edge shared by
two faces, arcs as circles and their walls as cylinders.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.exporters.parts.solid import Floor, Ring, Solid, solid_of
from photomeasure.exporters.parts.words import facts, in_lines, told_cautions
from photomeasure.parts.profiles import Piece, pieces_of
from photomeasure.records.part import Part

Array = NDArray[np.float64]

_HEADER = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(({words}),'2;1');
FILE_NAME('{name}.step','{date}',(''),(''),'','photomeasure','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));
ENDSEC;
DATA;
"""
_SURE_MM = 1e-5
_LETTERS = 200  # a text of the header holds 256


class _Lines:
    """The numbered lines of the data section; equal lines are written once."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self._known: dict[str, str] = {}

    def add(self, text: str) -> str:
        if text not in self._known:
            self.lines.append(text)
            self._known[text] = f"#{len(self.lines)}"
        return self._known[text]

    def point(self, p: Sequence[float] | Array) -> str:
        return self.add(f"CARTESIAN_POINT('',({_numbers(p)}))")

    def direction(self, d: Sequence[float] | Array) -> str:
        return self.add(f"DIRECTION('',({_numbers(d)}))")

    def frame(self, at: Sequence[float], z: Sequence[float], x: Sequence[float]) -> str:
        parts = f"{self.point(at)},{self.direction(z)},{self.direction(x)}"
        return self.add(f"AXIS2_PLACEMENT_3D('',{parts})")

    def vertex(self, p: Sequence[float]) -> str:
        return self.add(f"VERTEX_POINT('',{self.point(p)})")


def render(part: Part) -> bytes:
    """The STEP file. Raises ExportError as `solid_of`."""
    lines = _Lines()
    solid = _solid(lines, solid_of(part), _text(part.name))
    _product(lines, _text(part.name), _text(" ".join(told_cautions(part))), solid)
    told = in_lines(facts(part), _LETTERS)
    header = _HEADER.format(
        words=",".join(f"'{_text(line.strip())}'" for line in told),
        name=_text(part.name),
        date=_time(part.title.date),
    )
    body = "".join(f"#{k}={line};\n" for k, line in enumerate(lines.lines, 1))
    return (header + body + "ENDSEC;\nEND-ISO-10303-21;\n").encode("ascii")


def _time(date: str) -> str:
    """A date of ISO 8601 as the header wants it, with a time; none where it is no such date."""
    plain = date if re.fullmatch(r"\d{4}-\d{2}-\d{2}", date) else "1970-01-01"
    return f"{plain}T00:00:00"


def _numbers(values: Sequence[float] | Array) -> str:
    return ",".join(_number(float(v)) for v in values)


def _number(value: float) -> str:
    """STEP wants a decimal point in every real number."""
    fixed = f"{value:.12f}".rstrip("0")
    return "0." if fixed in ("-0.", "0.") else fixed


def _text(words: str) -> str:
    """Printable ASCII without quotes; other letters as STEP's \\X2\\ groups."""
    made = []
    for letter in words:
        if letter == "'":
            made.append("''")
        elif letter == "\\":
            made.append("\\\\")
        elif 32 <= ord(letter) < 127:
            made.append(letter)
        elif 127 < ord(letter) < 0x10000:
            made.append(f"\\X2\\{ord(letter):04X}\\X0\\")
    return "".join(made)


def _solid(lines: _Lines, solid: Solid, name: str) -> str:
    rims = [_rims(lines, ring) for ring in solid.rings]
    faces = [
        f for ring, rim in zip(solid.rings, rims, strict=True) for f in _walls(lines, ring, rim)
    ]
    faces += [_floor(lines, floor, rims) for floor in solid.floors]
    shell = lines.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    return lines.add(f"MANIFOLD_SOLID_BREP('{name}',{shell})")


def _rims(lines: _Lines, ring: Ring) -> tuple[list[str], list[str]]:
    """The edge curves of the lower and the upper rim, as the ring runs."""
    pieces = pieces_of(ring.profile)
    lower = [_edge(lines, piece, ring.bottom) for piece in pieces]
    return lower, [_edge(lines, piece, ring.top) for piece in pieces]


def _edge(lines: _Lines, piece: Piece, z: float) -> str:
    start, end = (lines.vertex([*p, z]) for p in (piece.start, piece.end))
    if piece.is_arc:
        frame = lines.frame([*piece.centre, z], [0, 0, 1], [1, 0, 0])
        curve = lines.add(f"CIRCLE('',{frame},{_number(piece.radius)})")
    else:
        curve = _line(lines, [*piece.start, z], [*(piece.end - piece.start), 0.0])
    sense = ".F." if piece.bulge < 0 else ".T."
    return lines.add(f"EDGE_CURVE('',{start},{end},{curve},{sense})")


def _line(lines: _Lines, at: Sequence[float], way: Sequence[float]) -> str:
    unit = np.array(way) / np.linalg.norm(way)
    vector = lines.add(f"VECTOR('',{lines.direction(unit)},1.)")
    return lines.add(f"LINE('',{lines.point(at)},{vector})")


def _upright(lines: _Lines, ring: Ring, at: Array) -> str:
    start, end = lines.vertex([*at, ring.bottom]), lines.vertex([*at, ring.top])
    curve = _line(lines, [*at, ring.bottom], [0, 0, 1])
    return lines.add(f"EDGE_CURVE('',{start},{end},{curve},.T.)")


def _walls(lines: _Lines, ring: Ring, rims: tuple[list[str], list[str]]) -> list[str]:
    pieces = pieces_of(ring.profile)
    lower, upper = rims
    faces = []
    for k, piece in enumerate(pieces):
        loop = [
            _used(lines, lower[k], forwards=True),
            _used(lines, _upright(lines, ring, piece.end), forwards=True),
            _used(lines, upper[k], forwards=False),
            _used(lines, _upright(lines, ring, piece.start), forwards=False),
        ]
        surface, same = _wall_surface(lines, ring, piece)
        faces.append(_face(lines, [loop], surface, same))
    return faces


def _wall_surface(lines: _Lines, ring: Ring, piece: Piece) -> tuple[str, bool]:
    """The surface, and whether its own normal looks out of the material."""
    if piece.is_arc:
        frame = lines.frame([*piece.centre, ring.bottom], [0, 0, 1], [1, 0, 0])
        surface = lines.add(f"CYLINDRICAL_SURFACE('',{frame},{_number(piece.radius)})")
        return surface, piece.bulge > 0
    way = (piece.end - piece.start) / np.hypot(*(piece.end - piece.start))
    frame = lines.frame([*piece.start, ring.bottom], [way[1], -way[0], 0.0], [*way, 0.0])
    return lines.add(f"PLANE('',{frame})"), True


def _floor(lines: _Lines, floor: Floor, rims: Sequence[tuple[list[str], list[str]]]) -> str:
    loops = []
    for ring, at_top, back in floor.loops:
        edges = rims[ring][1 if at_top else 0]
        used = [_used(lines, e, forwards=not back) for e in (edges[::-1] if back else edges)]
        loops.append(used)
    z = [0, 0, 1 if floor.up else -1]
    surface = lines.add(f"PLANE('',{lines.frame([0, 0, floor.height], z, [1, 0, 0])})")
    return _face(lines, loops, surface, True)


def _used(lines: _Lines, edge: str, forwards: bool) -> str:
    return lines.add(f"ORIENTED_EDGE('',*,*,{edge},{'.T.' if forwards else '.F.'})")


def _face(lines: _Lines, loops: Sequence[Sequence[str]], surface: str, same: bool) -> str:
    bounds = []
    for k, loop in enumerate(loops):
        edges = lines.add(f"EDGE_LOOP('',({','.join(loop)}))")
        kind = "FACE_OUTER_BOUND" if k == 0 else "FACE_BOUND"
        bounds.append(lines.add(f"{kind}('',{edges},.T.)"))
    sense = ".T." if same else ".F."
    return lines.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},{sense})")


def _product(lines: _Lines, name: str, words: str, solid: str) -> None:
    """What the standard wants around a solid: product, units, context."""
    add = lines.add
    context = add("APPLICATION_CONTEXT('automotive design')")
    add(
        "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,"
        f"{context})"
    )
    product_context = add(f"PRODUCT_CONTEXT('',{context},'mechanical')")
    product = add(f"PRODUCT('{name}','{name}','{words}',({product_context}))")
    add(f"PRODUCT_RELATED_PRODUCT_CATEGORY('part','',({product}))")
    formation = add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    design = add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{context},'design')")
    definition = add(f"PRODUCT_DEFINITION('design','',{formation},{design})")
    shape = add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    mm = add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))")
    radian = add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid_angle = add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    sure = add(
        f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({_number(_SURE_MM)}),{mm},"
        "'distance_accuracy_value','')"
    )
    space = add(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)"
        f"GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({sure}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({mm},{radian},{solid_angle}))"
        "REPRESENTATION_CONTEXT('',''))"
    )
    frame = lines.frame([0, 0, 0], [0, 0, 1], [1, 0, 0])
    brep = add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({frame},{solid}),{space})")
    add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{brep})")
