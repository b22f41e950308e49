"""Whatever is wrong with what a person gives: one clear message, code 4, nothing written.

Each case runs `photomeasure measure` on a job folder with exactly one thing wrong in it.
"""

import re
import struct
import sys
import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import worlds
from PIL import Image

from photomeasure import cli, files, pipeline
from photomeasure.records.job import (
    CheckEntry,
    FeatureEntry,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    Rule,
)
from photomeasure.records.view import CameraRecord

SCENE = worlds.flange_scene(0.5)
WIDTH, HEIGHT = SCENE.lens.size_px
GAP = (MeasurementEntry("slot", "gap", (("a", ("upper",)), ("b", ("lower",)))),)
EDGES = tuple(f for f in worlds.pointed(SCENE) if f.kind == "edge")
RULE = Rule("my clearance", "gap", "mm", "They would touch.", "the maker", "user", at_least=5.0)


@pytest.fixture
def folder(tmp_path):
    """A job folder with a photo that can be measured."""
    made = tmp_path / "job"
    made.mkdir()
    (made / "photo.jpg").write_bytes(worlds.jpeg_of(0.5))
    return made


@pytest.fixture
def refused(folder, monkeypatch, capsys):
    """Measure a job as a user does, check how it is refused, and give what was said."""

    def run(changes=None, old="", new=""):
        job = replace(worlds.flange_job(SCENE, features=EDGES, measurements=GAP), **changes or {})
        files.write_job(job, folder / "job.toml")
        text = (folder / "job.toml").read_text()
        assert old in text
        (folder / "job.toml").write_text(text.replace(old, new, 1) if old else text)
        return measure(folder, monkeypatch, capsys)

    return run


SEEN: dict[str, object] = {}
detect_targets = pipeline.detect_targets


def detect_once(photo, **options):
    """The sheets of a photo; of the same photo they are found only once."""
    if photo.sha256 not in SEEN:
        SEEN[photo.sha256] = detect_targets(photo, **options)
    return SEEN[photo.sha256]


def measure(folder: Path, monkeypatch, capsys) -> str:
    before = sorted(folder.rglob("*"))
    monkeypatch.setattr(pipeline, "detect_targets", detect_once)
    monkeypatch.setattr(sys, "argv", ["photomeasure", "measure", str(folder)])
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    out, err = capsys.readouterr()
    assert stopped.value.code == 4, (out, err)
    assert out == ""
    assert "Traceback" not in err
    assert sorted(folder.rglob("*")) == before
    assert err.startswith("photomeasure: ")
    said = err.removeprefix("photomeasure: ").strip()
    assert all(line.endswith(".") for line in said.splitlines()), said
    assert "nan" not in said.replace("NaN is not", "")
    return said


def with_feature(**changes):
    """The job's changes when its first edge is told otherwise."""
    return {"features": (replace(EDGES[0], **changes), EDGES[1])}


def circles(*centres_mm) -> dict:
    """The job's changes when a bolt circle goes through drawn-out "holes" there."""
    entries = tuple(
        FeatureEntry(f"h{k}", "circle", "photo", worlds.TOP, worlds.clicks(SCENE, centres))
        for k, centres in enumerate(centres_mm)
    )
    asked = MeasurementEntry("row", "bolt_circle", (("holes", tuple(e.name for e in entries)),))
    return {"features": entries, "measurements": (asked,)}


# The photo -----------------------------------------------------------------------------


def put(folder: Path, pixels: np.ndarray, **options) -> None:
    Image.fromarray(pixels).save(folder / "photo.jpg", "JPEG", **options)


def test_a_photo_without_a_sheet(folder, refused):
    """A bare table is told apart from a bad sheet: how many markers, how many are needed."""
    put(folder, np.full((600, 800, 3), 120, np.uint8))
    said = refused()
    assert said.startswith("photo: no scale sheet or card was found (0 markers seen; at least 4")


def test_a_sheet_of_which_too_little_shows(folder, refused):
    """A strip of the ring gives too few corners, which are counted."""
    pixels = worlds.photo(0.5).pixels.copy()
    pixels[310:] = 90
    put(folder, pixels, quality=95)
    assert "corners of window-a4-A are sharp and free; at least 16" in refused()


