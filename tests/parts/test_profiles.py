"""Areas, lengths, boxes and distances of lines and arcs are exact."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from made_parts import rectangle

from photomeasure.parts.profiles import (
    area_mm2,
    box_mm,
    circle,
    distance_mm,
    length_mm,
    mirrored,
    moved,
    polygon,
    profile_through,
    sampled,
    stadium,
)
from photomeasure.parts.shaping import rounded

angles = st.floats(-3, 3)
sizes = st.floats(1, 50)


@given(sizes, sizes, angles)
def test_a_stadium_has_its_closed_form(length, width, angle):
    """Area l·w + πw²/4 and length 2l + πw, however it lies."""
    profile = stadium((3, -7), length, width, angle)
    assert area_mm2(profile) == pytest.approx(length * width + np.pi * width**2 / 4)
    assert length_mm(profile) == pytest.approx(2 * length + np.pi * width)


@given(angles)
def test_turning_and_mirroring_change_no_area(angle):
    """An isometry keeps the area and the sense of the outline."""
    profile = rounded(rectangle(40, 25), 4)
    for changed in (moved(profile, angle, (5, 6)), mirrored(moved(profile, angle, (5, 6)))):
        assert area_mm2(changed) == pytest.approx(area_mm2(profile))
        assert polygon(changed, 0.01).is_valid


def test_area_and_box_agree_with_shapely():
    """A polygon within 0.0001 mm of the arcs has the same area and bounds (shapely)."""
    profile = moved(rounded(rectangle(40, 25), 6), 0.4, (1, 2))
    fine = polygon(profile, 1e-5)
    assert area_mm2(profile) == pytest.approx(fine.area, abs=0.01)
    assert box_mm(profile) == pytest.approx(fine.bounds, abs=1e-3)


def test_distances_agree_with_shapely():
    """Points anywhere are as far from the profile as from its fine polygon (shapely)."""
    profile = rounded(rectangle(40, 25), 6)
    points = np.random.default_rng(1).uniform(-10, 50, (200, 2))
    ring = polygon(profile, 1e-5).exterior
    apart = shapely.distance(shapely.points(points), ring)
    assert distance_mm(points, profile) == pytest.approx(apart, abs=1e-4)


def test_concentric_circles_are_as_far_apart_as_their_radii():
    """The Hausdorff distance of concentric circles is |R − r| (closed form)."""
    points, _ = sampled(circle((0, 0), 50), 0.5)
    assert distance_mm(points, circle((0, 0), 47)) == pytest.approx(3.0)


def test_a_piece_of_no_length_is_as_far_as_its_point():
    """Two joints that fell together while a fit is tried are no mistake."""
    corners = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 0.0], [0.0, 10.0]])
    folded = profile_through(corners, [0.0] * 4)
    assert distance_mm(np.array([[12.0, 0.0], [5.0, -3.0]]), folded) == pytest.approx([2.0, 3.0])
