"""Steps whose sides are level, tilted alike, or tilted here and level there."""

import numpy as np
import pytest
from scipy.special import ndtr

from photomeasure.vision.level_sides import fit_steps_alike
from photomeasure.vision.steps import fit_steps

POSITIONS = np.arange(-7.0, 7.01, 0.5)
PLACES, BLUR_PX, SIZE = 80, 1.6, 0.6


def profiles(tilt_per_px, noise, seed=1):
    """(N, B) steps of SIZE at 0; tilt_per_px : (N,) of the side after it."""
    step = 0.15 + SIZE * ndtr(POSITIONS / BLUR_PX)
    tilted = step + np.outer(tilt_per_px, POSITIONS * ndtr(POSITIONS / BLUR_PX))
    return tilted + np.random.default_rng(seed).normal(0, noise, tilted.shape)


def offsets(light, fit):
    return fit(POSITIONS, light, np.ones_like(light), np.zeros(len(light))).offset_px


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


def test_level_sides_make_places_scatter_much_less():
    """What each place pays for tilts that are not there is paid back: about the Cramér–Rao
    ratio of the two models (see `benchmark/edge_bound.py`), here about 2."""
    light = profiles(np.zeros(PLACES), 0.01)
    assert rms(offsets(light, fit_steps_alike)) < 0.65 * rms(offsets(light, fit_steps))


def test_a_tilt_common_to_all_places_is_kept():
    """A shadow that begins at the edge must not move it more than it moves each by itself."""
    light = profiles(np.full(PLACES, 0.012 * SIZE), 0.003)
    found = offsets(light, fit_steps_alike)
    assert found.mean() == pytest.approx(0.0, abs=0.01)
    assert found.mean() == pytest.approx(offsets(light, fit_steps).mean(), abs=0.003)


def test_where_half_is_tilted_each_place_goes_by_its_own_side():
    """A shadow over half of the edge: neither half is moved by the other."""
    tilts = np.where(np.arange(PLACES) < PLACES // 2, 0.03 * SIZE, 0.0)
    found = offsets(profiles(tilts, 0.003), fit_steps_alike)
    alone = offsets(profiles(tilts, 0.003), fit_steps)
    assert np.abs(found - alone).max() < 0.03
    assert found[: PLACES // 2].mean() == pytest.approx(alone[: PLACES // 2].mean(), abs=0.01)


def test_few_places_are_fitted_each_by_itself():
    """Too few to learn from."""
    light = profiles(np.zeros(6), 0.01)
    assert offsets(light, fit_steps_alike) == pytest.approx(offsets(light, fit_steps))
