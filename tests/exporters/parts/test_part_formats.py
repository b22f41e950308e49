"""Every file of a part, read back by somebody else's program, is the part."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace

import dxfgrabber
import ezdxf
import numpy as np
import pypdfium2
import pytest
import shapely
import step_kernel
from made_parts import cover, cover_volume_mm3, rectangle

from photomeasure.errors import ExportError
from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.exporters.parts.mesh import mesh_of
from photomeasure.exporters.parts.words import outline_words
from photomeasure.parts.profiles import area_mm2, circle, length_mm, polygon
from photomeasure.records.part import Bend, Level, Part, Profile, RoundHole, Size

FORMATS = PART_EXPORTERS.names


def rendered(name: str, part: Part | None = None) -> bytes:
    return PART_EXPORTERS[name].render(part or cover())


@pytest.fixture
def dxf_file(tmp_path):
    def write(name: str, part: Part | None = None):
        path = tmp_path / PART_EXPORTERS[name].filename(part or cover())
        path.write_bytes(rendered(name, part))
        return path

    return write


@pytest.mark.parametrize(("name", "version"), [("dxf", "AC1024"), ("dxf-r12", "AC1009")])
def test_a_dxf_passes_ezdxfs_audit_and_has_closed_polylines_and_circles(dxf_file, name, version):
    """Five circles, two closed polylines on CUT; no splines; R2010 states millimetres."""
    document = ezdxf.readfile(dxf_file(name))
    auditor = document.audit()
    assert (auditor.errors, auditor.fixes, document.dxfversion) == ([], [], version)
    assert document.units == (4 if name == "dxf" else 0)
    cut = [e for e in document.modelspace() if e.dxf.layer == "CUT"]
    kinds = [e.dxftype() for e in cut]
    assert kinds.count("CIRCLE") == 5
    assert len(kinds) == 7
    assert all(e.is_closed for e in cut if "POLYLINE" in e.dxftype())


def test_a_disc_is_cut_as_one_circle(dxf_file):
    """No shop wants two half circles: neither in DXF nor in SVG, nor in words."""
    disc = Part("Disc", circle((30.0, 30.0), 30.0), 3.0)
    (cut,) = (
        e for e in ezdxf.readfile(dxf_file("dxf", disc)).modelspace() if e.dxf.layer == "CUT"
    )
    assert (cut.dxftype(), cut.dxf.radius) == ("CIRCLE", pytest.approx(30.0))
    assert rendered("svg", disc).count(b"<circle") == 1
    assert outline_words(disc) == "a circle of Ø60.00 mm"
    assert outline_words(cover()) == "4 lines and 4 arcs"


@pytest.mark.parametrize("name", ["dxf", "dxf-r12"])
def test_a_second_reader_finds_the_same_geometry(dxf_file, name):
    """dxfgrabber reads the same circles, and vertices and bulges of the same area."""
    drawing = dxfgrabber.readfile(str(dxf_file(name)))
    cut = [e for e in drawing.entities if e.layer == "CUT"]
    radii = sorted(e.radius for e in cut if e.dxftype == "CIRCLE")
    assert radii == pytest.approx([3.3] * 4 + [10.0])
    lines = [e for e in cut if e.dxftype != "CIRCLE"]
    outline = max(lines, key=lambda e: len(e.points))
    points = tuple((float(p[0]), float(p[1])) for p in outline.points)
    read = Profile(points, tuple(float(b) for b in outline.bulge))
    assert area_mm2(read) == pytest.approx(6000 - (4 - np.pi) * 25)


def test_a_dxf_without_a_unit_says_mm_in_its_name_and_in_a_text(dxf_file):
    """R12 has no place for a unit."""
    path = dxf_file("dxf-r12")
    texts = [e.dxf.text for e in ezdxf.readfile(path).modelspace().query("TEXT")]
    assert "-mm-" in path.name
    assert any("lengths in mm" in t for t in texts)
    assert any("viewed from the face" in t for t in texts)


def test_nothing_is_cut_twice(dxf_file):
    """No two curves of the cut layer coincide."""
    cut = [e for e in ezdxf.readfile(dxf_file("dxf")).modelspace() if e.dxf.layer == "CUT"]
    circles = [
        (e.dxf.center.x, e.dxf.center.y, e.dxf.radius) for e in cut if "CIRC" in e.dxftype()
    ]
    assert len(set(circles)) == len(circles)


def test_bends_and_engravings_have_layers_of_their_own(dxf_file):
    """BEND and ETCH hold what their names say."""
    marked = replace(
        cover(),
        bends=(Bend((0, 30), (100, 30), 90.0, True, 6.0),),
        etchings=(rectangle(5, 5),),
    )
    layers = [e.dxf.layer for e in ezdxf.readfile(dxf_file("dxf", marked)).modelspace()]
    assert layers.count("BEND") == 1
    assert layers.count("ETCH") == 1


def test_the_svg_is_in_millimetres_and_encloses_the_part():
    """Width and height in mm over a view box of the same size; arcs are arcs."""
    root = ET.fromstring(rendered("svg", replace(cover(), cautions=())))
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert root.attrib["width"] == f"{width:.6f}mm"
    assert (width, height) == pytest.approx((110, 70))
    path = root.find(".//{*}g[@id='CUT']/{*}path")
    assert path is not None
    radii = [float(r) for r in re.findall(r"A ([\d.]+) ", path.attrib["d"])]
    assert radii == pytest.approx([5.0] * 4)


def test_the_step_solid_has_the_volume_of_arithmetic(tmp_path):
    """Read by Open CASCADE: valid, one solid, levels and all, true cylinders."""
    path = tmp_path / "part.step"
    path.write_bytes(rendered("step"))
    shape = step_kernel.read(path)
    assert step_kernel.is_valid(shape)
    assert step_kernel.volume_mm3(shape) == pytest.approx(cover_volume_mm3(), rel=1e-9)
    assert {3.3, 10.0, 5.0, 2.5, 15.0, 6.0} == set(step_kernel.cylinders_mm(shape))


def test_a_concave_outline_is_a_valid_solid_too(tmp_path):
    """An inward arc: the volume of a rectangle less half a disc."""
    outline = Profile(
        ((0, 0), (40, 0), (40, 30), (30, 30), (10, 30), (0, 30)), (0, 0, 0, -1, 0, 0)
    )
    part = Part("bite", outline, 5.0)
    path = tmp_path / "bite.step"
    path.write_bytes(rendered("step", part))
    shape = step_kernel.read(path)
    assert step_kernel.is_valid(shape)
    expected = 5 * (1200 - np.pi * 100 / 2)
    assert step_kernel.volume_mm3(shape) == pytest.approx(expected, rel=1e-9)


def test_the_mesh_is_closed_and_turned_outwards():
    """Each edge is used once in either direction; the volume is positive and right."""
    vertices, triangles = mesh_of(cover())
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    directed = {(int(a), int(b)) for a, b in edges}
    assert len(directed) == len(edges)
    assert all((b, a) in directed for a, b in directed)
    corners = vertices[triangles]
    volume = np.einsum(
        "ni,ni->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])
    ) / 6  # fmt: skip
    assert volume == pytest.approx(cover_volume_mm3(), rel=3e-4)


def test_the_stl_has_the_mesh_in_its_records():
    """A header of 80 bytes that says millimetres, a count, 50 bytes a triangle."""
    data = rendered("stl")
    count = int.from_bytes(data[80:84], "little")
    assert len(data) == 84 + 50 * count
    assert b"millimetres" in data[:80]
    assert count == len(mesh_of(cover())[1])


def test_the_3mf_states_millimetres():
    """The package's model carries the unit and as many triangles as the mesh."""
    with zipfile.ZipFile(io.BytesIO(rendered("3mf"))) as package:
        root = ET.fromstring(package.read("3D/3dmodel.model"))
        assert package.testzip() is None
    assert root.attrib["unit"] == "millimeter"
    assert len(root.findall(".//{*}triangle")) == len(mesh_of(cover())[1])


