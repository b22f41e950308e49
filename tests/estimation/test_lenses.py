"""Which lens took a photo, and what is believed of it beforehand."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import worlds

from photomeasure.errors import CalibrationError
from photomeasure.estimation.lenses import lens_of
from photomeasure.estimation.priors import lens_from_exif, lens_from_record
from photomeasure.geometry.orientation import turned_camera, turned_size
from photomeasure.records.photo import ExifFacts
from photomeasure.records.view import CameraRecord

SENSOR = (4032, 3024)
LENS = np.array([3005.0, 2030.0, 1495.0, 0.03, -0.02, 4e-4, -3e-4, 0.01])


def record(orientation: int = 1) -> CameraRecord:
    """The same lens recorded from photos in this orientation."""
    matrix, offset = turned_camera(SENSOR, orientation)
    covariance = matrix @ np.diag(np.arange(1.0, 9.0)) @ matrix.T
    size = turned_size(SENSOR, orientation)
    return CameraRecord("", size, orientation, matrix @ LENS + offset, covariance, 0.1, 6, 800)


@pytest.mark.parametrize("made_in", range(1, 9))
def test_a_record_of_any_orientation_is_the_same_lens(made_in):
    """Turned back to the sensor, records from photos of all eight orientations agree."""
    prior = lens_from_record(record(made_in))
    assert prior.size_px == SENSOR
    np.testing.assert_allclose(prior.mean, LENS, atol=1e-9)
    others = [0, 1, 2, 5, 6]  # what a bend of the whole lens leaves alone
    np.testing.assert_allclose(
        prior.covariance[others], np.diag(np.arange(1.0, 9.0))[others], atol=1e-9
    )


def test_a_record_leaves_a_lens_room_to_bend_by_a_part_of_a_pixel():
    """What is added to a record's doubt moves the picture by that much, by OpenCV's own model."""
    prior = lens_from_record(replace(record(), covariance=np.zeros((8, 8))))
    matrix = np.array([[LENS[0], 0, LENS[1]], [0, LENS[0], LENS[2]], [0, 0, 1]])
    corner = np.hypot(*SENSOR) / 2 / LENS[0]
    rays = np.column_stack([np.linspace(corner / 33, corner, 33), np.zeros(33), np.ones(33)])
    still = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix, np.zeros(5))[0]
    draws = np.random.default_rng(5).multivariate_normal(np.zeros(8), prior.covariance, 2000)
    moved = [
        cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix, bend[3:])[0] - still
        for bend in draws
    ]
    assert np.sqrt(np.mean(np.square(np.squeeze(moved)[:, :, 0]))) == pytest.approx(0.1, rel=0.05)


def test_a_record_serves_a_photo_that_was_turned():
    """An upright photo marked "turned right" is of the record's sensor; one without EXIF too."""
    for orientation in (6, 8, 1):
        facts = ExifFacts(orientation=orientation)
        taken = lens_of("photo", facts, worlds.SIZE, "a", {"a": record()})
        assert taken.prior.size_px == SENSOR
        assert turned_size(taken.prior.size_px, taken.orientation) == worlds.SIZE


@pytest.mark.parametrize(
    ("facts", "size"),
    [
        (ExifFacts(model="Costard 12"), SENSOR),
        (ExifFacts(lens="2x"), SENSOR),
        (ExifFacts(), (4000, 3000)),
    ],
    ids=["model", "lens", "size"],
)
def test_a_record_of_another_camera_is_refused(facts, size):
    """Model, lens and size must be those of the record; the photo is named."""
    known = replace(record(), exif_model="Pippin 3", exif_lens="main")
    with pytest.raises(CalibrationError, match=r"^photo: .*record"):
        lens_of("photo", facts, size, "a", {"a": known})


def test_photos_of_one_phone_share_a_lens_and_strangers_do_not():
    """One model, zoom and size is one lens; without EXIF every photo stands alone."""
    one, two = (lens_of(n, worlds.FACTS, worlds.SIZE, None, {}).key for n in ("a", "b"))
    assert one == two
    zoomed = ExifFacts(make="Orchard", model="Pippin 3", focal_length_35mm=52)
    assert lens_of("a", zoomed, worlds.SIZE, None, {}).key != one
    bare = [lens_of(n, ExifFacts(), worlds.SIZE, None, {}).key for n in ("a", "b")]
    assert bare[0] != bare[1]


def test_exif_narrows_the_focal_length():
    """26 mm equivalent on 4032 px lies between its two conventions; without it a wide guess."""
    said, guessed = (lens_from_exif(f, SENSOR) for f in (worlds.FACTS, ExifFacts()))
    assert 26 / 36 * 4032 <= said.mean[0] <= 26 / np.hypot(36, 24) * np.hypot(*SENSOR)
    assert guessed.covariance[0, 0] > 20 * said.covariance[0, 0]


def test_a_cropped_picture_has_its_centre_anywhere():
    """Another shape than the camera wrote leaves focal length and centre open; a size does not."""
    facts = replace(worlds.FACTS, stated_px=SENSOR)
    width, height = SENSOR
    whole, resized, cropped = (
        lens_from_exif(facts, size)
        for size in (SENSOR, (width // 2, height // 2), (width, height * 3 // 5))
    )
    centre_u = [float(np.sqrt(p.covariance[1, 1])) / max(p.size_px) for p in (whole, resized)]
    assert centre_u[0] == pytest.approx(centre_u[1])
    assert np.sqrt(cropped.covariance[2, 2]) > 0.15 * max(cropped.size_px)
    assert np.sqrt(cropped.covariance[0, 0]) > 0.2 * cropped.mean[0]
