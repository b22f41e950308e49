"""How probable is it that the true value obeys a limit, and do stated intervals hold?

Probability of conformity after JCGM 106:2012, E_n after ISO/IEC 17043, and the exact
binomial bounds (Clopper and Pearson 1934) that a count of hits must lie in.
"""

from __future__ import annotations

from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtr, ndtri

Array = NDArray[np.float64]


def probability_within(
    value: float, u: float, at_least: float | None = None, at_most: float | None = None
) -> float:
    """Probability that a Gaussian (value, u) lies within the limits; u = 0 decides outright."""
    low, high = _limits(at_least, at_most)
    if u == 0:
        return float(low <= value <= high)
    return float(ndtr((high - value) / u) - ndtr((low - value) / u))


def share_within(
    samples: Array, at_least: float | None = None, at_most: float | None = None
) -> float:
    """Share of Monte Carlo draws within the limits, both ends included."""
    low, high = _limits(at_least, at_most)
    return float(np.mean((samples >= low) & (samples <= high)))


def guard_band(u: float, confidence: float = 0.95) -> float:
    """How far inside one limit a value must lie (ISO 14253-1:2017: 1.645 u, from memory)."""
    return float(ndtri(confidence)) * u


def e_number(value: float, expanded: float, reference: float, reference_expanded: float) -> float:
    """E_n = (x − X) / √(U² + U_ref²); |E_n| ≤ 1 is agreement (ISO/IEC 17043).

    Both U at the same k. Raises ValueError when neither has an uncertainty.
    """
    together = float(np.hypot(expanded, reference_expanded))
    if together == 0:
        raise ValueError("E_n needs an uncertainty on at least one side.")
    return (value - reference) / together


def binomial_bounds(hits: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Clopper–Pearson interval of a probability from hits out of trials (≥ 1)."""
    if not 0 <= hits <= trials or trials < 1:
        raise ValueError(f"{hits} hits out of {trials} trials is not a count.")
    tail = (1 - confidence) / 2
    low = 0.0 if hits == 0 else float(betaincinv(hits, trials - hits + 1, tail))
    high = 1.0 if hits == trials else float(betaincinv(hits + 1, trials - hits, 1 - tail))
    return low, high


def _limits(at_least: float | None, at_most: float | None) -> tuple[float, float]:
    return -inf if at_least is None else at_least, inf if at_most is None else at_most
