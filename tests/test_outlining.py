"""From a picture on disk to files for a shop, by the command; nothing is written on error."""

from __future__ import annotations

import cv2
import ezdxf
import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from photomeasure import cli, outlining
from photomeasure.errors import CalibrationError, JobError, PhotomeasureError
from photomeasure.files.part_file import parse_part, read_part
from photomeasure.records.outline import PartEntry, Scan
from photomeasure.records.photo import Photo

DPI, PX_PER_MM = 300.0, 300 / 25.4
_FINE = 4
LID, GASKET = 0.75, 0.06  # linear light: a scanner sums light, then codes it


def scan() -> np.ndarray:
    """A gasket of 60 x 40 mm with a hole of 20 mm on a white lid, blurred as a scanner does."""
    size = (int(100 * PX_PER_MM * _FINE), int(80 * PX_PER_MM * _FINE))
    fine = np.full(size[::-1], LID, np.float32)

    def px(*mm: float) -> tuple[int, ...]:
        return tuple(round(v * PX_PER_MM * _FINE) for v in mm)

    cv2.rectangle(fine, px(20, 20), px(80, 60), GASKET, -1)
    cv2.circle(fine, px(50, 40), px(10)[0], LID, -1)
    small = cv2.resize(fine, None, fx=1 / _FINE, fy=1 / _FINE, interpolation=cv2.INTER_AREA)
    grey = 255 * cv2.GaussianBlur(small, (0, 0), 0.8) ** (1 / 2.2)
    noisy = grey + np.random.default_rng(1).normal(0, 1.5, grey.shape)
    return np.repeat(np.clip(noisy, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "gasket.png"
    Image.fromarray(scan()).save(path)
    return path


def run(*words: str):
    return CliRunner().invoke(cli.app, ["outline", *words, "--quiet"])


def test_a_scan_becomes_files_at_its_stated_resolution(picture):
    """A gasket of 60 x 40 mm at 300 dpi: its DXF is that large within 0.1 mm."""
    done = run(str(picture), "--thickness", "0.8", "--scan", "300")
    assert done.exit_code == 0, done.exception
    folder = picture.parent / "gasket-part"
    document = ezdxf.readfile(folder / "gasket.dxf")
    outline = document.modelspace().query("LWPOLYLINE")[0]
    assert np.ptp(np.array(outline.get_points("xy")), axis=0) == pytest.approx([60, 40], abs=0.15)
    circle = document.modelspace().query("CIRCLE")[0]
    assert 2 * circle.dxf.radius == pytest.approx(20, abs=0.1)
    assert "H1" in done.output
    assert "Nothing in the scan checks its resolution" in done.output


def test_a_ruler_that_contradicts_the_resolution_is_refused():
    """100 mm on the ruler are 5 % fewer pixels than stated."""
    photo = Photo("scan", scan(), "0" * 64)
    ends = ((100.0, 100.0), (100.0 + 95 * PX_PER_MM, 100.0))
    entry = PartEntry("gasket", "scan.png", 0.8, scan=Scan(DPI, ends, 100.0))
    with pytest.raises(CalibrationError, match="ruler in the scan says 285"):
        outlining.outline(entry, photo)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "thickness must|How thick"),
        (("--thickness", "0.8", "--scan", "3"), "dots per inch"),
        (("--thickness", "0.8", "--scan", "300", "--inside", "here"), "no pixel"),
        (("--thickness", "0.8", "--scan", "300", "--take", "round H7"), "on offer"),
        (("--thickness", "0.8", "--scan", "300", "--tolerance", "0.0001"), "no better"),
        (("--thickness", "0.8"), "sheet"),
    ],
)
def test_bad_input_is_one_sentence_and_no_file(picture, words, said):
    """Every refusal is a PhotomeasureError, and the folder stays as it was."""
    done = run(str(picture), *words)
    assert isinstance(done.exception, PhotomeasureError)
    assert [p.name for p in picture.parent.iterdir()] == ["gasket.png"]
    assert any(part in str(done.exception) for part in said.split("|"))


PART = """
name = "Mill gasket"
photo = "gasket.png"
thickness = "1/32 in"
take = []
hazards = ["pressure"]
offset = 1.0
[scan]
dpi = 300.0
[[holes]]
name = "H1"
diameter = 20.0
thread = ""
[[levels]]
name = "bead"
around = "H1"
offset = 2.0
height = 0.3
[title]
owner = "A. Keeper"
"""


def test_a_part_file_says_everything_a_person_chose(picture):
    """Offset, levels, hazards, title; the drawing bears the caution."""
    (picture.parent / "part.toml").write_text(PART)
    done = run(str(picture.parent), "--to", str(picture.parent / "out"))
    assert done.exit_code == 0, done.exception
    assert "62.0" in done.output.splitlines()[0]
    assert "not an approval" in done.output
    assert {p.suffix for p in (picture.parent / "out").iterdir()} >= {".dxf", ".step", ".pdf"}
    entry, _, _ = read_part(picture.parent / "part.toml")
    assert entry.thickness_mm == pytest.approx(25.4 / 32)


@pytest.mark.parametrize(
    "line", ["thicknes = 3", "tolerance = -1", 'photo = "../x.jpg"', "inside = [[1]]"]
)
def test_every_fault_of_a_part_file_is_told_with_its_place(line):
    """Unknown keys, negative lengths, paths that lead out, half a click."""
    with pytest.raises(JobError, match=line.split(" ", maxsplit=1)[0]):
        parse_part(f'name = "x"\n{line}\n' + ("" if "photo" in line else 'photo = "a.jpg"\n'))