def black_run_mm(row: np.ndarray, dpi: float) -> float:
    """From the first to the last dark pixel."""
    dark = np.flatnonzero(row < 128)
    return (dark[-1] - dark[0] + 1) / dpi * 25.4


@pytest.mark.parametrize("name", ["template", "drawing"])
def test_the_check_bar_is_100_mm_in_a_raster(name):
    """Rasterised at 600 dpi by PDFium, the bar below is 100 mm to a pixel."""
    page = pypdfium2.PdfDocument(rendered(name))[0]
    grey = np.asarray(page.render(scale=600 / 72).to_pil().convert("L"))
    y_mm, x_mm = (34.5, 15.0) if name == "template" else (14.5, 16.0)
    row = grey[round(grey.shape[0] - y_mm / 25.4 * 600)]
    window = row[round((x_mm - 0.5) / 25.4 * 600) : round((x_mm + 101.0) / 25.4 * 600)]
    assert black_run_mm(window, 600) == pytest.approx(100.0, abs=0.1)


def test_the_template_is_the_part_at_true_size():
    """The outline drawn on one page is as long as the part's (PDFium raster, ±0.2 mm)."""
    part = Part("square", rectangle(80, 50), 2.0)
    page = pypdfium2.PdfDocument(rendered("template", part))[0]
    grey = np.asarray(page.render(scale=600 / 72).to_pil().convert("L"))
    middle = grey.shape[1] // 2
    column = grey[round(grey.shape[0] * 0.15) : round(grey.shape[0] * 0.8), middle]
    assert black_run_mm(column, 600) == pytest.approx(50.0 + 0.18, abs=0.2)