def test_a_sheet_too_small_in_the_picture(folder, refused):
    """A sheet seen from afar is told by the size of its squares.

    No distance is told: the original file has the pixels that this copy lacks.
    """
    pixels = cv2.resize(worlds.photo(0.5).pixels, (400, 533), interpolation=cv2.INTER_AREA)
    put(folder, pixels, quality=98)
    said = refused()
    assert "spans 15 px; at least 18 px are needed" in said
    assert "only 400 × 533 px, as copies from a chat have" in said


def png_bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims this size."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(bytes(10_000_000))
    signature = b"\x89PNG\r\n\x1a\n"
    return signature + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (worlds.jpeg_of(0.5)[:200_000], "damaged or cut short"),
        (b"", "the file is empty"),
        (b"%PDF-1.7 not a photo", "not a JPEG, PNG, HEIC"),
        (b"\xff\xd8\xff", "not a JPEG|damaged"),
        (png_bomb(60_000, 60_000), "megapixels"),
        (png_bomb(9000, 9000), "damaged or cut short"),
    ],
    ids=["truncated", "empty", "other format", "three bytes", "bomb", "short"],
)
def test_a_file_that_is_no_whole_photo(folder, refused, content, words):
    """Damaged, foreign and oversized files are named with what to do instead."""
    (folder / "photo.jpg").write_bytes(content)
    said = refused()
    assert said.startswith("photo.jpg: ")
    assert re.search(words, said)


def test_a_file_larger_than_any_photo(folder, refused):
    """A sparse file of 300 MB is refused by its size, before it is read."""
    with (folder / "photo.jpg").open("r+b") as file:
        file.truncate(300_000_000)
    assert "300 MB, more than the limit of 250 MB" in refused()


def test_a_missing_photo(folder, refused):
    """The path that was looked at is named."""
    (folder / "photo.jpg").unlink()
    said = refused()
    assert str(folder / "photo.jpg") in said
    assert "no such photo" in said


@pytest.mark.parametrize("file", ["../photo.jpg", "/etc/hostname", "C:\\photo.jpg"])
def test_a_photo_outside_the_folder(refused, file):
    """A job cannot read what lies beside its folder."""
    written = f"'{file}'"
    said = refused(old='file = "photo.jpg"', new=f"file = {written}")
    assert 'photo "photo", file' in said
    assert "Copy the photo into" in said


def test_a_photo_that_was_changed(refused):
    """Another file under the same name is noticed by its hash."""
    photos = (PhotoEntry("photo", "photo.jpg", sha256="0" * 64),)
    assert "not the one the job was made with" in refused({"photos": photos})


# The camera ----------------------------------------------------------------------------


def record(**changes) -> CameraRecord:
    """A record of the scene's phone."""
    lens = SCENE.lens
    numbers = np.array([lens.f_px, lens.cx, lens.cy, lens.k1, lens.k2, lens.p1, 0, 0])
    covariance = np.diag(np.array([1, 1, 1, 1e-3, 1e-3, 1e-5, 1e-5, 1e-3]) ** 2)
    made = CameraRecord("phone", lens.size_px, 1, numbers, covariance, 0.05, 8, 900)
    return replace(made, exif_model="Pippin 3", **changes)


def named(folder: Path, one: CameraRecord) -> dict:
    """The job's changes when it names this record and keeps a copy."""
    aside = folder.parent / "phone.json"
    files.write_camera(one, aside)
    sha256 = files.adopt_camera(folder, aside)
    return {"photos": (PhotoEntry("photo", "photo.jpg", camera=sha256),)}


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"size_px": (1512, 2000)}, "px, its camera record is for"),
        ({"parameters": record().parameters * np.array([1.6, *[1] * 7])}, "another camera"),
    ],
    ids=["size", "focal length"],
)
def test_a_photo_of_another_camera(folder, refused, other, words):
    """A record of another size or focal length is refused, not bent to fit."""
    said = refused(named(folder, record(**other)))
    assert said.startswith("photo: ")
    assert words in said
    assert "leave" in said


