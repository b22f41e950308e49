"""Homographies come back exactly without noise, best with noise, and bad points are refused."""

import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.geometry.homography import apply_homography, estimate_homography

TRUE = np.array([[2.0, 0.1, 300.0], [0.2, 1.5, -40.0], [1e-3, 2e-3, 1.0]])


def test_exact_points_give_back_the_mapping():
    """Four and more points without noise return the matrix that made them."""
    rng = np.random.default_rng(1)
    for count in (4, 5, 60):
        src = rng.uniform(0, 100, (count, 2))
        found = estimate_homography(src, apply_homography(TRUE, src))
        assert np.allclose(found, TRUE, rtol=1e-7, atol=1e-9)


def test_refined_fit_is_a_minimum():
    """No small change of any entry lowers the sum of squared distances."""
    rng = np.random.default_rng(2)
    src = rng.uniform(0, 100, (30, 2))
    dst = apply_homography(TRUE, src) + rng.normal(0, 0.5, (30, 2))
    found = estimate_homography(src, dst)
    best = np.sum((apply_homography(found, src) - dst) ** 2)
    for index in range(8):
        for sign in (-1, 1):
            trial = found.ravel().copy()
            trial[index] += sign * 1e-4 * max(abs(trial[index]), 1e-3)
            assert np.sum((apply_homography(trial.reshape(3, 3), src) - dst) ** 2) > best


def test_zero_weight_removes_a_pair():
    """A wrong pair with no weight changes nothing."""
    src = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10], [5, 3]])
    dst = apply_homography(TRUE, src)
    dst[4] += 50
    found = estimate_homography(src, dst, np.array([1.0, 1, 1, 1, 0]))
    assert np.allclose(found, TRUE, rtol=1e-6)


@pytest.mark.parametrize(
    ("src", "said"),
    [
        ([[0, 0], [1, 0], [1, 1]], "needs 4"),
        ([[0, 0], [1, 0], [2, 0], [3, 0], [4, 0]], "one line"),
        ([[2, 2]] * 5, "coincide"),
    ],
)
def test_bad_points_are_refused(src, said):
    """Too few, collinear and coincident points raise GeometryError and say so."""
    points = np.array(src, float)
    with pytest.raises(GeometryError, match=said):
        estimate_homography(points, points)
