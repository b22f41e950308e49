"""Probabilities of conformity, agreement of two results, and bounds of a count."""

import numpy as np
import pytest
from scipy.stats import binom

from photomeasure.uncertainty.coverage import (
    binomial_bounds,
    e_number,
    probability_within,
    share_within,
)


def test_two_sided_probability_is_both_tails():
    """In the middle of limits 2 u away on both sides, 95.45 % lie within."""
    assert probability_within(5.0, 1.0, 3.0, 7.0) == pytest.approx(0.9545, abs=1e-4)


def test_no_uncertainty_decides_outright():
    """With u = 0 the limit itself still obeys."""
    assert probability_within(5.0, 0.0, at_least=5.0) == 1.0
    assert probability_within(4.9, 0.0, at_least=5.0) == 0.0


def test_samples_and_gaussian_agree():
    """Draws from a Gaussian give its probability within 1 %."""
    samples = np.random.default_rng(1).normal(10, 0.5, 100000)
    assert share_within(samples, at_least=9.5) == pytest.approx(
        probability_within(10, 0.5, at_least=9.5), abs=0.01
    )


def test_e_number_is_one_at_the_joint_uncertainty():
    """A difference of √(U² + U_ref²) gives E_n = 1; no uncertainty at all is refused."""
    assert e_number(10.5, 0.3, 10.0, 0.4) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="uncertainty"):
        e_number(1, 0, 1, 0)


def test_binomial_bounds_hold_by_the_binomial_itself():
    """At each bound the count is as improbable as the tail says (scipy's binomial)."""
    low, high = binomial_bounds(95, 100)
    assert binom.sf(94, 100, low) == pytest.approx(0.025)
    assert binom.cdf(95, 100, high) == pytest.approx(0.025)
    assert binomial_bounds(0, 10)[0] == 0.0
    assert binomial_bounds(10, 10)[1] == 1.0
    with pytest.raises(ValueError, match="not a count"):
        binomial_bounds(3, 2)
