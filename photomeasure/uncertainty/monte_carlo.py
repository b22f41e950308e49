"""What does the distribution of a result look like where it is not Gaussian?

Monte Carlo after JCGM 101:2008: draw the inputs from their joint distribution, evaluate,
look at the result. The seed comes from names, so the same job gives the same numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256

import numpy as np
from numpy.typing import ArrayLike, NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

MAX_REFUSED = 0.01
"""Share of draws that may leave the result undefined before it is refused as a whole."""


def seed_of(*names: str) -> int:
    """A seed from names, the same on every machine."""
    return int.from_bytes(sha256("\0".join(names).encode()).digest()[:8], "big")


def generator(*names: str) -> np.random.Generator:
    """A random generator whose seed comes from names."""
    return np.random.Generator(np.random.PCG64(seed_of(*names)))


def square_root(covariance: Array) -> Array:
    """(n, n) A with A Aᵀ = covariance, for any covariance, singular ones too.

    Negative eigenvalues within rounding count as zero. Raises ValueError beyond that.
    """
    symmetric = (covariance + covariance.T) / 2
    sizes, axes = np.linalg.eigh(symmetric)
    largest = float(np.max(np.abs(sizes), initial=0.0))
    if np.any(sizes < -1e-6 * largest):
        raise ValueError(
            f"A covariance has the eigenvalue {sizes[0]:.3g} beside {largest:.3g}; "
            "it must not be negative."
        )
    return np.asarray(axes * np.sqrt(np.clip(sizes, 0.0, None)))


def draw_samples(mean: Array, covariance: Array, count: int, random: np.random.Generator) -> Array:
    """(count, n) draws from a Gaussian with mean (n,) and covariance (n, n)."""
    return np.asarray(
        mean + random.standard_normal((count, len(mean))) @ square_root(covariance).T
    )


def evaluate_samples(f: Callable[[Array], ArrayLike], samples: Array) -> Array:
    """(count, m) results of f, (n,) → (m,), for every draw.

    A draw for which f raises GeometryError is left out. Raises GeometryError when more
    than 1 % are: the result then is not defined within its own uncertainty.
    """
    results = []
    for sample in samples:
        try:
            results.append(np.atleast_1d(np.asarray(f(sample), float)))
        except GeometryError:
            continue
    refused = len(samples) - len(results)
    if refused > MAX_REFUSED * len(samples):
        raise GeometryError(
            f"{refused} of {len(samples)} draws within the uncertainty give no result; at most "
            f"{MAX_REFUSED:.0%} may. Point at the features more sharply, or move them apart."
        )
    return np.array(results)


def coverage_interval(samples: Array, p: float = 0.95) -> tuple[float, float]:
    """Probabilistically symmetric interval (JCGM 101, 7.7.2): equal tails left and right."""
    low, high = np.quantile(samples, [(1 - p) / 2, (1 + p) / 2])
    return float(low), float(high)
