"""Propagation, Monte Carlo and conformity against the worked examples of the guides.

JCGM 100:2008 (GUM) H.1: inputs and results from memory. JCGM 101:2008 9.2: exact values by
Irwin and Hall, computed. JCGM 101 9.5: result read second-hand (Metrology 2(1):3, 2022),
inputs from memory. JCGM 106:2012 table and ISO 14253-1:2017 guard band: from memory, and
equal to the Gaussian's own numbers.
"""

import numpy as np
import pytest

from photomeasure.uncertainty.coverage import guard_band, probability_within
from photomeasure.uncertainty.monte_carlo import coverage_interval, generator
from photomeasure.uncertainty.propagation import (
    budget,
    jacobian,
    propagate,
    standard_uncertainties,
    total_covariance,
)

LS_NM, D_NM = 50_000_623.0, 215.0


def gauge_block_nm(inputs: np.ndarray) -> np.ndarray:
    """l = ls + d − ls (δα θ + αs δθ), GUM H.1 equation (H.3); inputs (..., 6)."""
    ls, d, da, theta, alpha, dtheta = np.moveaxis(inputs, -1, 0)
    return np.asarray(ls + d - ls * (da * theta + alpha * dtheta))


def test_gum_h1_gauge_block_budget():
    """GUM H.1: 25, 9.7, 2.9 and 16.6 nm combine to 32 nm; α and θ enter only at second order."""
    x = np.array([LS_NM, D_NM, 0.0, -0.1, 11.5e-6, 0.0])
    u = np.array([25.0, 9.7, 0.58e-6, 0.41, 1.2e-6, 0.029])
    names = ("standard", "comparison", "expansion difference", "mean", "expansion", "difference")
    sources = {name: np.diag((np.arange(6) == k) * u**2) for k, name in enumerate(names)}
    parts = propagate(jacobian(gauge_block_nm, x, u / 10), sources)
    shares = budget(0, parts)
    assert shares["standard"] == pytest.approx(25, abs=0.05)
    assert shares["comparison"] == pytest.approx(9.7, abs=0.05)
    assert shares["expansion difference"] == pytest.approx(2.9, abs=0.05)
    assert shares["difference"] == pytest.approx(16.6, abs=0.1)
    assert shares["mean"] == pytest.approx(0, abs=1e-6)
    assert shares["expansion"] == pytest.approx(0, abs=1e-6)
    assert standard_uncertainties(total_covariance(parts))[0] == pytest.approx(32, abs=0.5)


@pytest.mark.parametrize(
    ("widths", "u", "half"), [((1, 1, 1, 1), 2.0, 3.8794), ((1, 1, 1, 10), 10.15, 17.0)]
)
def test_jcgm_101_sum_of_rectangulars(widths, u, half):
    """JCGM 101 9.2: four rectangulars give ±3.88 where a Gaussian would say ±3.92; one ten
    times as wide gives ±17.0 where a Gaussian would say ±19.9."""
    random = generator("JCGM 101", "9.2", str(widths))
    draws = random.uniform(-np.sqrt(3), np.sqrt(3), (400_000, 4)) @ np.array(widths, float)
    low, high = coverage_interval(draws)
    assert np.std(draws) == pytest.approx(u, rel=0.005)
    assert (high - low) / 2 == pytest.approx(half, rel=0.01)
    assert (low + high) / 2 == pytest.approx(0, abs=0.05 * u)


def curvilinear_trapezoid(random, low, high, inexact, count):
    """JCGM 101 6.4.3: limits themselves uncertain by ±inexact."""
    bottom = low + inexact * random.uniform(-1, 1, count)
    return bottom + (low + high - 2 * bottom) * random.uniform(0, 1, count)


def test_jcgm_101_gauge_block():
    """JCGM 101 9.5: 838 nm, u 36 nm, 99 % interval [745, 932] nm.

    The distribution is symmetric, so the interval with equal tails is compared: it is
    located far better by draws than the shortest one, of which the width is compared.
    """
    random, count = generator("JCGM 101", "9.5"), 300_000
    comparison = (
        D_NM
        + 6 * random.standard_t(24, count)
        + 4 * random.standard_t(5, count)
        + 7 * random.standard_t(8, count)
    )
    swing = 0.5 * np.sin(random.uniform(0, 2 * np.pi, count))
    inputs = np.column_stack(
        [
            LS_NM + 25 * random.standard_t(18, count),
            comparison,
            curvilinear_trapezoid(random, -1e-6, 1e-6, 0.1e-6, count),
            random.normal(-0.1, 0.2, count) + swing,
            random.uniform(9.5e-6, 13.5e-6, count),
            curvilinear_trapezoid(random, -0.050, 0.050, 0.025, count),
        ]
    )
    deviation = gauge_block_nm(inputs) - 50e6
    assert np.mean(deviation) == pytest.approx(838, abs=0.5)
    assert np.std(deviation) == pytest.approx(36, abs=0.5)
    assert coverage_interval(deviation, 0.99) == pytest.approx((745, 932), abs=1.0)


@pytest.mark.parametrize(
    ("margin", "probability"),
    [(0, 0.5), (0.5, 0.6915), (1, 0.8413), (1.645, 0.95), (2, 0.9772), (3, 0.9987)],
)
def test_jcgm_106_probability_by_margin(margin, probability):
    """JCGM 106, one limit: probability of conformity by margin over u, below and above."""
    assert probability_within(margin, 1.0, at_least=0.0) == pytest.approx(probability, abs=5e-5)
    assert probability_within(-margin, 1.0, at_most=0.0) == pytest.approx(probability, abs=5e-5)


def test_iso_14253_guard_band():
    """ISO 14253-1:2017: the guard band at one limit is 1.65 u at its default of 95 %."""
    assert guard_band(0.1) == pytest.approx(0.165, abs=0.001)
