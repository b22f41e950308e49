"""Draws have the covariance asked for, repeat themselves, and give sound intervals."""

import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.uncertainty.monte_carlo import (
    coverage_interval,
    draw_samples,
    evaluate_samples,
    generator,
    seed_of,
    square_root,
)


def test_names_give_the_same_seed_everywhere():
    """A seed is a hash of the names, and parting the names differently changes it."""
    assert seed_of("gap", "left") == 6471553739881932652
    assert seed_of("gap", "left") != seed_of("gapleft")


def test_draws_have_the_covariance_asked_for():
    """40,000 draws show mean and covariance within 3 %, singular covariance included."""
    covariance = np.array([[4.0, 2.0, 2.0], [2.0, 1.0, 1.0], [2.0, 1.0, 3.0]])
    samples = draw_samples(np.array([1.0, 2.0, 3.0]), covariance, 40000, generator("test"))
    assert np.allclose(samples.mean(axis=0), [1, 2, 3], atol=0.03)
    assert np.allclose(np.cov(samples.T), covariance, atol=0.12)
    assert np.allclose(samples[:, 0] - 1, 2 * (samples[:, 1] - 2))


def test_a_covariance_off_by_rounding_is_repaired():
    """An eigenvalue a rounding error below zero does no harm; a real one is refused."""
    root = square_root(np.array([[1.0, 1.0 + 1e-12], [1.0 + 1e-12, 1.0]]))
    assert np.allclose(root @ root.T, 1.0)
    with pytest.raises(ValueError, match="negative"):
        square_root(np.diag([1.0, -0.5]))


def test_the_interval_of_a_skewed_distribution():
    """For an exponential the interval has equal tails left and right."""
    samples = -np.log(1 - (np.arange(100000) + 0.5) / 100000)
    assert coverage_interval(samples) == pytest.approx((-np.log(0.975), -np.log(0.025)), rel=1e-3)


def _root(values):
    if values[0] < 0:
        raise GeometryError("below zero")
    return [np.sqrt(values[0])]


def test_a_few_undefined_draws_are_left_out_and_many_refused():
    """One draw in 200 may fail; one in ten means the result is not defined."""
    few = np.ones((200, 1))
    few[0] = -1
    assert evaluate_samples(_root, few).shape == (199, 1)
    many = np.ones((200, 1))
    many[:20] = -1
    with pytest.raises(GeometryError, match="20 of 200"):
        evaluate_samples(_root, many)
