"""How does the uncertainty of the inputs, source by source, reach a result?

The law of propagation of uncertainty (JCGM 100:2008, 5.1–5.2) with one numeric Jacobian:
C_y = J C_x Jᵀ. Covariances are kept apart by source, so the budget of a result needs no
further work; two results that share inputs stay correlated, and x − x is exactly 0.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

COVERAGE_FACTOR = 2.0
"""k = 2: 95.45 % of a Gaussian, the common practice of the GUM, stated as 95 %."""


def jacobian(f: Callable[[Array], ArrayLike], x: Array, steps: float | Array) -> Array:
    """(m, n) derivatives of f at x by central differences.

    f : (n,) → (m,) or a number. x : (n,). steps : half the width of the difference, one
    number or (n,), in the units of x; about a tenth of the standard uncertainty is good.

    Raises GeometryError where f is not finite near x.
    """
    x = np.asarray(x, float)
    widths = np.broadcast_to(np.asarray(steps, float), x.shape)
    if np.any(~(widths > 0)):
        raise ValueError("Every step of a numeric derivative must be above 0.")
    columns = [_slope(f, x, index, float(width)) for index, width in enumerate(widths)]
    if not columns:
        return np.zeros((np.atleast_1d(f(x)).size, 0))
    slopes = np.column_stack(columns)
    if not np.all(np.isfinite(slopes)):
        raise GeometryError(
            "A result is not finite a small step away from these inputs. Move the points apart."
        )
    return slopes


def propagate(slopes: Array, covariances: Mapping[str, Array]) -> dict[str, Array]:
    """Source → (m, m) covariance of the results: J C Jᵀ for each source.

    slopes : (m, n). covariances : source → (n, n).
    """
    return {source: slopes @ part @ slopes.T for source, part in covariances.items()}


def total_covariance(covariances: Mapping[str, Array]) -> Array:
    """The sum over sources, which are independent of each other. At least one source."""
    return np.asarray(np.sum(list(covariances.values()), axis=0))


def standard_uncertainties(covariance: Array) -> Array:
    """(m,) square roots of the diagonal; rounding below zero counts as zero."""
    return np.asarray(np.sqrt(np.clip(np.diagonal(covariance), 0.0, None)))


def budget(index: int, covariances: Mapping[str, Array]) -> dict[str, float]:
    """Source → standard uncertainty of one result from that source alone, largest first."""
    parts = {
        source: float(np.sqrt(max(float(part[index, index]), 0.0)))
        for source, part in covariances.items()
    }
    return dict(sorted(parts.items(), key=lambda item: -item[1]))


def expanded_interval(value: float, u: float) -> tuple[float, float]:
    """The 95 % interval value ± k u with k = 2."""
    return value - COVERAGE_FACTOR * u, value + COVERAGE_FACTOR * u


def _slope(f: Callable[[Array], ArrayLike], x: Array, index: int, width: float) -> Array:
    above, below = x.copy(), x.copy()
    above[index] += width
    below[index] -= width
    # The steps that were really made, after rounding.
    made = above[index] - below[index]
    rise = np.atleast_1d(np.asarray(f(above), float)) - np.atleast_1d(np.asarray(f(below), float))
    return np.asarray(rise / made)
