"""The numeric law of propagation keeps sources apart and correlations whole."""

import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.uncertainty.propagation import (
    budget,
    expanded_interval,
    jacobian,
    propagate,
    standard_uncertainties,
    total_covariance,
)


def test_jacobian_matches_the_derivatives():
    """Central differences equal the derivatives of a known function."""
    x = np.array([2.0, 3.0])
    found = jacobian(lambda v: [v[0] * v[1], np.sin(v[0])], x, np.array([1e-4, 1e-3]))
    assert np.allclose(found, [[3, 2], [np.cos(2), 0]], atol=1e-7)


def test_a_difference_of_the_same_input_is_exactly_certain():
    """x − x has an uncertainty of exactly 0, because both share their number."""
    slopes = jacobian(lambda v: v[0] - v[0], np.array([5.0]), 0.1)
    assert propagate(slopes, {"scale": np.array([[0.04]])})["scale"][0, 0] == 0.0


def test_the_budget_adds_up_to_the_whole():
    """Squares of the parts by source sum to the square of the whole, largest first."""
    slopes = np.array([[1.0, 2.0], [0.5, -1.0]])
    sources = {"height": np.diag([0.01, 0.0]), "scale": np.array([[0.04, 0.01], [0.01, 0.09]])}
    parts = propagate(slopes, sources)
    whole = standard_uncertainties(total_covariance(parts))
    for index in range(2):
        shares = budget(index, parts)
        assert sum(u * u for u in shares.values()) == pytest.approx(whole[index] ** 2)
        assert list(shares) == ["scale", "height"]


def test_a_variance_below_zero_by_rounding_counts_as_zero():
    """Rounding below zero gives 0, not an invalid number."""
    assert standard_uncertainties(np.array([[-1e-20]]))[0] == 0.0
    assert budget(0, {"scale": np.array([[-1e-20]])}) == {"scale": 0.0}


def test_interval_is_two_standard_uncertainties():
    """95 % is stated with k = 2."""
    assert expanded_interval(10.0, 0.05) == pytest.approx((9.9, 10.1))


def test_an_undefined_result_is_refused():
    """A result that is not finite near the inputs is an error, never a silent NaN."""
    with pytest.raises(GeometryError, match="not finite"):
        jacobian(lambda v: np.inf if v[0] > 1 else v[0], np.array([1.0]), 0.1)
