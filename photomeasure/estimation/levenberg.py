"""Least squares by Levenberg and Marquardt, with robust weights by group.

Why not a library's: a trial step may leave the lens model or put a corner behind the
camera. That raises GeometryError here, and the step is shortened instead of the job lost.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]
Residuals = Callable[[Array], Array]

_MOST_STEPS = 60
_CONVERGED = 1e-5  # of chi-square: what is left is a small part of a standard uncertainty
_WORST_DAMPING = 1e10


def jacobian_of(residuals: Residuals, vector: Array, step: Array) -> Array:
    """(m, n) central differences with the given (n,) steps."""
    columns = []
    for i, h in enumerate(step):
        move = np.zeros_like(vector)
        move[i] = h
        columns.append((residuals(vector + move) - residuals(vector - move)) / (2 * h))
    return np.column_stack(columns)


def minimise(
    residuals: Residuals,
    start: Array,
    scale: Array,
    weigh: Callable[[Array], Array] | None = None,
    slopes: Callable[[Array], Array] | None = None,
    within: tuple[Array, Array] | None = None,
) -> Array:
    """The vector with the least Σ w r², where r are in standard uncertainties.

    scale : (n,) a typical step of each unknown. weigh : residuals → weights (m,), applied
    anew at each step (iteratively reweighted), or None for all 1. slopes : the (m, n)
    Jacobian, where it is known better than by differences. within : the least and the
    largest (n,) vector allowed.
    """
    low, high = within or (np.full(len(start), -np.inf), np.full(len(start), np.inf))
    vector, damping = start, 1e-3
    residual = residuals(vector)
    for _ in range(_MOST_STEPS):
        weights = np.ones_like(residual) if weigh is None else weigh(residual)
        here = jacobian_of(residuals, vector, scale * 1e-3) if slopes is None else slopes(vector)
        jacobian = here * scale
        gradient = jacobian.T @ (weights * residual)
        normal = jacobian.T @ (weights[:, None] * jacobian)
        cost = float(weights @ residual**2)
        # What stands at a limit and would leave it stays there; the others move without it.
        held = ((vector <= low) & (gradient > 0)) | ((vector >= high) & (gradient < 0))
        moved = False
        while not moved and damping < _WORST_DAMPING:
            step = _step(normal, gradient, damping, held)
            there = np.clip(vector + step * scale, low, high)
            moved, trial = _try(residuals, there, weights, cost)
            damping *= 0.1 if moved else 10.0
        if not moved:
            return vector
        gain = cost - float(weights @ trial**2)
        vector, residual = there, trial
        if gain < _CONVERGED:
            return vector
    return vector


def _step(normal: Array, gradient: Array, damping: float, held: NDArray[np.bool_]) -> Array:
    """(n,) in units of the scale; zero where held."""
    step, free = np.zeros(len(gradient)), ~held
    matrix = (normal + damping * np.diag(np.diag(normal)))[np.ix_(free, free)]
    step[free] = -np.linalg.solve(matrix, gradient[free])
    return step


def _try(residuals: Residuals, vector: Array, weights: Array, cost: float) -> tuple[bool, Array]:
    try:
        trial = residuals(vector)
    except GeometryError:
        return False, np.empty(0)
    better = bool(np.isfinite(trial).all() and float(weights @ trial**2) <= cost)
    return better, trial
