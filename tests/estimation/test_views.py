"""Corners seen become views, with a covariance that means what it says.

No pixels: corners come from the camera model, with noise of known size.
"""

from dataclasses import replace

import numpy as np
import pytest
import worlds
from scipy.stats import binom, chi2

from photomeasure.errors import CalibrationError, PhotoError
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.priors import LensPrior
from photomeasure.estimation.views import covariance_by_source, estimate_views
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.records.view import Solution
from photomeasure.vision.sheets import sheet

TILTED = worlds.looking_down(25.0)
NOISE_PX = 0.03


def solve(
    sightings: list[Sighting], scale: ScalePrior | None = None, prior: LensPrior | None = None
) -> Solution:
    """The views of these photos, taken with the phone unless a prior says otherwise."""
    lenses = {s.lens: prior or worlds.phone_prior() for s in sightings}
    scales = {s.observation.sheet: scale or worlds.printer() for s in sightings}
    return estimate_views(sightings, lenses, scales)[1]


def known(view: np.ndarray, u_focal_px: float = 1.0) -> LensPrior:
    """A camera record of the lens of a view."""
    u = np.array([u_focal_px, 1, 1, 2e-3, 2e-3, 5e-5, 5e-5, 2e-3])
    return LensPrior(view[:8].copy(), np.diag(u**2), worlds.SIZE, known=True)


def span_mm(solution: Solution, view: np.ndarray, k: int = 0) -> float:
    """What 100 mm in the middle of the sheet read in this solution."""
    ends = np.array([[-50.0, 10.0], [50.0, 10.0]])
    px = image_from_plane(ends, view, 0.0)
    a, b = plane_from_image(px, solution.views[k].parameters, 0.0)
    return float(np.linalg.norm(b - a))


def test_without_noise_the_millimetres_are_exact():
    """A perfect sheet with its bars measured reads true, though lens and pose are unknown."""
    solution = solve([worlds.sighting(TILTED)], worlds.printer(2e-4))
    assert span_mm(solution, TILTED) == pytest.approx(100.0, abs=1e-3)
    assert solution.views[0].residual_px < 0.005


def test_sources_add_up_to_the_joint_covariance():
    """The covariance of all unknowns is split among its sources without a remainder."""
    s = [worlds.sighting(TILTED, np.random.default_rng(1))]
    fit, solution = estimate_views(
        s, {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer()}
    )
    parts = covariance_by_source(fit)
    size = np.linalg.norm(fit.jacobian, axis=0)  # a metre and a radian are of different size
    scaled = fit.jacobian / size
    whole = np.linalg.inv(scaled.T @ scaled)
    total = sum(parts.values()) * np.outer(size, size)
    np.testing.assert_allclose(total, whole, atol=1e-5 * np.abs(whole).max())
    assert set(parts) == {"sheet corners", "lens", "print scale", "paper flatness"}
    assert set(solution.covariances) == set(parts)
    for part in solution.covariances.values():
        values = np.linalg.eigvalsh(part)
        assert values.min() > -1e-6 * values.max()


def test_the_covariance_is_what_estimating_again_and_again_shows():
    """Recovery: lens, print and paper drawn from their beliefs, corners from their noise.

    The normalised squared miss of the views is chi-square in its freedom; the share of the
    span's stated 95 % intervals that hold the truth lies in its binomial bounds.
    """
    rng = np.random.default_rng(20)
    prior, runs = worlds.phone_prior(), 70
    pulls, held = [], 0
    for _ in range(runs):
        lens = rng.multivariate_normal(prior.mean, prior.covariance / 4)
        view = np.concatenate([lens, TILTED[8:]])
        scale = 1 + 0.0003 * rng.standard_normal(2)
        s = worlds.sighting(view, rng, noise_px=NOISE_PX, scale=tuple(scale))
        believed = replace(prior, covariance=prior.covariance / 4)
        solution = solve([s], worlds.printer(0.0003), believed)
        pose = slice(8, 14)
        miss = solution.values[pose] - view[pose]
        covariance = solution.covariance[pose, pose]
        pulls.append(float(miss @ np.linalg.solve(covariance, miss)))
        held += _span_held(solution, view)
    low, high = chi2.ppf([0.001, 0.999], 6 * runs)
    # Flatness and breathing are believed but were not drawn, so a little less than 6 each.
    assert 0.6 * low < sum(pulls) < high
    assert held >= binom.ppf(0.001, runs, 0.95)


def _span_held(solution: Solution, view: np.ndarray) -> bool:
    truth, found = 100.0, span_mm(solution, view)
    slopes = np.zeros(14)
    for i, step in enumerate(np.sqrt(np.diag(solution.covariance))):
        move = np.zeros(14)
        move[i] = 0.01 * step
        ahead = replace_view(solution, solution.values + move)
        behind = replace_view(solution, solution.values - move)
        slopes[i] = (span_mm(ahead, view) - span_mm(behind, view)) / (0.02 * step)
    u = float(np.sqrt(slopes @ solution.covariance @ slopes))
    return abs(found - truth) <= 1.96 * u


def replace_view(solution: Solution, values: np.ndarray) -> Solution:
    """The solution of one photo with other numbers."""
    view = replace(solution.views[0], camera=values[:8], pose=values[8:])
    return replace(solution, views=(view,), values=values)


def test_bar_readings_set_the_scale():
    """A sheet printed 1 % too large reads true once its bars were measured."""
    s = [worlds.sighting(TILTED, scale=(1.01, 1.01))]
    blind = solve(s)
    read = solve(s, ScalePrior(np.full(2, 1.01), np.full(2, 2e-4)))
    assert span_mm(blind, TILTED) == pytest.approx(99.0, abs=0.05)
    assert span_mm(read, TILTED) == pytest.approx(100.0, abs=0.01)
    assert read.covariances["print scale"].trace() < blind.covariances["print scale"].trace()


