"""Where two black squares touch, whatever the phone made of the light."""

from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure.synthetic.flat import render
from photomeasure.synthetic.phone import develop
from photomeasure.synthetic.scene import TONE_CURVES
from photomeasure.vision.saddles import refine_saddles
from photomeasure.vision.sheets import sheet

SCENE = worlds.flange_scene(1.0)
BOX = (350, 2950, 1250, 3700)
LIGHT = render(SCENE, BOX)


def corners() -> tuple[np.ndarray, np.ndarray]:
    """True places of the saddles well inside the box and the sides of a square there, px."""
    mm = sheet("window-a4-A").saddles_mm
    px = SCENE.image_from_sheet(mm) - BOX[:2]
    size = np.array([BOX[2] - BOX[0], BOX[3] - BOX[1]])
    inside = ((px > 30) & (px < size - 30)).all(axis=1)
    axes = np.stack(
        [SCENE.image_from_sheet(mm + d) - BOX[:2] - px for d in ([8.0, 0.0], [0.0, 8.0])], axis=1
    )
    return px[inside], axes[inside]


@pytest.mark.parametrize("curve", TONE_CURVES)
def test_no_tone_curve_displaces_a_corner(curve):
    """Blur 0.8 px, sharpened, with noise: rms 0.04 px, mean 0.02 px, under every tone curve."""
    phone = replace(SCENE.phone, tone_curve=curve, noise=0.01, sharpening=0.6)
    grey = develop(LIGHT, phone, seed=3)[:, :, 0]
    truth, axes = corners()
    assert len(truth) > 15
    start = truth + np.random.default_rng(1).uniform(-2, 2, truth.shape)
    found = refine_saddles(grey, start, axes)
    miss = found.points_px[found.good] - truth[found.good]
    assert found.good.mean() > 0.9
    assert np.sqrt(np.mean(miss**2)) < 0.04
    assert np.abs(miss.mean(axis=0)).max() < 0.02


def test_the_stated_doubt_is_that_of_the_noise():
    """The corners' standard uncertainty is within a factor of two of their scatter."""
    phone = replace(SCENE.phone, noise=0.03, sharpening=0.0)
    truth, axes = corners()
    found = refine_saddles(develop(LIGHT, phone, seed=4)[:, :, 0], truth, axes)
    scatter = np.std(found.points_px[found.good] - truth[found.good])
    assert 0.5 < np.median(found.u_px[found.good]) / scatter < 2.0


def test_what_is_no_corner_is_not_called_one():
    """Flat grey, noise and a lone edge give no good corner."""
    rng = np.random.default_rng(2)
    _, axes = corners()
    grey = np.full((200, 600), 120.0) + rng.normal(0, 2, (200, 600))
    grey[:, 400:] += 80
    points = np.array([[100.0, 100.0], [250.0, 60.0], [400.0, 100.0]])
    found = refine_saddles(grey.astype(np.uint8), points, axes[:3])
    assert not found.good.any()
