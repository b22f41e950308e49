"""Tubes and rows: several edges or points located as one feature, on pictures with exact edges."""

import flat_pictures as flat
import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.estimation.features import CLICK_U_PX
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.tone import _MEAN, Tone, light_of

STRAIGHT = np.array([1.0, 0.0, 0.0, 0.0, flat.BLUR_PX, 0.0, 1.0])
TONE = Tone(light_of(STRAIGHT), STRAIGHT, 1e-8 * np.eye(len(_MEAN)), 40, 0.5, 0.75)
UPPER, LOWER = 180.3, 300.7


def bar(highlight: float = 0.0, shadow: float = 0.0) -> np.ndarray:
    """A dark bar across the picture, perhaps with a sharp bright line in it or a shadow below."""
    _, y = flat.grid()
    middle, half = (UPPER + LOWER) / 2, (LOWER - UPPER) / 2
    light = flat.step(np.abs(y - middle) - half, 0.15, 0.75)
    if highlight:
        light += highlight * (1 - flat.step(np.abs(y - LOWER + 9.0) - 2.0, 0.0, 1.0))
    if shadow:
        light *= 1 - shadow * (1 - flat.step(np.abs(y - LOWER - 12.0) - 12.0, 0.0, 1.0))
    return light


def entry(kind: str, *clicks, **more) -> FeatureEntry:
    return FeatureEntry("it", kind, "photo", "sheet", tuple(clicks), **more)


def sides(*shifts_px: float) -> tuple:
    up, down = UPPER + shifts_px[0], LOWER + shifts_px[1]
    return (120.0, up), (580.0, up), (580.0, down), (120.0, down)


def located(light, asked, height=0.0):
    return locate(asked, Scenery(flat.noisy(light), TONE, flat.VIEW), height)


@pytest.mark.parametrize("height", [0.0, 12.0])
def test_both_sides_of_a_tube_are_found(height):
    """Clicks 3 px off: both edges within a few hundredths of a pixel, normals outwards."""
    found = located(bar(), entry("tube", *sides(3.0, -2.0)), height)
    upper = found.points_px[:, 1] < 240
    assert found.points_px[upper, 1].mean() == pytest.approx(UPPER, abs=0.05)
    assert found.points_px[~upper, 1].mean() == pytest.approx(LOWER, abs=0.05)
    assert (found.normals_px[upper, 1] < 0).all()
    assert (found.normals_px[~upper, 1] > 0).all()
    assert found.extent_px.shape == (4, 2)
    assert found.warnings == ()


def test_a_bright_line_inside_a_tube_is_not_its_side():
    """A highlight as sharp as the edge, 9 px inside it: the outermost edge is taken and the
    other is told."""
    found = located(bar(highlight=0.6), entry("tube", *sides(0.0, -3.0)))
    lower = found.points_px[:, 1] > 240
    assert found.points_px[lower, 1].mean() == pytest.approx(LOWER, abs=0.1)
    assert any("second side" in words for words in found.warnings)


def test_a_soft_shadow_beside_a_tube_is_not_its_side():
    """A shadow that takes a sixth of the light off the paper does not move the silhouette."""
    found = located(bar(shadow=0.16), entry("tube", *sides(0.0, 0.0)))
    lower = found.points_px[:, 1] > 240
    assert found.points_px[lower, 1].mean() == pytest.approx(LOWER, abs=0.15)


@pytest.mark.parametrize(
    ("clicks", "more", "words"),
    [
        (sides(0, 0)[:3], {}, "3 click"),
        ((*sides(0, 0), (300.0, LOWER)), {}, "5 clicks"),
        (sides(0, 0), {"choice": 1}, "choice"),
    ],
)
def test_clicks_that_make_no_tube_are_refused(clicks, more, words):
    """Too few, unequal halves, and a choice that could mean either side."""
    with pytest.raises(GeometryError, match=words):
        located(bar(), entry("tube", *clicks, **more))


def test_a_row_is_one_point_a_click():
    """Without corners everywhere the clicks stand as they are, with their doubt and a word."""
    clicks = [(100.0 + 40 * k, 100.0) for k in range(12)]
    found = located(bar(), entry("row", *clicks))
    np.testing.assert_array_equal(found.points_px, clicks)
    assert found.u_noise_px == CLICK_U_PX
    assert "Not every click" in found.warnings[0]


def test_a_row_on_corners_is_sharpened():
    """On the crossings of a chessboard every click moves to its corner."""
    x, y = flat.grid()
    waves = np.tanh(12 * np.sin(np.pi * (x - 0.3) / 60)) * np.tanh(12 * np.sin(np.pi * y / 60))
    clicks = [(60.3 * 1 + 60 * k + 1.5, 120.0 - 1.5) for k in range(8)]
    found = located(0.45 + 0.3 * waves, entry("row", *clicks))
    expected = [(60.3 + 60 * k, 120.0) for k in range(8)]
    np.testing.assert_allclose(found.points_px, expected, atol=0.15)
    assert found.u_noise_px < CLICK_U_PX


def test_a_row_has_a_limit():
    """More clicks than anybody makes are refused in words."""
    with pytest.raises(GeometryError, match="101 clicks"):
        located(bar(), entry("row", *[(5.0 * k, 100.0) for k in range(101)]))
