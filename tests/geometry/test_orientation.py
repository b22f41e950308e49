"""A picture turned by EXIF keeps its millimetres."""

import numpy as np
import pytest
import worlds

from photomeasure.geometry.camera import distort, undistort
from photomeasure.geometry.orientation import TURN, turned_camera, turned_size

SENSOR = (4032, 3024)
LENS = np.array([3005.0, 2030.0, 1495.0, 0.03, -0.02, 4e-4, -3e-4, 0.01])


def turned_pixels(px: np.ndarray, orientation: int) -> np.ndarray:
    """Pixels of the sensor where the upright picture has them, by turning an index picture."""
    turn = TURN[orientation]
    far = np.abs(turn) @ (np.array(SENSOR) - 1.0)
    return px @ turn.T + np.where(turn.sum(axis=1) < 0, far, 0.0)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turning_the_camera_is_turning_its_pixels(orientation):
    """Sight lines through turned pixels are the sensor's own, turned: the same millimetres."""
    px = np.array([[100.0, 50.0], [3900.0, 200.0], [2000.0, 2900.0], [700.0, 1800.0]])
    matrix, offset = turned_camera(SENSOR, orientation)
    upright = matrix @ LENS + offset
    on_sensor = undistort((px - LENS[1:3]) / LENS[0], LENS)
    seen = turned_pixels(px, orientation)
    in_upright = undistort((seen - upright[1:3]) / upright[0], upright)
    np.testing.assert_allclose(in_upright, on_sensor @ TURN[orientation].T, atol=1e-9)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_pixels_turn_as_the_picture_does(orientation):
    """The turn of positions is the one that numpy gives to the picture itself."""
    small = np.arange(12).reshape(3, 4)
    stored = {
        1: small,
        2: small[:, ::-1],
        3: small[::-1, ::-1],
        4: small[::-1],
        5: small.T,
        6: small[::-1].T,
        7: small[::-1, ::-1].T,
        8: small.T[::-1],
    }[orientation]
    turn = TURN[orientation]
    offset = np.where(turn.sum(axis=1) < 0, np.abs(turn) @ np.array([3, 2]), 0)
    for y, x in np.ndindex(3, 4):
        column, row = (turn @ [x, y] + offset).astype(int)
        assert stored[row, column] == small[y, x]
    assert turned_size((4, 3), orientation) == (stored.shape[1], stored.shape[0])


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_covariance_turns_and_turns_back(orientation):
    """The turn of the parameters is orthogonal: no variance is gained or lost on the way."""
    matrix, _ = turned_camera(SENSOR, orientation)
    np.testing.assert_allclose(matrix @ matrix.T, np.eye(8), atol=1e-12)


def test_a_turned_lens_still_bends_the_same_way():
    """Distorting and undistorting with a turned lens are inverse."""
    matrix, offset = turned_camera(SENSOR, 6)
    camera = matrix @ LENS + offset
    rays = np.array([[0.3, -0.4], [-0.1, 0.2]])
    np.testing.assert_allclose(undistort(distort(rays, camera), camera), rays, atol=1e-9)
    assert turned_size(SENSOR, 6) == worlds.SIZE
