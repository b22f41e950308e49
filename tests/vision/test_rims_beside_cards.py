"""Which edge is the face's where no white paper lies behind it, and only feet and clicks tell."""

import flat_pictures as flat
import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.tone import _MEAN, Tone, light_of

STRAIGHT = np.array([1.0, 0.0, 0.0, 0.0, flat.BLUR_PX, 0.0, 1.0])
TONE = Tone(light_of(STRAIGHT), STRAIGHT, 1e-8 * np.eye(len(_MEAN)), 40, 0.5, 0.75)
EDGE_X = 600.0  # 250 px from the middle: a foot lies 250 · h / (300 - h) px nearer to it
NARROW_MM, WIDE_MM = 3.0, 6.0
FOOT_PX = {h: 250.0 * h / 300.0 for h in (NARROW_MM, WIDE_MM)}


def located(light: np.ndarray, height_mm: float, *, off_px: float = 1.5, on_paper: bool = False):
    """What is found with clicks this far beside the edge, above a floor that is no paper."""
    clicks = ((EDGE_X + off_px, 60.0), (EDGE_X + off_px, 440.0))
    entry = FeatureEntry("it", "edge", "photo", "face", clicks)
    scenery = Scenery(flat.noisy(light, 0.003), TONE, flat.VIEW, on_paper=on_paper)
    return locate(entry, scenery, height_mm)


@pytest.mark.parametrize("height_mm", [NARROW_MM, WIDE_MM])
def test_a_light_face_before_a_dark_floor_ends_where_the_light_changes(height_mm):
    """Its wall is hidden; a dark part whose wall shows no edge is the less likely reading."""
    x, _ = flat.grid()
    found = located(flat.step(x - EDGE_X, 0.28, 0.12), height_mm)
    assert found.points_px[:, 0].mean() == pytest.approx(EDGE_X, abs=0.1)


def test_a_wall_whose_foot_shows_is_not_looked_for_further_in():
    """A faint foot at its place is the foot, so the strong edge is the face's."""
    x, _ = flat.grid()
    foot = EDGE_X - FOOT_PX[WIDE_MM]
    light = flat.step(x - foot, 0.11, 0.08) + flat.step(x - EDGE_X, 0.0, 0.18)
    found = located(light, WIDE_MM)
    assert found.points_px[:, 0].mean() == pytest.approx(EDGE_X, abs=0.15)


def test_a_shadow_that_begins_to_fade_is_not_the_end_of_a_face():
    """Beside a sharp edge the floor grows lighter over 20 px: the sharp edge is taken, and not
    for the foot of a wall as light as the face, which shows no step of its own."""
    x, _ = flat.grid()
    fading = 0.06 * np.clip((EDGE_X - x) / 20.0, 0.0, 1.0)
    light = flat.step(x - EDGE_X, 0.06, 0.24) + np.where(x < EDGE_X, fading, 0.0)
    found = located(light, 4.9)
    assert found.points_px[:, 0].mean() == pytest.approx(EDGE_X, abs=0.3)


def test_an_edge_far_from_the_clicks_is_not_the_one_meant():
    """The band reaches as far as feet may lie; an edge 30 px off is refused, not taken."""
    x, _ = flat.grid()
    with pytest.raises(GeometryError, match="no edge was found within 14 px"):
        located(flat.step(x - EDGE_X + 30.0, 0.1, 0.4), 30.0)


def test_an_edge_wider_than_the_blur_explains_is_in_more_doubt():
    """A step half again as soft as the photo's blur may be a rounding or a shadow: which part
    of it is the edge stays open by a good part of a pixel."""
    x, _ = flat.grid()
    soft = flat.step((x - EDGE_X) / 1.6, 0.64, 0.34)
    sharp = flat.step(x - EDGE_X, 0.64, 0.34)
    before, after = (located(light, 0.0, on_paper=True) for light in (sharp, soft))
    assert after.points_px[:, 0].mean() == pytest.approx(EDGE_X, abs=0.2)
    assert before.u_shift_px < 0.2
    assert after.u_shift_px > 0.35


def test_an_edge_that_few_places_show_is_said_to_be_weak():
    """Seen along a third of its length it is located, with a warning and more doubt."""
    x, y = flat.grid()
    shown = (y > 180) & (y < 300)
    light = np.where(shown, flat.step(x - EDGE_X, 0.3, 0.45), 0.3)
    whole = located(flat.step(x - EDGE_X, 0.3, 0.45), 0.0)
    found = located(light, 0.0)
    assert found.points_px[:, 0].mean() == pytest.approx(EDGE_X, abs=0.3)
    assert any("of the places along it show this edge" in w for w in found.warnings)
    assert found.u_shift_px > whole.u_shift_px
    assert not any("of the places" in w for w in whole.warnings)


def test_a_floor_that_may_lie_elsewhere_adds_doubt_beside_a_narrow_wall():
    """A card may lean: where the wall may be wider or narrower, what that moves is budgeted."""
    x, _ = flat.grid()
    foot = EDGE_X - FOOT_PX[NARROW_MM]
    light = flat.step(x - foot, 0.30, 0.10) + flat.step(x - EDGE_X, 0.0, 0.05)
    clicks = ((EDGE_X + 1.0, 60.0), (EDGE_X + 1.0, 440.0))
    entry = FeatureEntry("it", "edge", "photo", "face", clicks)
    sure, unsure = (
        locate(
            entry,
            Scenery(flat.noisy(light, 0.003), TONE, flat.VIEW, on_paper=False, foot_u_mm=u_mm),
            NARROW_MM,
        )
        for u_mm in (0.0, 0.1)
    )
    assert unsure.u_shift_px >= sure.u_shift_px
    np.testing.assert_array_equal(unsure.points_px, sure.points_px)
