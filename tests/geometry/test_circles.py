"""Circle fits recover circles, do not depend on the frame, and refuse what is no circle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import (
    arc_seen_deg,
    fit_circle,
    fit_circle_covariance,
)


def arc(count: int, start_deg: float, end_deg: float, radius: float = 20.0) -> np.ndarray:
    angles = np.radians(np.linspace(start_deg, end_deg, count))
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


@given(
    st.floats(-300, 300), st.floats(-300, 300), st.floats(0.5, 200), st.floats(20, 360),
    st.integers(3, 40),
)  # fmt: skip
def test_exact_points_give_back_their_circle(x, y, radius, seen, count):
    """Points without noise on an arc of 20° or more return centre and radius."""
    points = np.add(arc(count, 0, seen * (count - 1) / count, radius), (x, y))
    centre, found = fit_circle(points)
    assert np.allclose(centre, [x, y], atol=1e-6 * (radius + 1))
    assert found == pytest.approx(radius, rel=1e-6)


def test_rotation_scale_and_shift_carry_the_fit_along():
    """A noisy fit moves with its points under a similarity."""
    rng = np.random.default_rng(1)
    points = arc(25, 10, 130) + rng.normal(0, 0.3, (25, 2))
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    centre, radius = fit_circle(points)
    moved, scaled = fit_circle(points @ turn.T * 2.5 + [40, -7])
    assert np.allclose(moved, turn @ centre * 2.5 + [40, -7], atol=1e-8)
    assert scaled == pytest.approx(2.5 * radius, rel=1e-10)


def test_a_weight_of_zero_removes_a_point():
    """A wild point with no weight changes nothing."""
    points = np.vstack([arc(12, 0, 300), [[100.0, 100.0]]])
    centre, radius = fit_circle(points, np.append(np.ones(12), 0.0))
    assert np.allclose(centre, 0, atol=1e-9)
    assert radius == pytest.approx(20)


def test_a_whole_weight_equals_repeating_the_point():
    """Weight 2 is the same as giving a point twice."""
    rng = np.random.default_rng(2)
    points = arc(8, 0, 200) + rng.normal(0, 0.2, (8, 2))
    weights = np.array([2.0, 1, 1, 1, 1, 1, 1, 1])
    weighted = fit_circle(points, weights)
    repeated = fit_circle(np.vstack([points[:1], points]))
    assert np.allclose([*weighted[0], weighted[1]], [*repeated[0], repeated[1]], atol=1e-9)


def test_geometric_fit_is_a_minimum():
    """No centre that scipy (Nelder–Mead) finds from the fit leaves less squared distance."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        points = arc(10, 0, rng.uniform(60, 350)) + rng.normal(0, 0.5, (10, 2))

        def cost(centre, points=points):
            lengths = np.hypot(*(points - centre).T)
            return float(np.sum((lengths - lengths.mean()) ** 2))

        centre, _ = fit_circle(points)
        assert cost(centre) <= minimize(cost, centre, method="Nelder-Mead").fun * (1 + 1e-9)


def test_covariance_agrees_with_repeated_noisy_fits():
    """The stated covariance of centre and radius is that of 3,000 noisy fits, within 10 %."""
    rng = np.random.default_rng(4)
    clean = arc(40, 0, 150)
    found = [fit_circle(clean + rng.normal(0, 0.02, clean.shape)) for _ in range(3000)]
    spread = np.cov(np.array([[*centre, radius] for centre, radius in found]).T)
    stated = fit_circle_covariance(clean, np.zeros(2), 20.0, 0.02)
    assert np.allclose(spread, stated, atol=0.1 * np.max(np.diag(stated)))


@pytest.mark.parametrize(
    ("seen", "points"),
    [
        (360, arc(60, 0, 354)),
        (180, arc(60, 0, 180)),
        (90, arc(60, 300, 390)),
        (240, arc(3, 0, 240)),
    ],
)
def test_arc_seen_is_the_turn_less_the_widest_gap(seen, points):
    """Points all round count as 360°, an arc by its length, across the 0° line too."""
    expected = 360 if seen == 240 else seen
    assert arc_seen_deg(points, np.zeros(2)) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([[0, 0], [1, 0]], "2 points"),
        ([[0, 0], [1, 1], [2, 2]], "straight line"),
        ([[0, 0], [50, 1e-4], [100, 0]], "straight line"),
        ([[3, 3], [3, 3], [3, 3]], "coincide"),
        ([[0, 0], [1, 0], [np.nan, 2]], "finite"),
    ],
)
def test_what_is_no_circle_is_refused_in_words(points, said):
    """Too few, collinear, coincident and non-finite points raise GeometryError and say so."""
    with pytest.raises(GeometryError, match=said):
        fit_circle(np.array(points, float))


def test_weights_on_two_points_only_are_refused():
    """Two points that carry weight are as good as two points."""
    with pytest.raises(GeometryError, match="carry weight"):
        fit_circle(arc(5, 0, 200), np.array([1.0, 1, 0, 0, 0]))


def test_covariance_of_an_undetermined_circle_is_refused():
    """Three points on one spot of the circle fix neither radius nor centre."""
    with pytest.raises(GeometryError, match="do not fix"):
        fit_circle_covariance(np.tile([[20.0, 0.0]], (3, 1)), np.zeros(2), 20.0, 0.01)
