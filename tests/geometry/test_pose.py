"""The pose of a plane is found from where its points appear."""

import numpy as np
import pytest
import worlds
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import camera_centre, image_from_plane
from photomeasure.geometry.pose import pose_from_plane
from photomeasure.vision.sheets import sheet

SADDLES = sheet("window-a4-A").saddles_mm


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 50), st.floats(0, 360), st.floats(250, 900))
def test_noise_free_points_give_the_exact_pose(tilt_deg, lean_deg, distance_mm):
    """From any side and distance the camera is found where it stood."""
    view = worlds.looking_down(tilt_deg, lean_deg, distance_mm)
    pose = pose_from_plane(SADDLES, image_from_plane(SADDLES, view, 0.0), view[:8])
    found = camera_centre(np.concatenate([view[:8], pose]))
    np.testing.assert_allclose(found, camera_centre(view), atol=1e-4)


def test_points_on_a_line_give_no_pose():
    """Collinear corners are refused in words."""
    view = worlds.looking_down(20.0)
    line = np.column_stack([np.linspace(-50, 50, 6), np.zeros(6)])
    with pytest.raises(GeometryError):
        pose_from_plane(line, image_from_plane(line, view, 0.0), view[:8])
