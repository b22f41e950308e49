"""Inner boundaries become circles or slots with honest sizes, or a shape of their own."""

import numpy as np
import pytest
from made_parts import rectangle, seen

from photomeasure.errors import GeometryError
from photomeasure.parts.holes import opening_of
from photomeasure.parts.profiles import circle, stadium
from photomeasure.parts.shaping import rounded
from photomeasure.records.part import Contour, Profile, RoundHole, Slot


def test_a_round_hole_is_a_circle_with_its_doubt():
    """Diameter to 0.01 mm; its U holds the scale's share, 0.05 % of it."""
    hole = opening_of(seen(circle((30, 40), 10), 0.02), "H1", 0.1)
    assert isinstance(hole, RoundHole)
    assert hole.diameter.measured == pytest.approx(20, abs=0.015)
    assert hole.diameter.u == pytest.approx(np.hypot(20 * 0.0005, 0.0), rel=0.2)


def test_a_slot_is_a_slot():
    """Length between centres, width and angle come out."""
    slot = opening_of(seen(stadium((1, 2), 10, 6, 0.4), 0.02), "S1", 0.1)
    assert isinstance(slot, Slot)
    assert (slot.length_mm, slot.width.measured) == pytest.approx((10, 6), abs=0.03)
    assert slot.angle_rad == pytest.approx(0.4, abs=0.005)


def test_anything_else_keeps_its_shape():
    """A square opening with round corners is eight pieces."""
    found = opening_of(seen(rounded(rectangle(20, 20), 3), 0.02), "opening 1", 0.1)
    assert isinstance(found, Profile)
    assert len(found.points_mm) == 8


def test_dirt_in_a_hole_is_refused_with_its_place():
    """A circle with a dent over a sixth of its rim is not guessed."""
    clean = seen(circle((3, 4), 5), 0.02)
    turn = np.arctan2(*(clean.points_mm - [3, 4]).T[::-1])
    points = clean.points_mm - np.where(np.abs(turn) < 0.5, 1.2, 0.0)[:, None] * [1, 0]
    with pytest.raises(GeometryError, match="Clean the hole"):
        opening_of(Contour(points, clean.u_mm, clean.modes_mm), "opening 2", 0.1)
