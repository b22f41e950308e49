"""Corners that are missed by more than their doubt: counted as fewer, told, or too many."""

import numpy as np
import pytest
import worlds

from photomeasure.errors import PhotoError
from photomeasure.estimation.alike import corners_as_one
from photomeasure.estimation.honest import honest_views
from photomeasure.estimation.views import estimate_views
from photomeasure.vision.sheets import sheet

SADDLES = sheet("window-a4-A").saddles_mm
GRID = 10.0 * np.stack(np.meshgrid(np.arange(14), np.arange(10)), axis=-1).reshape(-1, 2)


def test_noise_counts_corner_by_corner():
    misses = np.random.default_rng(1).normal(0, 0.1, GRID.shape)
    assert corners_as_one(GRID, misses) < 1.5


def test_waves_count_as_many_corners_as_they_are_long():
    """Waves of 80 mm: corners up to a quarter of that away err alike, about twelve at 10 mm."""
    wave = np.sin(2 * np.pi * GRID[:, :1] / 80.0)
    assert 5 < corners_as_one(GRID, np.hstack([wave, 0 * wave])) < 30


def test_exact_corners_are_one_each():
    assert corners_as_one(GRID, np.zeros_like(GRID)) == 1.0


def rippled(height_mm, seed=3):
    """A sheet with waves of 45 mm, too short for what paper is believed to do."""
    view = worlds.looking_down(25.0, lean_deg=80.0, distance_mm=310.0)
    wave = height_mm * np.sin(2 * np.pi * SADDLES @ np.array([0.8, 0.6]) / 45.0)
    return worlds.sighting(view, np.random.default_rng(seed), height_mm=wave)


def fitted(sighting):
    lenses, scales = {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer(3e-4)}
    return (
        estimate_views([sighting], lenses, scales),
        lambda: honest_views([sighting], lenses, scales),
    )


def test_ripples_widen_what_the_lens_is_said_to_be_instead_of_bending_it():
    """Lens and print stay what phones and printers make, in wider doubt, and it is told."""
    (flat, _), _ = fitted(rippled(0.0))
    (fit, _), honest = fitted(rippled(0.12))
    for belief in fit.unknowns.beliefs():
        assert belief.strain(fit.vector) < 4.0
    assert fit.unknowns.sightings[0].observation.u_px > (
        5 * flat.unknowns.sightings[0].observation.u_px
    )
    assert any("missed by" in w or "lifts" in w or "crease" in w for w in honest().warnings)


def test_high_ripples_are_refused_with_the_remedy():
    _, honest = fitted(rippled(1.2))
    with pytest.raises(PhotoError, match="flat"):
        honest()
