"""Offset, mirror and rounding agree with closed forms and with shapely."""

import numpy as np
import pytest
import shapely
from made_parts import cover, rectangle

from photomeasure.errors import GeometryError
from photomeasure.parts.profiles import area_mm2, box_mm, polygon
from photomeasure.parts.shaping import mirrored_part, offset, rounded
from photomeasure.records.part import MIRRORED


def test_rounding_takes_the_corners_off():
    """Four corners of radius r lose (4 − π) r² (closed form)."""
    assert area_mm2(rounded(rectangle(40, 30), 5)) == pytest.approx(1200 - (4 - np.pi) * 25)


def test_an_offset_outwards_has_its_closed_form():
    """A convex shape of area A and perimeter p grown by d: A + p·d + π·d² (Steiner)."""
    grown = offset(rectangle(40, 30), 3)
    assert area_mm2(grown) == pytest.approx(1200 + 140 * 3 + np.pi * 9, abs=0.01)
    assert len(grown.points_mm) == 8


@pytest.mark.parametrize("by", [2.0, -2.0, -6.0])
def test_offsets_agree_with_shapely(by):
    """The offset lies within 0.005 mm of shapely's finely divided buffer everywhere."""
    profile = rounded(rectangle(40, 30), 5)
    expected = polygon(profile, 1e-5).buffer(by, quad_segs=512)
    found = polygon(offset(profile, by), 1e-5)
    assert shapely.hausdorff_distance(found.exterior, expected.exterior) < 0.005


def test_an_offset_that_leaves_nothing_is_refused():
    """Twenty millimetres off every side of a plate of thirty."""
    with pytest.raises(GeometryError, match="Offset by less"):
        offset(rectangle(40, 30), -20)


def test_a_radius_too_large_for_its_side_is_refused():
    """Corners of 20 mm do not fit on a side of 30 mm."""
    with pytest.raises(GeometryError, match="smaller radius"):
        rounded(rectangle(40, 30), 20)


def test_a_mirrored_part_says_so_and_lies_in_the_same_box():
    """Seen from behind, x runs the other way; twice is the part again."""
    part = cover()
    back = mirrored_part(part)
    assert back.view_side == MIRRORED
    assert box_mm(back.outline) == pytest.approx(box_mm(part.outline))
    assert back.holes[1].centre_mm == pytest.approx((90, 10))
    assert mirrored_part(back).slots[0].angle_rad == pytest.approx(part.slots[0].angle_rad)
