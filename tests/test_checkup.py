"""`check` says what a photo is good for, why, and what would make it better."""

import io
import json
from dataclasses import replace

import card_world
import cv2
import numpy as np
import pytest
import worlds
from PIL import ExifTags, Image
from typer.testing import CliRunner

from photomeasure.checkup import Known, check_photo, check_photos
from photomeasure.cli import app
from photomeasure.exporters.check_words import render_checks, render_checks_json
from photomeasure.records.check import Fitness
from photomeasure.records.job import PrintEntry
from photomeasure.records.photo import ExifFacts, FileFacts
from photomeasure.synthetic.taking import photo_of

BARS = Known(prints=(PrintEntry("window-a4-A", 150.45, 149.7, 0.1),))


def about(check):
    return {f.about: f for f in check.findings}


def test_a_good_photo_is_measured(small_photo):
    """Nothing to complain of; the foreseen U is in line with the bars, and lower once read."""
    check = check_photo(small_photo)
    assert check.verdict is Fitness.MEASURE
    assert check.reasons == ()
    (target,) = check.targets
    assert target.seen > 0.95
    assert target.length_u_bars_mm < 0.2 < target.length_u_mm
    assert check.improvements[0].words.startswith("measure the two check bars")
    read = check_photo(small_photo, BARS).targets[0]
    assert read.length_u_mm == pytest.approx(target.length_u_bars_mm, rel=0.15)


def test_a_photo_with_cards_alone_is_judged_too():
    """Cards cut from one page share its print: each is looked at, with what its bars would do."""
    check = check_photo(card_world.photo())
    assert {t.sheet for t in check.targets} == {card_world.FLAT, card_world.LEANING}
    assert all(t.length_u_bars_mm < t.length_u_mm < 2.0 for t in check.targets)


def test_what_to_change_is_propagated(small_scene, small_photo):
    """A photo from 1.7 times as far says to step closer, with the U of the nearer photo."""
    pose = small_scene.pose
    away = replace(pose, tx=1.7 * pose.tx, ty=1.7 * pose.ty, tz=1.7 * pose.tz)
    far = check_photo(photo_of(replace(small_scene, pose=away)), BARS)
    (closer,) = [i for i in far.improvements if i.words.startswith("step closer")]
    assert closer.after_mm < 0.85 * closer.before_mm
    near = check_photo(small_photo, BARS).targets[0]
    assert closer.after_mm == pytest.approx(near.length_u_mm, rel=0.25)
    assert closer.before_mm == pytest.approx(far.targets[0].length_u_mm, rel=0.1)


def test_a_photo_without_a_sheet_is_taken_again(small_photo):
    """No target: the reason is the detector's own sentence."""
    blank = replace(small_photo, pixels=np.full_like(small_photo.pixels, 128))
    check = check_photo(blank)
    assert check.verdict is Fitness.RETAKE
    assert "no scale sheet" in check.reasons[0]
    assert check.targets == ()


def test_a_small_picture_without_a_sheet_is_called_small_once(small_photo):
    """The file's size and the missing sheet are two findings, and one names its pixels."""
    tiny = cv2.resize(small_photo.pixels, (160, 120), interpolation=cv2.INTER_AREA)
    check = check_photo(replace(small_photo, pixels=tiny))
    assert sum("megapixels" in finding.words for finding in check.findings) == 1
    assert {"target", "small"} <= set(about(check))


