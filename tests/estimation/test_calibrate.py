"""A camera record from board photos, and which photos make none."""

from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure.errors import CalibrationError
from photomeasure.estimation.calibrate import calibrate_camera
from photomeasure.estimation.lenses import lens_of
from photomeasure.records.photo import ExifFacts

POSES = ((5, 0), (25, 40), (30, 130), (35, 220), (28, 310))


def board_photos(rng: np.random.Generator, facts: ExifFacts = worlds.FACTS):
    """Sightings of a board from five sides and what their files say."""
    taken = [lens_of(f"{k}", facts, worlds.SIZE, None, {}) for k in range(len(POSES))]
    sightings = [
        worlds.sighting(
            worlds.looking_down(*pose), rng, name=f"{k}", identity="board-a4-A", lens=t.key
        )
        for k, (pose, t) in enumerate(zip(POSES, taken, strict=True))
    ]
    return sightings, [(facts, t) for t in taken]


def test_the_lens_is_recovered_within_its_covariance():
    """All eight numbers come out within four standard uncertainties, and f within 0.3 %."""
    record = calibrate_camera(*board_photos(np.random.default_rng(8))).record
    miss = record.parameters - worlds.CAMERA
    assert np.all(np.abs(miss) < 4 * np.sqrt(np.diag(record.covariance)))
    assert record.parameters[0] == pytest.approx(worlds.CAMERA[0], rel=3e-3)
    assert record.residual_px == pytest.approx(0.03, rel=0.25)
    assert (record.photos, record.exif_model) == (5, "Pippin 3")


def test_photos_held_upright_make_the_record_upright():
    """A record states the orientation of its photos and the lens as it looks in them."""
    facts = replace(worlds.FACTS, orientation=6)
    sightings, taken = board_photos(np.random.default_rng(8), facts)
    turned = [replace(s, orientation=6) for s in sightings]
    record = calibrate_camera(turned, taken).record
    assert (record.orientation, record.size_px) == (6, worlds.SIZE)
    np.testing.assert_allclose(record.parameters[1:3], worlds.CAMERA[1:3], atol=15)


def test_two_photos_are_too_few():
    """A record needs three photos and says so."""
    sightings, taken = board_photos(np.random.default_rng(1))
    with pytest.raises(CalibrationError, match="2 board photo"):
        calibrate_camera(sightings[:2], taken[:2])


def test_two_lenses_make_no_record():
    """Photos of two zooms are refused with what they are."""
    sightings, taken = board_photos(np.random.default_rng(1))
    other = replace(worlds.FACTS, focal_length_35mm=52)
    taken[0] = (other, lens_of("0", other, worlds.SIZE, None, {}))
    with pytest.raises(CalibrationError, match="2 different lenses, zooms or sizes"):
        calibrate_camera(sightings, taken)
