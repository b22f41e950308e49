"""All lines of change along a path are found, and none that is not there."""

import flat_pictures as flat
import numpy as np

from photomeasure.vision.band import sample_band
from photomeasure.vision.paths import path_of
from photomeasure.vision.ridges import find_ridges, follow


def band_along(light: np.ndarray, kind: str, clicks: np.ndarray, half_px: float = 20.0):
    path = path_of(kind, np.asarray(clicks, float), light, flat.VIEW, 0.0)
    return sample_band(light, path, half_px)


def two_edges() -> np.ndarray:
    """Dark left of x = 300.4, grey to 309.2, light beyond."""
    x, _ = flat.grid()
    light = flat.step(x - 300.4, 0.1, 0.4) + flat.step(x - 309.2, 0.0, 0.35)
    return flat.noisy(light)


def test_edges_side_by_side_are_two_ridges():
    """An edge and its neighbour 8.8 px beside it are both found within 0.3 px."""
    band = band_along(two_edges(), "edge", [[303, 80], [303, 420]])
    ridges = find_ridges(band)
    across = np.sign(band.path.normals_px[0, 0])
    places = sorted(303 + across * r.offset_px.mean() for r in ridges[:2])
    np.testing.assert_allclose(places, [300.4, 309.2], atol=0.3)
    assert all(r.share > 0.9 for r in ridges[:2])


def test_an_edge_that_runs_askew_of_the_clicks_is_one_ridge():
    """Clicks off by 6 px at one end still give the whole edge."""
    x, y = flat.grid()
    light = flat.noisy(flat.step(x - 300 - 0.02 * (y - 250), 0.1, 0.7))
    ridge = find_ridges(band_along(light, "edge", [[303, 80], [297, 420]]))[0]
    assert ridge.share > 0.95
    assert abs(np.ptp(ridge.offset_px)) > 10


def test_nothing_but_noise_is_no_ridge():
    """Noise alone gives no line of change."""
    light = flat.noisy(np.full(flat.SIZE, 0.5), 0.01)
    assert find_ridges(band_along(light, "edge", [[303, 80], [303, 420]])) == ()


def test_a_third_hidden_rim_is_still_a_ridge():
    """A circle whose third is covered is found from the rest, and says how much it saw."""
    light = flat.disc((350, 250), 90)
    light[:200, 350:] = 0.5
    clicks = [[260, 250], [350, 340], [286.4, 313.6]]
    ridge = find_ridges(band_along(flat.noisy(light), "circle", clicks))[0]
    assert 0.5 < ridge.share < 0.85
    assert np.abs(ridge.offset_px).max() < 0.5


def test_a_free_curve_is_traced():
    """A wave of 6 px that the clicks only sketch is followed within half a pixel."""
    x, y = flat.grid()
    wave = 250 + 6 * np.sin(x / 45)
    light = flat.noisy(flat.step(y - wave, 0.1, 0.7))
    clicks = np.array([[c, 250 + 6 * np.sin(c / 45) + 2] for c in (100, 250, 400, 600)])
    band = band_along(light, "curve", clicks)
    (ridge,) = find_ridges(band)
    found = band.path.points_px + ridge.offset_px[:, None] * band.path.normals_px
    miss = found[:, 1] - (250 + 6 * np.sin(found[:, 0] / 45))
    assert np.sqrt(np.mean(miss**2)) < 0.5


def test_a_sharp_line_that_leaves_the_band_hides_no_faint_edge():
    """A border that crosses the band aslant, twenty times as strong, is no line along it."""
    x, y = flat.grid()
    light = flat.step(x - 300.4, 0.10, 0.13) + flat.step(x - 300 - 0.6 * (y - 250), 0.0, 0.6)
    ridges = find_ridges(band_along(flat.noisy(light, 0.001), "edge", [[301, 80], [301, 420]]))
    away = [abs(r.offset_px).mean() for r in ridges if r.share > 0.6]
    assert away
    assert min(away) < 1.0


def test_an_edge_known_within_a_pixel_is_followed_to_its_own_place():
    """From a line 1.2 px off at one end, the edge itself: its flank does not hold the line."""
    x, _ = flat.grid()
    band = band_along(flat.noisy(flat.step(x - 302.0, 0.2, 0.7)), "edge", [[303, 80], [303, 420]])
    true = np.sign(band.path.normals_px[0, 0]) * -1.0
    askew = true + np.linspace(-1.2, 1.2, len(band.light))
    found = follow(band, askew)
    assert found is not None
    assert np.abs(found.offset_px - true).max() < 0.2