@pytest.mark.parametrize(
    ("exif", "file", "name", "fitness"),
    [
        ({}, {"panorama": True}, "panorama", Fitness.RETAKE),
        ({}, {"portrait": True}, "portrait", Fitness.WITH_CARE),
        ({"digital_zoom": 2.0}, {}, "zoom", Fitness.WITH_CARE),
        ({"focal_length_35mm": 14.0}, {}, "lens", Fitness.WITH_CARE),
        ({"stated_px": (4032, 3024)}, {}, "resized", Fitness.WITH_CARE),
        ({"stated_px": (4032, 1512)}, {}, "cropped", Fitness.RETAKE),
        ({"model": "", "make": ""}, {}, "no camera", Fitness.WITH_CARE),
        ({}, {"edited": "a retouching program"}, "edited", Fitness.WITH_CARE),
        (
            {"taken": "2026:01:02 10:00:00", "changed": "2026:01:02 10:09:00"},
            {},
            "edited",
            Fitness.WITH_CARE,
        ),
        ({"taken": "2026:01:02 10:00:00", "changed": "2026:01:02 10:00:01"}, {}, "", None),
    ],
)
def test_what_the_file_admits_is_said(small_photo, exif, file, name, fitness):
    """Each of these facts alone, on an otherwise good photo, is named and graded."""
    photo = replace(
        small_photo,
        exif=replace(small_photo.exif, **exif),
        file=replace(FileFacts("JPEG"), **file),
    )
    found = {k: f.fitness for k, f in about(check_photo(photo)).items()}
    if fitness is None:
        assert "edited" not in found
    else:
        assert found[name] is fitness


def test_a_switched_lens_is_named(small_photo):
    """Of three photos the one with another lens is told, and what differs."""
    other = replace(
        small_photo,
        name="third",
        exif=replace(small_photo.exif, focal_length_35mm=13.0, lens="wide"),
    )
    photos = [replace(small_photo, name="first"), replace(small_photo, name="second"), other]
    first, second, third = check_photos(photos)
    assert "switched" not in about(first) | about(second)
    assert "13 mm instead of 26 mm" in about(third)["switched"].words


def test_a_smear_and_a_blur_are_graded(small_photo):
    """A strong defocus is taken again, with the remedy."""
    soft = cv2.GaussianBlur(small_photo.pixels, (0, 0), 3.0)
    check = check_photo(replace(small_photo, pixels=soft))
    assert check.verdict is not Fitness.MEASURE
    assert any("focus" in reason or "blurred" in reason for reason in check.reasons)


def test_words_fit_the_terminal_and_json_says_the_same(small_photo):
    """No line is wider than asked; the JSON holds the verdict, findings and improvements."""
    photo = replace(small_photo, exif=ExifFacts())
    check = check_photo(photo)
    text = render_checks([check, check], 80)
    assert max(map(len, text.splitlines())) <= 80
    assert text.startswith("photo: measure with care")
    document = json.loads(render_checks_json([check]))
    (plain,) = document["photos"]
    assert plain["verdict"] == "measure with care"
    assert [f["text"] for f in plain["findings"]] == [f.words for f in check.findings]
    assert "→" in plain["improvements"][0]["text"]
    assert plain["targets"][0]["sheet"] == "window-a4-A"


def with_size(data: bytes) -> bytes:
    """The same JPEG with the size that a camera writes."""
    image = Image.open(io.BytesIO(data))
    exif = image.getexif()
    detail = exif.get_ifd(ExifTags.IFD.Exif)
    detail[ExifTags.Base.ExifImageWidth], detail[ExifTags.Base.ExifImageHeight] = image.size
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality="keep", exif=exif)
    return buffer.getvalue()


def test_the_command_ends_with_its_exit_codes(tmp_path):
    """0 for good photos, 3 where care is asked for, 4 where one must be taken again."""
    good, bare, bad = (tmp_path / n for n in ("good.jpg", "bare.jpg", "bad.jpg"))
    data = with_size(worlds.jpeg_of(0.5))
    good.write_bytes(data)
    Image.open(io.BytesIO(data)).save(bare, "JPEG", quality="keep", exif=b"")
    bad.write_bytes(b"no picture")
    run = CliRunner().invoke
    assert run(app, ["check", str(good)]).exit_code == 0
    cared = run(app, ["check", str(bare)])
    assert cared.exit_code == 3
    assert "Says nothing of its camera" in cared.stdout
    failed = run(app, ["check", "--json", str(good), str(bad)])
    assert failed.exit_code == 4
    verdicts = [p["verdict"] for p in json.loads(failed.stdout)["photos"]]
    assert verdicts == ["measure", "take it again"]
