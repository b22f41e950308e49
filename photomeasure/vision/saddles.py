"""Where exactly do two black squares touch?

A saddle corner is fitted as the product of two blurred steps. The model is unchanged
by a half turn about the corner, and so is whatever tone curve, sharpening or ink growth
make of it: none of them can displace the fit. All corners are fitted at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

Array = NDArray[np.float64]

WINDOW_SQUARES = 0.155  # half the window; markers begin at 0.172 of a square
MAX_HALF_WINDOW_PX = 12
MIN_SQUARE_PX = 18.0  # below this a window holds too few pixels to fit
_ITERATIONS = 10
_LEAST_BLUR_PX = 0.1  # a blur of nothing has no slope to follow
_LEAST_CONTRAST = 10.0  # grey levels from the mean to white
_WORST_MISFIT = 0.16  # rms residual over that contrast
_LARGEST_SHIFT_SQUARES = 0.12


@dataclass(frozen=True, eq=False)
class Saddles:
    """Corners as fitted. points_px : (N, 2); u_px : (N,); good : (N,) bool."""

    points_px: Array
    u_px: Array
    good: NDArray[np.bool_]


def refine_saddles(grey: NDArray[np.uint8], guess_px: Array, axes_px: Array) -> Saddles:
    """Fit every saddle near its guess.

    grey : (H, W) coded values. guess_px : (N, 2), right within a tenth of a square.
    axes_px : (N, 2, 2), the two sides of a square at the corner, in px.
    """
    half = _half_window(axes_px)
    start = _settle(grey, guess_px, half)
    patches, offsets, base = _patches(grey, start, half)
    weights = _inside(offsets, axes_px)
    parameters = _start(patches, weights, start - base, axes_px)
    for step in range(_ITERATIONS):
        model, jacobian = _model(parameters, offsets)
        parameters = parameters + _step(jacobian, patches - model, weights, damped=step < 3)
        parameters[:, 6] = np.maximum(parameters[:, 6], _LEAST_BLUR_PX)
    return _judge(parameters, patches, offsets, weights, base, guess_px, axes_px)


def _half_window(axes_px: Array) -> int:
    side = float(np.median(np.linalg.norm(axes_px, axis=2)))
    return int(np.clip(round(WINDOW_SQUARES * side * 1.15), 4, MAX_HALF_WINDOW_PX))


def _settle(grey: NDArray[np.uint8], guess_px: Array, half: int) -> Array:
    """Bring guesses within a pixel, where the step model's basin is."""
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    points = np.ascontiguousarray(guess_px.reshape(-1, 1, 2), np.float32)
    settled = cv2.cornerSubPix(grey, points, (half, half), (-1, -1), criteria)
    return np.asarray(settled, float).reshape(-1, 2)


def _patches(grey: NDArray[np.uint8], centres_px: Array, half: int) -> tuple[Array, Array, Array]:
    """(N, P) values, (P, 2) offsets and (N, 2) whole-pixel centres; the rim is repeated."""
    base = np.round(centres_px).astype(int)
    span = np.arange(-half, half + 1)
    dy, dx = (g.ravel() for g in np.meshgrid(span, span, indexing="ij"))
    rows = np.clip(base[:, 1:] + dy, 0, grey.shape[0] - 1)
    columns = np.clip(base[:, :1] + dx, 0, grey.shape[1] - 1)
    return grey[rows, columns].astype(float), np.column_stack([dx, dy]).astype(float), base


def _inside(offsets: Array, axes_px: Array) -> Array:
    """(N, P) 1 within the part of the window that no marker reaches."""
    in_squares = np.einsum("pi,nij->npj", offsets, np.linalg.inv(axes_px))
    return np.asarray((np.abs(in_squares) < WINDOW_SQUARES).all(axis=2), float)


def _start(patches: Array, weights: Array, centre: Array, axes_px: Array) -> Array:
    """(N, 9): dx, dy, level, contrast, two normal angles, blur, two slopes."""
    n = len(patches)
    level = (patches * weights).sum(1) / weights.sum(1)
    spread = np.sqrt(((patches - level[:, None]) ** 2 * weights).sum(1) / weights.sum(1))
    normal_angles = np.arctan2(axes_px[:, :, 1], axes_px[:, :, 0]) + np.pi / 2
    parameters = np.column_stack(
        [centre, level, spread, normal_angles, np.full(n, 1.0), np.zeros(n), np.zeros(n)]
    )
    return parameters


