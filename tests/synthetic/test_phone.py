from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageOps

from photomeasure.synthetic.phone import code, develop, jpeg
from photomeasure.synthetic.scene import TONE_CURVES, Phone

PLAIN = Phone(blur_px=0.0, noise=0.0, exposure=1.0, sharpening=0.0)


@pytest.mark.parametrize("tone_curve", TONE_CURVES)
def test_every_tone_curve_rises_from_black_to_white(tone_curve: str) -> None:
    coded = code(np.linspace(0, 1, 500, dtype=np.float32)[None], tone_curve)[0]
    assert np.all(np.diff(coded) > 0)
    assert coded[0] == pytest.approx(0.0, abs=0.03)
    assert coded[-1] == pytest.approx(1.0, abs=1e-6)


def test_the_srgb_curve_codes_mid_grey_as_the_standard_says() -> None:
    # IEC 61966-2-1: linear 0.2140 is coded 0.5.
    assert code(np.full((1, 1), 0.21404, np.float32), "srgb")[0, 0] == pytest.approx(0.5, abs=1e-3)


def test_noise_has_its_stated_spread_at_white_and_less_in_the_dark() -> None:
    phone = replace(PLAIN, noise=0.02, tone_curve="gamma22")
    spreads = []
    for level in (0.8, 0.1):
        pixels = develop(np.full((200, 200), level, np.float32), phone, seed=1)[:, :, 0] / 255.0
        spreads.append(float(np.std(pixels**2.2)))
    share = np.sqrt(0.3 + 0.7 * np.array([0.8, 0.1]))
    assert spreads == pytest.approx((0.02 * share).tolist(), rel=0.05)


def test_sharpening_overshoots_on_both_sides_of_an_edge_and_blur_does_not() -> None:
    step = np.full((20, 40), 0.1, np.float32)
    step[:, 20:] = 0.6
    soft = develop(step, replace(PLAIN, blur_px=1.0))[10, :, 0].astype(int)
    sharp = develop(step, replace(PLAIN, blur_px=1.0, sharpening=0.8))[10, :, 0].astype(int)
    assert soft.max() == soft[-1]
    assert sharp.max() > sharp[-1]
    assert sharp.min() < sharp[0]


def test_colour_radiance_keeps_its_channels() -> None:
    radiance = np.zeros((8, 8, 3), np.float32)
    radiance[..., 1] = 0.5
    pixels = develop(radiance, PLAIN)
    assert pixels[4, 4, 1] > 150
    assert pixels[4, 4, 0] == 0


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_reader_that_obeys_the_orientation_sees_the_upright_picture(orientation: int) -> None:
    pixels = np.zeros((32, 64, 3), np.uint8)
    pixels[:16, :16] = (250, 20, 20)
    data = jpeg(pixels, replace(PLAIN, orientation=orientation, jpeg_quality=95))
    stored = Image.open(io.BytesIO(data))
    assert stored.size == ((64, 32) if orientation < 5 else (32, 64))
    seen = np.asarray(ImageOps.exif_transpose(stored)).astype(int)
    assert seen.shape == pixels.shape
    assert np.abs(seen - pixels).mean() < 6


def test_the_file_states_the_rounded_focal_length() -> None:
    exif = Image.open(io.BytesIO(jpeg(np.zeros((8, 8, 3), np.uint8), PLAIN))).getexif()
    assert exif.get_ifd(0x8769)[41989] == 26
