"""The noise of a photo is read from its paper."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.checkup import check_photo
from photomeasure.records.check import Fitness
from photomeasure.vision.detection import detect_sheets, grey_of
from photomeasure.vision.noise import paper_noise


def grainy(photo, sigma):
    """The same, a little darker, with grey noise added, in coded levels."""
    grain = np.random.default_rng(4).normal(0, sigma, photo.pixels.shape[:2])[:, :, None]
    pixels = np.clip(np.round(photo.pixels * 0.8 + grain), 0, 255)
    return replace(photo, pixels=pixels.astype(np.uint8))


@pytest.mark.parametrize("sigma", [4.0, 10.0])
def test_added_noise_is_read_within_a_tenth(small_photo, sigma):
    """Its size comes out in coded levels, beside what the photo had; markers do not count."""
    own, photo = grainy(small_photo, 0.0), grainy(small_photo, sigma)
    (seen,) = detect_sheets(photo)
    before, after = (paper_noise(grey_of(p), seen) for p in (own, photo))
    assert before < 1.0
    assert np.sqrt(after**2 - before**2) == pytest.approx(sigma, rel=0.1)


def test_much_noise_asks_for_care(small_photo):
    """A noisy photo is named as such, with the limit and the remedy; a clean one is not."""
    check = check_photo(grainy(small_photo, 8.0))
    (found,) = [f for f in check.findings if f.about == "noise"]
    assert found.fitness is Fitness.WITH_CARE
    assert "more light" in found.words
    assert all(f.about != "noise" for f in check_photo(small_photo).findings)