def test_a_photo_of_another_model(folder, refused):
    """EXIF names another camera than the record does."""
    other = replace(record(), exif_model="Costard 12")
    assert "'Pippin 3', but its camera record is of 'Costard 12'" in refused(named(folder, other))


def test_a_record_that_is_not_there(refused):
    """A job that names a record without its copy says where it belongs."""
    photos = (PhotoEntry("photo", "photo.jpg", camera="a" * 64),)
    assert f"{'a' * 64}.json" in refused({"photos": photos})


# The job -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "edge"', 'kind = "edge"\ncolour = 3', "this key is not known"),
        ('plane = "top"', 'plane = "topp"', 'no plane called "topp". Did you mean "top"?'),
        ('kind = "edge"', 'kind = "egde"', 'Did you mean "edge"?'),
        ('kind = "gap"', 'kind = "gapp"', "gap"),
        ("plus_minus = 0.1", "plus_minus = nan", "NaN is not a number"),
        ("plus_minus = 0.1", "plus_minus = -0.1", "at least 0 is"),
        ("height = 4.0", "height = inf", "infinity is not a number"),
        ('sheet = "window-a4-A"', 'sheet = "window-a5-A"', "window-a5-A"),
        ('file = "photo.jpg"', 'file = ""', "the text is empty"),
        ("[[photos]]", "[[photo]]", "this key is not known"),
        ("height = 4.0", "height = 4000", "at most 1000 is"),
    ],
)
def test_a_wrong_value_in_the_job(refused, old, new, words):
    """The file, the field and the remedy are named."""
    said = refused(old=old, new=new)
    assert words in said


def test_a_job_of_no_bytes(folder, monkeypatch, capsys):
    """An empty file lacks its title, and says so; photos may be missing, readings by hand do."""
    (folder / "job.toml").write_bytes(b"")
    assert '"title" is missing' in measure(folder, monkeypatch, capsys)


@pytest.mark.parametrize("features", [(), EDGES], ids=["no features", "features"])
def test_a_job_that_asks_for_nothing(refused, features):
    """A job without measurements says what is missing, and writes no empty report."""
    said = refused({"features": features, "measurements": ()})
    assert "'Motor flange on the mill' has no measurements" in said
    assert "job.toml" in said


def test_a_feature_named_twice(refused):
    """A gap between an edge and itself is a slip, not a gap of nothing."""
    asked = MeasurementEntry("slot", "gap", (("a", ("upper",)), ("b", ("upper",))))
    assert "'slot' names 'upper' 2 times" in refused({"measurements": (asked,)})


@pytest.mark.parametrize(
    ("of", "words"),
    [
        ((("a", ("upper",)), ("c", ("lower",))), "has no role 'c'; it has a, b"),
        ((("a", ("upper",)),), "role 'b': 0 features were given; at least 1 needed"),
        ((("a", ("upper", "lower")), ("b", ("lower",))), "at most 1"),
    ],
)
def test_features_in_the_wrong_roles(refused, of, words):
    """A measurement that does not get what its kind needs says which role, and what it takes."""
    said = refused({"measurements": (MeasurementEntry("slot", "gap", of),)})
    assert "'slot'" in said
    assert words in said


def test_features_of_two_planes(refused):
    """A gap between edges of different heights is refused with both planes named."""
    changes = with_feature(plane="sheet")
    assert "'slot' (gap) needs its features on one plane" in refused(changes)


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (replace(RULE, unit="deg"), "is in deg, but 'gap' of measurement 'slot' is in mm"),
        (replace(RULE, quantity="diameter"), "judges 'diameter', but measurement 'slot' (gap)"),
    ],
)
def test_a_rule_that_does_not_fit(refused, rule, words):
    """A limit in the wrong unit, or on a number that is not measured, is not applied."""
    asked = (replace(GAP[0], rules=(rule.name,)),)
    said = refused({"rules": (rule,), "measurements": asked})
    assert "'my clearance'" in said
    assert words in said


def test_a_rule_that_nobody_knows(refused):
    """A rule's name that neither job nor library has."""
    said = refused({"measurements": (replace(GAP[0], rules=("no such",)),)})
    assert 'no rule called "no such"' in said