def test_bar_readings_of_another_print_are_noticed():
    """Readings whose x and y are exchanged contradict the picture, and are refused."""
    s = [worlds.sighting(TILTED, scale=(1.003, 0.998))]
    exchanged = ScalePrior(np.array([0.998, 1.003]), np.full(2, 3e-4))
    with pytest.raises(CalibrationError, match=r"bars? "):
        solve(s, exchanged, known(TILTED))


def test_photos_of_one_lens_share_what_they_learn():
    """Three photos that share a lens know its focal length better than each alone."""
    rng = np.random.default_rng(4)
    views = [worlds.looking_down(t, lean) for t, lean in ((20, 0), (25, 120), (30, 240))]
    several = [
        worlds.sighting(v, rng, name=f"photo {k}", noise_px=NOISE_PX) for k, v in enumerate(views)
    ]
    together, alone = solve(several), solve(several[:1])
    assert together.covariance[0, 0] < 0.7 * alone.covariance[0, 0]


def test_focusing_anew_is_not_forced_into_one_focal_length():
    """Two photos whose focal lengths differ by 0.4 % both read true."""
    other = worlds.looking_down(28.0, 200.0)
    other[0] *= 1.004
    views = [TILTED, other]
    both = solve([worlds.sighting(v, name=f"photo {k}") for k, v in enumerate(views)])
    for k, view in enumerate(views):
        assert span_mm(both, view, k) == pytest.approx(100.0, abs=0.02)
    assert both.views[1].camera[0] > both.views[0].camera[0]


def test_a_camera_record_says_more_than_exif():
    """With a record the middle of the sheet is read with a smaller covariance."""
    s = [worlds.sighting(TILTED, np.random.default_rng(2))]
    assert solve(s, prior=known(TILTED)).covariance[0, 0] < solve(s).covariance[0, 0] / 10


@pytest.mark.parametrize("factor", [0.8, 0.95, 1.05, 1.6, 3.0])
def test_a_record_of_another_camera_is_refused(factor):
    """A record whose focal length is off is not bent to fit by pose and breathing."""
    wrong = TILTED.copy()
    wrong[0] *= factor
    with pytest.raises(CalibrationError, match="another camera, lens or zoom") as told:
        solve([worlds.sighting(TILTED)], prior=known(wrong))
    assert "uncertaint" not in str(told.value)


def test_corners_that_were_taken_for_others_are_left_out():
    """Corners off by many pixels count exactly as if they had not been seen."""
    s = worlds.sighting(TILTED, np.random.default_rng(3), noise_px=NOISE_PX)
    px = s.observation.saddles_px.copy()
    px[::20] += np.array([7.0, -4.0])
    spoilt = replace(s, observation=replace(s.observation, saddles_px=px))
    kept = replace(s.observation, saddles_px=np.delete(px, np.s_[::20], 0))
    kept = replace(kept, saddles_mm=np.delete(kept.saddles_mm, np.s_[::20], 0))
    without = solve([replace(s, observation=kept)])
    assert span_mm(solve([spoilt]), TILTED) == pytest.approx(span_mm(without, TILTED), abs=1e-4)


def test_a_sheet_that_is_not_one_plane_is_refused():
    """Half of the corners moved by a fold or a panorama's seam are no view."""
    s = worlds.sighting(TILTED)
    px = s.observation.saddles_px + np.where(
        s.observation.saddles_mm[:, :1] > 0, [[25.0, 12.0]], 0.0
    )
    px[s.observation.saddles_mm[:, 1] > 20] += np.array([-20.0, 30.0])
    torn = replace(s, observation=replace(s.observation, saddles_px=px))
    with pytest.raises(PhotoError, match=r"photo: .*[Ll]ay the sheet flat"):
        solve([torn])


def test_paper_that_lifts_at_its_rim_is_absorbed():
    """A side lifted by 0.4 mm, as its paper may, costs the middle under 0.02 mm in 100."""
    design = sheet("window-a4-A").saddles_mm
    beyond = np.clip((design[:, 0] - 60) / 30, 0, None)
    s = worlds.sighting(TILTED, height_mm=0.4 * beyond**2)
    solution = solve([s], prior=known(TILTED))
    assert span_mm(solution, TILTED) == pytest.approx(100.0, abs=0.02)
    assert solution.views[0].residual_px < 0.1
    assert solution.covariances["paper flatness"].trace() > 0


def test_held_out_error_is_about_that_of_a_corner():
    """Each corner predicted by all the others misses by its own noise, in mm."""
    s = worlds.sighting(TILTED, np.random.default_rng(6), noise_px=0.05)
    px_per_mm = 3010 / 330
    assert solve([s]).views[0].held_out_mm == pytest.approx(0.05 / px_per_mm, rel=0.5)


def test_two_sheets_have_two_scales():
    """Photos of two sheets are solved together, each sheet with its own print."""
    a = worlds.sighting(TILTED, scale=(1.004, 1.0))
    b = worlds.sighting(worlds.looking_down(30.0), name="other", identity="window-a4-B")
    scales = {
        "window-a4-A": ScalePrior(np.array([1.004, 1.0]), np.full(2, 2e-4)),
        "window-a4-B": worlds.printer(2e-4),
    }
    _, solution = estimate_views([a, b], {"lens": worlds.phone_prior()}, scales)
    assert [v.sheet for v in solution.views] == ["window-a4-A", "window-a4-B"]
    for k, view in enumerate((TILTED, worlds.looking_down(30.0))):
        assert span_mm(solution, view, k) == pytest.approx(100.0, abs=0.02)
