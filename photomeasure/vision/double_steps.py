"""Where do two brightness steps lie that stand so close that each disturbs the other?

The edge of a face and the lower edge of its chamfer, or the foot of a narrow wall: three
levels with two blurred steps between them are fitted to many profiles at once. In each the
second step is known within a pixel from the ridge that it makes along the whole band.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from photomeasure.vision.steps import Steps

Array = NDArray[np.float64]

_ITERATIONS = 10
_SECOND_U_PX = 0.6  # how well the second step is known beforehand
_FIRST_U_PX = 1.5
_BLUR_U_PX = 0.15
_NOISE = 0.01  # of full light, against which beliefs are weighed
_LEAST_APART_PX = 0.6


def fit_double_steps(
    positions_px: Array, profiles: Array, weights: Array, second_px: Array, blur_px: float
) -> Steps:
    """Fit level | level | level and return the first step, which lies near 0.

    positions_px : (B,). profiles, weights : (N, B). second_px : (N,) where the other step is
    believed, signed. `low` and `high` of the result are the levels before and after the
    first step along the profile.
    """
    before = np.column_stack([np.zeros(len(profiles)), second_px, np.full(len(profiles), blur_px)])
    believed = (_NOISE / np.array([_FIRST_U_PX, _SECOND_U_PX, _BLUR_U_PX])) ** 2
    places = before.copy()
    way = np.sign(second_px)
    for _ in range(_ITERATIONS):
        levels, model, slopes = _levels(positions_px, profiles, weights, places, way)
        step = _newton(slopes, profiles - model, weights, places - before, believed)
        places = places + np.clip(step, -0.7, 0.7)
        apart = np.maximum(way * (places[:, 1] - places[:, 0]), _LEAST_APART_PX)
        places[:, 1] = places[:, 0] + way * apart
        places[:, 2] = np.clip(places[:, 2], 0.35, 4.0)
    levels, model, slopes = _levels(positions_px, profiles, weights, places, way)
    freedom = np.maximum(weights.sum(axis=1) - 6, 1)
    variance = (weights * (profiles - model) ** 2).sum(axis=1) / freedom
    normal = _normal(slopes, weights, believed)
    u = np.sqrt(np.abs(np.linalg.inv(normal)[:, 0, 0]) * variance)
    low = np.where(way > 0, levels[:, 0], levels[:, 1])
    high = np.where(way > 0, levels[:, 1], levels[:, 0])
    return Steps(places[:, 0], places[:, 2], low, high, np.sqrt(variance), u)


def _levels(
    positions: Array, profiles: Array, w: Array, places: Array, way: Array
) -> tuple[Array, Array, Array]:
    """(N, 3) best levels (first side, between, beyond), the model, its slopes by places."""
    first, second, blur = (p[:, None] for p in places.T)
    turned = way[:, None]
    a, b = turned * (positions - first) / blur, turned * (positions - second) / blur
    past_first, past_second = ndtr(a), ndtr(b)
    columns = np.stack([1 - past_first, past_first - past_second, past_second], axis=2)
    weighted = columns * w[:, :, None]
    normal = np.einsum("nbi,nbj->nij", weighted, columns) + 1e-6 * np.eye(3)
    right = np.einsum("nbi,nb->ni", weighted, profiles)
    levels = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    model = np.einsum("nbi,ni->nb", columns, levels)
    rise_a = (levels[:, 1] - levels[:, 0])[:, None] * np.exp(-0.5 * a**2) / np.sqrt(2 * np.pi)
    rise_b = (levels[:, 2] - levels[:, 1])[:, None] * np.exp(-0.5 * b**2) / np.sqrt(2 * np.pi)
    slopes = np.stack(
        [-turned * rise_a / blur, -turned * rise_b / blur, -(rise_a * a + rise_b * b) / blur],
        axis=2,
    )
    # What the levels would take up of a move of the steps is no evidence for it.
    taken = np.linalg.solve(normal, np.einsum("nbi,nbj->nij", weighted, slopes))
    return levels, model, slopes - np.einsum("nbi,nij->nbj", columns, taken)


def _newton(slopes: Array, residual: Array, w: Array, off: Array, believed: Array) -> Array:
    right = np.einsum("nbi,nb->ni", slopes * w[:, :, None], residual) - believed * off
    step = np.linalg.solve(_normal(slopes, w, believed), right[:, :, None])
    return np.asarray(step[:, :, 0])


def _normal(slopes: Array, w: Array, believed: Array) -> Array:
    normal = np.einsum("nbi,nbj->nij", slopes * w[:, :, None], slopes)
    np.einsum("nii->ni", normal)[:] += believed + 1e-12
    return np.asarray(normal)
