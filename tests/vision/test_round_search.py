"""One click in a hole finds its rim."""

import flat_pictures as flat
import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.vision.round_search import ring_around


@pytest.mark.parametrize("click", [(350, 250), (372, 230), (300, 260)])
@pytest.mark.parametrize("radius", [20.0, 90.0])
def test_a_click_anywhere_in_the_middle_finds_the_rim(click, radius):
    """From the centre or most of a radius beside it, the same circle within 2 px."""
    off = (np.array(click, float) - [350, 250]) * radius / 90
    light = flat.noisy(flat.disc((350, 250), radius))
    click_mm = flat.mm(np.array([350, 250]) + off)
    places = ring_around(click_mm, light, flat.VIEW, 0.0).points_mm
    np.testing.assert_allclose(places.mean(axis=0), [0, 0], atol=0.2)
    np.testing.assert_allclose(np.linalg.norm(places, axis=1), radius / 10, atol=0.3)


def test_a_click_on_a_bare_face_is_refused():
    """Where no rim goes around the click, the remedy is to click on the rim."""
    light = flat.noisy(np.full(flat.SIZE, 0.4))
    with pytest.raises(GeometryError, match="three places on its rim"):
        ring_around(np.zeros(2), light, flat.VIEW, 0.0)


def test_of_several_circles_the_one_where_the_face_ends_is_taken():
    """A chamfered bore whose lower rim is far sharper than the rim of its face: clicked once
    beside its middle, the face's rim is found."""
    x, y = flat.grid()
    away = np.hypot(x - 350.0, y - 250.0)
    paper = np.hypot(x - 338.0, y - 262.0)
    light = flat.step(away - 130.0, 0.16, 0.10)
    light = np.where(away < 118.0, 0.02, light)
    light = flat.noisy(np.where((paper < 112.0) & (away < 118.0), 0.75, light), 0.003)
    places = ring_around(flat.mm(np.array([325.0, 270.0])), light, flat.VIEW, 0.0).points_mm
    np.testing.assert_allclose(np.linalg.norm(places, axis=1), 13.0, atol=0.3)