def test_a_large_part_is_tiled_over_pages():
    """500 x 400 mm with overlaps of 10 mm take at least three by two A4 pages."""
    part = Part("table top", rectangle(500, 400), 2.0)
    assert len(pypdfium2.PdfDocument(rendered("template", part))) >= 6
    with pytest.raises(ExportError, match="pages at true size"):
        rendered("template", Part("roof", rectangle(5000, 4000), 2.0))


def test_the_drawing_says_what_a_shop_needs():
    """ISO 7200's fields (from memory), view side, general tolerance, hole table, cautions."""
    page = pypdfium2.PdfDocument(rendered("drawing"))[0]
    said = page.get_textpage().get_text_range()
    for words in (
        "legal owner", "identification number", "date of issue", "sheet", "title",
        "approval person", "creator", "document type", "ISO 2768-m", "viewed from the face",
        "M6 medium, ISO 273", "6.610 ± 0.030", "not an approval", "Moving parts",
    ):  # fmt: skip
        assert words in said


def test_the_hole_table_keeps_measured_and_chosen():
    """One row a hole and slot, with U."""
    text = rendered("holes").decode("utf-8-sig")
    rows = [r for r in csv.reader(io.StringIO(text)) if not r[0].startswith("#")]
    table = [dict(zip(rows[0], r, strict=True)) for r in rows[1:]]
    assert [r["id"] for r in table] == ["H1", "H2", "H3", "H4", "H5", "S1"]
    assert (table[1]["measured_mm"], table[1]["chosen_mm"]) == ("6.610", "6.600")
    assert table[1]["U_mm"] == "0.030"


def test_a_cell_that_a_spreadsheet_would_run_is_made_plain():
    """Threads and fits come from a person's file."""
    evil = RoundHole("H1", (5, 5), Size(3, 0.01), thread="=HYPERLINK(1)")
    text = rendered("holes", Part("x", rectangle(10, 10), 1.0, (evil,))).decode("utf-8-sig")
    assert "'=HYPERLINK" in text


def words_of(name: str, part: Part) -> str:
    """What a reader of the file can find in it, as one line."""
    data = rendered(name, part)
    if name == "3mf":
        data = zipfile.ZipFile(io.BytesIO(data)).read("3D/3dmodel.model")
    if name in ("template", "drawing"):
        pages = pypdfium2.PdfDocument(data)
        data = " ".join(p.get_textpage().get_text_range() for p in pages).encode()
    if name.startswith("dxf"):
        document = ezdxf.read(io.StringIO(data.decode()))
        data = " ".join(t.dxf.text for t in document.modelspace().query("TEXT")).encode()
    if name == "svg":
        data = " ".join(t.text or "" for t in ET.fromstring(data).findall(".//{*}text")).encode()
    text = data.decode("utf-8", "replace").replace("','", " ")
    return " ".join(text.split())


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_carries_the_caution(name):
    """Whatever file is passed on says: measured shape, not an approval, and what can hurt; a
    binary STL has 80 bytes of words and says the first."""
    words = words_of(name, cover())
    assert "easured shape, not an approval" in words
    if name != "stl":
        assert cover().cautions[0] in words


