"""Blur, smear and compression are told from the picture, with their direction and size."""

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
import worlds
from PIL import Image

from photomeasure.errors import PhotoError
from photomeasure.files.photos import read_photo
from photomeasure.vision.detection import detect_sheets, grey_of
from photomeasure.vision.quality_blur import look_at_edges
from photomeasure.vision.quality_coverage import missing_places
from photomeasure.vision.quality_jpeg import ANNEX_K_LUMA, compressed_twice, quality_of
from photomeasure.vision.quality_picture import BLUR_BORNE_PX, picture_blur_px
from photomeasure.vision.sheets import sheet


def smeared(pixels, length_px, direction_deg):
    """Moved during the exposure, in linear light; anticlockwise from the right."""
    size = int(length_px) + 9 | 1
    kernel = np.zeros((size, size), np.float32)
    way = np.array([np.cos(np.radians(direction_deg)), -np.sin(np.radians(direction_deg))])
    for t in np.linspace(-length_px / 2, length_px / 2, 400):
        x, y = size // 2 + t * way
        column, row = int(x), int(y)
        for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
            weight = abs(1 - i - (x - column)) * abs(1 - j - (y - row))
            kernel[row + j, column + i] += weight
    light = (pixels / 255.0) ** 2.2
    moved = cv2.filter2D(light, -1, kernel / kernel.sum())
    return np.round(255 * np.clip(moved, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def look(photo):
    seen = detect_sheets(photo)[0]
    looked = look_at_edges(grey_of(photo), sheet(seen.sheet), seen)
    assert looked is not None
    return looked


@pytest.mark.parametrize("direction_deg", [0, 35, 90, 140])
def test_a_smear_is_told_with_its_length_and_direction(small_photo, direction_deg):
    """Five px of motion come out as 4 to 7 px within 8°, whichever way the sheet lies."""
    photo = replace(small_photo, pixels=smeared(small_photo.pixels, 5.0, direction_deg))
    sharpness, _ = look(photo)
    away = (sharpness.motion_deg - direction_deg + 90) % 180 - 90
    assert abs(away) < 8
    assert 4 < sharpness.motion_px < 7


def test_defocus_is_blur_and_no_smear(small_photo):
    """A round blur adds to the sharp photo's as squares do, and has no direction."""
    before, _ = look(small_photo)
    light = (small_photo.pixels / 255.0) ** 2.2
    soft = 255 * cv2.GaussianBlur(light, (0, 0), 1.8) ** (1 / 2.2)
    after, _ = look(replace(small_photo, pixels=np.round(soft).astype(np.uint8)))
    assert before.motion_px == after.motion_px == 0
    assert after.blur_px == pytest.approx(np.hypot(before.blur_px, 1.8), rel=0.2)


def test_burnt_paper_and_missing_corners_are_told(small_photo):
    """Twice the light burns the paper; what a hand covers is missing where it lies."""
    _, exposure = look(small_photo)
    assert exposure.burnt < 0.2
    bright = np.clip(small_photo.pixels.astype(float) * 1.5, 0, 255).astype(np.uint8)
    assert look(replace(small_photo, pixels=bright))[1].burnt > 0.8
    scene = worlds.flange_scene(0.5)
    corner = scene.image_from_sheet(np.array([[-84.0, 124.0]]))[0]
    covered = small_photo.pixels.copy()
    cv2.circle(covered, tuple(int(v) for v in corner), 260, (120, 120, 120), -1)
    photo = replace(small_photo, pixels=covered)
    seen = detect_sheets(photo)[0]
    camera = worlds.estimated(photo, seen)
    assert missing_places(sheet(seen.sheet), seen, camera) == ("upper left corner (hidden)",)


@pytest.mark.parametrize(
    ("small", "words"), [(0.35, "too small"), (None, "too blurred")], ids=["small", "blurred"]
)
def test_corners_that_cannot_be_read_are_not_called_hidden(small_photo, small, words):
    """Squares below what markers need, and those that blur has filled, are told as such."""
    picture = small_photo.pixels
    if small:
        size = (picture.shape[1], picture.shape[0])
        picture = cv2.resize(picture, None, fx=small, fy=small, interpolation=cv2.INTER_AREA)
        assert picture.shape[1] < size[0]
    seen = detect_sheets(replace(small_photo, pixels=picture))[0]
    camera = worlds.estimated(replace(small_photo, pixels=picture), seen)
    few = replace(seen, saddles_mm=seen.saddles_mm[:20], saddles_px=seen.saddles_px[:20])
    told = missing_places(sheet(seen.sheet), few, camera, blur_px=0.5 if small else 3.0)
    assert told
    assert all(f"({words})" in place for place in told)


@pytest.mark.parametrize("blur_px", [0.0, 3.0, 5.0, 10.0])
def test_blur_is_told_without_a_sheet(small_photo, blur_px):
    """By its own edges a picture's blur comes out within a third; a sharp one stays below 2 px."""
    grey = grey_of(small_photo)
    soft = cv2.GaussianBlur(grey, (0, 0), blur_px) if blur_px else grey
    found = picture_blur_px(soft)
    assert found is not None
    if blur_px:
        assert found == pytest.approx(blur_px, rel=0.35)
    else:
        assert found < BLUR_BORNE_PX


def test_a_smear_is_told_though_edges_along_it_stay_sharp(small_photo):
    """30 px sideways; and a picture without edges says nothing."""
    smeared = cv2.blur(grey_of(small_photo), (31, 1))
    assert picture_blur_px(smeared) > BLUR_BORNE_PX
    assert picture_blur_px(np.full((600, 800), 120, np.uint8)) is None


def test_a_photo_without_a_sheet_says_what_spoilt_it(small_photo):
    """Blur with its figure, limit and remedy; a copy from a chat with its size; else neither."""
    soft = cv2.GaussianBlur(small_photo.pixels, (0, 0), 9.0)
    with pytest.raises(PhotoError, match=r"blurred, its edges by \d+ px or more; 2 px .* focus"):
        detect_sheets(replace(small_photo, pixels=soft))
    tiny = cv2.resize(small_photo.pixels, (160, 120), interpolation=cv2.INTER_AREA)
    with pytest.raises(PhotoError, match=r"only 160 × 120 px.*Use the original file"):
        detect_sheets(replace(small_photo, pixels=tiny))
    bare = np.full((1600, 2000, 3), 120, np.uint8)
    with pytest.raises(PhotoError, match=r"needed\)\. Put the print fully into the picture"):
        detect_sheets(replace(small_photo, pixels=bare))


def saved(picture, *qualities):
    """JPEG bytes, saved at each quality in turn."""
    for quality in qualities:
        buffer = io.BytesIO()
        picture.save(buffer, "JPEG", quality=quality)
        picture = Image.open(io.BytesIO(buffer.getvalue()))
    return buffer.getvalue()


def test_quality_is_read_from_the_table(tmp_path, small_photo):
    """Quality 50 is Annex K of ITU-T T.81 itself; others are read back as saved by libjpeg."""
    picture = Image.fromarray(small_photo.pixels[:256, :256])
    path = tmp_path / "photo.jpg"
    for quality in (20, 50, 75, 92, 98):
        path.write_bytes(saved(picture, quality))
        steps = read_photo(path).file.luma_steps
        assert quality_of(steps) == quality
        if quality == 50:
            assert steps == ANNEX_K_LUMA


@pytest.mark.parametrize(
    ("qualities", "twice"), [((92,), False), ((80,), False), ((60, 90), True), ((75, 92), True)]
)
def test_an_earlier_harder_compression_shows(tmp_path, qualities, twice):
    """A photo saved once is not accused; one saved hard and then softly is."""
    path = tmp_path / "photo.jpg"
    pixels = worlds.photo(0.5).pixels
    noise = np.random.default_rng(3).normal(0, 2.5, pixels.shape)
    raw = np.clip(cv2.GaussianBlur(pixels, (0, 0), 0.7) + noise, 0, 255).astype(np.uint8)
    path.write_bytes(saved(Image.fromarray(raw), *qualities))
    assert compressed_twice(read_photo(path)) is twice
