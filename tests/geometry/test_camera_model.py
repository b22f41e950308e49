"""Points of the sheet to pixels and back, through the whole lens."""

import cv2
import numpy as np
import pytest
import worlds
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import (
    camera_centre,
    image_from_plane,
    image_from_space,
    plane_from_image,
    rotation_matrix,
    tilt_rad,
    undistort,
)

GRID = np.stack(np.meshgrid(np.linspace(-80, 80, 5), np.linspace(-120, 120, 7)), -1).reshape(-1, 2)


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 40), st.floats(0, 360), st.floats(-5, 60))
def test_there_and_back_is_the_same_point(tilt_deg, lean_deg, height_mm):
    """A point on a plane of any height comes back from its pixel within a nanometre."""
    view = worlds.looking_down(tilt_deg, lean_deg)
    px = image_from_plane(GRID, view, height_mm)
    np.testing.assert_allclose(plane_from_image(px, view, height_mm), GRID, atol=1e-6)


def test_the_model_is_opencvs():
    """Independent check: cv2.projectPoints gives the same pixels for the same numbers."""
    view = worlds.looking_down(25.0)
    f, cx, cy, *distortion = view[:8]
    space = np.column_stack([GRID, np.linspace(0, 30, len(GRID))])
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    theirs, _ = cv2.projectPoints(space, view[8:11], view[11:14], matrix, np.array(distortion))
    np.testing.assert_allclose(image_from_space(space, view), theirs.reshape(-1, 2), atol=1e-8)


def test_camera_centre_and_tilt_are_those_the_camera_was_put_at():
    """The camera stands where its pose puts it, and its tilt is the angle asked for."""
    view = worlds.looking_down(30.0, 0.0, 400.0)
    expected = 400 * np.array([np.sin(np.radians(30)), 0, np.cos(np.radians(30))])
    np.testing.assert_allclose(camera_centre(view), expected, atol=1e-9)
    assert np.degrees(tilt_rad(view)) == pytest.approx(30.0)


def test_a_height_error_enlarges_by_its_share_of_the_distance():
    """A face t above the sheet, seen as if on it, reads t/(Z - t) too big (from memory)."""
    view = worlds.looking_down(0.0, distance_mm=400.0)
    ends = np.array([[-50.0, 0.0], [50.0, 0.0]])
    seen = plane_from_image(image_from_plane(ends, view, 6.0), view, 0.0)
    assert np.linalg.norm(seen[1] - seen[0]) == pytest.approx(100 * (1 + 6 / 394), rel=1e-9)


def test_rotation_matrix_is_a_rotation():
    """The rotation keeps lengths and hands."""
    turn = rotation_matrix(np.array([0.3, -0.7, 1.1]))
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)


def test_what_lies_behind_the_camera_is_refused():
    """A point behind the lens has no pixel."""
    with pytest.raises(GeometryError, match="behind the camera"):
        image_from_plane(np.zeros((1, 2)), worlds.looking_down(0.0), 400.0)


def test_what_lies_above_the_horizon_is_refused():
    """A sight line that leaves upwards meets no plane, rather than one behind the camera."""
    view = worlds.looking_down(80.0, 90.0)
    with pytest.raises(GeometryError, match="above the horizon"):
        plane_from_image(np.array([[1500.0, 10.0], [1500.0, 4000.0]]), view, 0.0)


def test_a_lens_that_folds_back_is_refused():
    """A distortion that has no inverse at the rim is an error, never a NaN."""
    camera = worlds.CAMERA.copy()
    camera[3:] = [-0.9, 0.0, 0.0, 0.0, 0.0]
    with pytest.raises(GeometryError, match="folds back"):
        undistort(np.array([[0.6, 0.6]]), camera)