@pytest.mark.parametrize("name", ["drawing", "template"])
def test_no_caution_is_lost_for_want_of_room(name):
    """Seven cautions, seventy holes and as many remarks go on further pages, to the last word."""
    many = [
        RoundHole(f"H{k}", (5.0 + k, 5.0), Size(0.5, 0.01), thread=f"M{k}") for k in range(1, 71)
    ]
    told = tuple(f"Caution {k}: " + "stop and lock the machine first, " * 9 for k in range(7))
    part = replace(cover(), holes=tuple(many), cautions=told, remarks=("Remark, " * 200,))
    words = words_of(name, part)
    for one in told:
        assert " ".join(one.split()) in words
    assert "M70" in words


def test_a_name_never_makes_a_binary_stl_look_like_text():
    """Readers take a file that begins with "solid" for an ASCII STL."""
    data = rendered("stl", replace(cover(), name="solid cover " * 9))
    assert not data.startswith(b"solid")
    assert b"not an approval" in data[:80]


def test_the_step_header_keeps_to_the_lengths_of_its_standard():
    """ISO 10303-21, 9.2 (from memory): strings of at most 256 letters; a time of ISO 8601."""
    long = replace(cover(), cautions=("Ä" * 300, "Hot: " + "mind the stove, " * 40))
    header = rendered("step", long).decode("ascii").split("ENDSEC;")[0]
    header = re.sub(r"\\X2\\[0-9A-F]{4}\\X0\\", "Ä", header)
    assert max(len(text) for text in re.findall(r"'((?:[^']|'')*)'", header)) <= 256
    assert "'2026-11-25T00:00:00'" in header


def test_drawing_and_template_name_what_is_not_cut_through():
    """Levels with their heights, engravings and bends are named where they lie."""
    part = replace(
        cover(),
        etchings=(rectangle(5, 5),),
        bends=(Bend((60, 0), (60, 60), 90.0, True, 6.0),),
    )
    for name in ("drawing", "template"):
        words = words_of(name, part)
        assert all(one in words for one in ("seat +2", "recess -1.5", "engraved"))
    assert "bend 90° up, R6" in words_of("drawing", part)


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_is_made_the_same_way_twice_or_says_when(name):
    """Formats without dates give the same bytes again."""
    if name.startswith("dxf"):
        pytest.skip("DXF carries the time of writing.")
    assert rendered(name) == rendered(name)


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (Level("rim", rectangle(100, 60), 2.0), "part's edge"),
        (Level("deep", Profile(((20, 20), (30, 20), (30, 30)), (0.0,) * 3), -6.0), "less deep"),
        (Level("cross", Profile(((8, 8), (14, 8), (14, 14)), (0.0,) * 3), 1.0), "crosses the rim"),
    ],
)
def test_levels_that_make_no_solid_are_refused(level, words):
    """At the edge, through the part, across a hole."""
    with pytest.raises(ExportError, match=words):
        rendered("step", replace(cover(), levels=(level,)))


def test_length_on_cut_is_what_a_machine_travels(dxf_file):
    """The polylines of the file, flattened by ezdxf, are as long as the profiles (0.01 mm)."""
    document = ezdxf.readfile(dxf_file("dxf"))
    outline = max(document.modelspace().query("LWPOLYLINE"), key=len)
    flat = [(v.x, v.y) for v in ezdxf.path.make_path(outline).flattening(1e-4)]
    assert shapely.LineString(flat).length == pytest.approx(length_mm(cover().outline), abs=0.01)
    assert shapely.Polygon(flat).area == pytest.approx(polygon(cover().outline).area, abs=0.1)