def _model(parameters: Array, offsets: Array) -> tuple[Array, Array]:
    """(N, P) values and (N, P, 9) derivatives of the product of two blurred steps."""
    cx, cy, level, contrast, angle1, angle2, blur, gx, gy = (c[:, None] for c in parameters.T)
    x, y = offsets[:, 0] - cx, offsets[:, 1] - cy
    s1, e1, d1, t1 = _blurred_step(x, y, angle1, blur)
    s2, e2, d2, t2 = _blurred_step(x, y, angle2, blur)
    by1, by2 = contrast * d1 * e2, contrast * e1 * d2
    model = level + contrast * e1 * e2 + gx * x + gy * y
    jacobian = np.stack(
        [
            -by1 * np.cos(angle1) - by2 * np.cos(angle2),
            -by1 * np.sin(angle1) - by2 * np.sin(angle2),
            np.ones_like(x),
            e1 * e2,
            by1 * t1,
            by2 * t2,
            -(by1 * s1 + by2 * s2) / blur,
            x,
            y,
        ],
        axis=2,
    )
    return model, jacobian


def _blurred_step(
    x: Array, y: Array, angle: Array, blur: Array
) -> tuple[Array, Array, Array, Array]:
    """Distance from the line, erf step, its derivative, position along the line."""
    distance = x * np.cos(angle) + y * np.sin(angle)
    along = -x * np.sin(angle) + y * np.cos(angle)
    scaled = distance / blur
    slope = np.sqrt(2 / np.pi) / blur * np.exp(-0.5 * scaled**2)
    return distance, erf(scaled / np.sqrt(2)), slope, along


def _step(jacobian: Array, residual: Array, weights: Array, damped: bool) -> Array:
    weighted = jacobian * weights[:, :, None]
    normal = _normal(weighted, jacobian, 1e-2 if damped else 1e-6)
    right = np.einsum("npi,np->ni", weighted, residual)
    step = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    limit = np.array([1.0, 1.0, np.inf, np.inf, 0.2, 0.2, 0.3, np.inf, np.inf])
    return np.clip(step, -limit, limit)


def _normal(weighted: Array, jacobian: Array, damping: float) -> Array:
    """(N, 9, 9) normal equations; the damping keeps those of a flat patch solvable."""
    normal = weighted.transpose(0, 2, 1) @ jacobian
    diagonal = np.einsum("nii->ni", normal)
    diagonal += damping * diagonal + 1e-9
    return np.asarray(normal)


def _judge(
    parameters: Array,
    patches: Array,
    offsets: Array,
    weights: Array,
    base: Array,
    guess_px: Array,
    axes_px: Array,
) -> Saddles:
    model, jacobian = _model(parameters, offsets)
    residual = (patches - model) * np.sqrt(weights)
    freedom = np.maximum(weights.sum(1) - parameters.shape[1], 1)
    variance = (residual**2).sum(1) / freedom
    normal = _normal(jacobian * weights[:, :, None], jacobian, 1e-6)
    covariance = np.linalg.inv(normal) * variance[:, None, None]
    points = base + parameters[:, :2]
    side = np.linalg.norm(axes_px, axis=2).min(axis=1)
    contrast = np.abs(parameters[:, 3])
    good = (
        (np.sqrt(variance) < _WORST_MISFIT * contrast)
        & (contrast > _LEAST_CONTRAST)
        & (np.linalg.norm(points - guess_px, axis=1) < _LARGEST_SHIFT_SQUARES * side)
        & (np.abs(parameters[:, 6]) < 0.1 * side)
        & (side > MIN_SQUARE_PX)
    )
    spread = (covariance[:, 0, 0] + covariance[:, 1, 1]) / 2
    good &= (spread > 0) & np.isfinite(points).all(axis=1)  # a flat patch has no corner
    return Saddles(points, np.sqrt(np.maximum(spread, 0.0)), good)