def test_a_check_of_a_result_that_is_not_given(refused):
    """A caliper reading of a number that the kind does not give names those it gives."""
    checks = (CheckEntry("slot", 7.0, quantity="width"),)
    assert "names 'width', but it gives gap" in refused({"checks": checks})


def test_a_check_of_no_measurement(refused):
    """A caliper reading of something that is not measured names what is."""
    said = refused(
        {"checks": (CheckEntry("slot", 7.0),)}, 'measurement = "slot"', 'measurement = "slott"'
    )
    assert 'no measurement called "slott". Did you mean "slot"?' in said


# What was pointed at --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (with_feature(clicks_px=((-30.0, 9.0), (400.0, 500.0))), "(-30, 9) lies outside"),
        (with_feature(clicks_px=((10.0, 9.0), (1e9, 500.0))), "lies outside the picture"),
        (with_feature(clicks_px=((10.0, 9.0),)), "edge needs at least 2. Add clicks"),
        (with_feature(clicks_px=((700.0, 800.0), (700.5, 800.0))), "at least 12 px"),
        (with_feature(choice=9), "but only one edge fits. Leave `choice` out."),
        (
            with_feature(kind="curve", clicks_px=((700.0, 800.0), (700.0, 800.0))),
            "same spot",
        ),
        (with_feature(clicks_px=((60.0, 60.0), (300.0, 60.0))), "no edge was found"),
    ],
    ids=["outside", "far outside", "one click", "too near", "choice", "same spot", "nothing"],
)
def test_clicks_that_show_nothing(refused, changes, words):
    """The feature and its photo are named, with what to click instead."""
    said = refused(changes)
    assert said.startswith("upper in photo: ")
    assert words in said


def test_a_circle_clicked_on_one_spot(refused):
    """Three clicks in a row, or on one spot, are no circle."""
    spot = FeatureEntry("bore", "circle", "photo", worlds.TOP, ((700.0, 900.0),) * 3)
    line = replace(spot, clicks_px=((700.0, 900.0), (710.0, 910.0), (720.0, 920.0)))
    asked = (MeasurementEntry("bore", "diameter", (("circle", ("bore",)),)),)
    for entry in (spot, line):
        said = refused({"features": (entry,), "measurements": asked})
        assert said.startswith("bore in photo: ")


def test_holes_in_a_row(refused):
    """Three holes on a line define no bolt circle; the measurement is named."""
    bore = worlds.rim(SCENE.parts[0].hole("bore"), 4)
    said = refused(circles(bore, bore, bore))
    assert said.startswith("Measurement row: ")


@pytest.mark.parametrize("height_mm", [218.0, 260.0, 900.0, -900.0])
def test_a_plane_that_the_picture_cannot_show(refused, height_mm):
    """A plane at or above the camera, or far under the table: the feature, and its height."""
    said = refused({"planes": (PlaneEntry(worlds.TOP, height_mm, 0.1),)})
    assert said.startswith("upper in photo: ")
    assert "height" in said


def test_bar_readings_of_another_print(refused):
    """Readings that no printer gives are refused where they stand."""
    entry = PrintEntry("window-a4-A", 150.0, 150.0, 0.1)
    said = refused({"prints": (entry,)}, "bar_y = 150", "bar_y = 90")
    assert 'print "window-a4-A", bar_y' in said


def test_bar_readings_that_were_exchanged(folder, refused):
    """With a known camera, the sheet's own proportions tell x and y apart."""
    exchanged = (PrintEntry("window-a4-A", 150 * 0.998, 150 * 1.003, 0.1),)
    said = refused(named(folder, record()) | {"prints": exchanged})
    assert "look swapped" in said
    assert "bar was misread" in said or "Read both bars again" in said


# The output -----------------------------------------------------------------------------


def test_a_report_folder_that_is_a_file(folder, monkeypatch, capsys):
    """An output that is in the way is named, and stays."""
    job = worlds.flange_job(SCENE, features=EDGES, measurements=GAP)
    files.write_job(job, folder / "job.toml")
    (folder / "report").write_text("mine")
    said = measure(folder, monkeypatch, capsys)
    assert "is a file, not a folder" in said
    assert (folder / "report").read_text() == "mine"
