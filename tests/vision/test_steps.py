"""Where along a profile the brightness steps."""

import numpy as np
import pytest
from scipy.special import ndtr

from photomeasure.vision.steps import fit_steps, fit_steps_beside_wall

POSITIONS = np.arange(-7.0, 7.01, 0.5)


@pytest.mark.parametrize("blur", [0.6, 1.0, 2.0])
def test_a_blurred_step_is_found_whatever_its_blur_and_way(blur):
    """Steps up and down at any place within two px come out within 0.001 px."""
    places = np.linspace(-2, 2, 9)
    share = ndtr((POSITIONS - places[:, None]) / blur)
    for low, high in ((0.05, 0.7), (0.7, 0.05)):
        steps = fit_steps(POSITIONS, low + (high - low) * share)
        np.testing.assert_allclose(steps.offset_px, places, atol=1e-3)
        np.testing.assert_allclose(steps.blur_px, blur, atol=0.01)
        np.testing.assert_allclose(steps.high - steps.low, high - low, atol=2e-3)


def test_the_stated_doubt_is_the_scatter():
    """Over 300 noisy profiles the offsets scatter by what they state, within 15 %."""
    rng = np.random.default_rng(1)
    profiles = 0.1 + 0.5 * ndtr(POSITIONS / 0.9) + rng.normal(0, 0.01, (300, len(POSITIONS)))
    steps = fit_steps(POSITIONS, profiles)
    assert np.std(steps.offset_px) == pytest.approx(np.median(steps.u_px), rel=0.15)
    assert abs(np.mean(steps.offset_px)) < 4 * np.std(steps.offset_px) / np.sqrt(300)


def test_samples_left_out_do_not_count():
    """A second edge beyond the weights changes nothing."""
    profile = 0.1 + 0.5 * ndtr(POSITIONS / 0.8)
    spoilt = np.where(POSITIONS > 4, 0.9, profile)
    weights = (POSITIONS <= 3.5).astype(float)[None]
    (offset,) = fit_steps(POSITIONS, spoilt[None], weights, np.zeros(1)).offset_px
    assert offset == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize("gap", [1.5, 3.0, -2.5])
@pytest.mark.parametrize("wall", [0.1, 0.25])
def test_an_edge_beside_its_wall_is_found_apart_from_it(gap, wall):
    """Face, a narrow wall, ground: the step from the face comes out, not the middle of both."""
    places = np.linspace(-0.8, 0.8, 5)
    near = ndtr((POSITIONS - places[:, None]) / 0.8)
    far = ndtr((POSITIONS - places[:, None] - gap) / 0.8)
    first, last = np.minimum(near, far), np.maximum(near, far)
    face, ground = 0.3, 0.7
    ends = (face, ground) if gap > 0 else (ground, face)
    profiles = ends[0] * (1 - last) + wall * (last - first) + ends[1] * first
    weights = np.ones_like(profiles)
    steps = fit_steps_beside_wall(POSITIONS, profiles, weights, np.full(5, gap), 0.8)
    np.testing.assert_allclose(steps.offset_px, places, atol=0.06)
