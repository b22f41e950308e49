"""Where is a rim beside which a shadow begins at once?

A shadow that touches the edge may grow lighter from the edge on, so quickly that the edge's own
small step drowns in it: a blurred step alone is then far too wide. So a step of the photo's own
blur is fitted together with a ramp that begins where the step is. Neighbouring rows are averaged,
as such a step is faint. Where there is only the ramp it is no edge: a shadow begins anywhere.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.special import ndtr

from photomeasure.vision.band import STEP_PX, Path, profiles_about
from photomeasure.vision.outline_path import RimLine
from photomeasure.vision.steps import Steps, fit_steps

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_ROWS = 17  # that are averaged, 4 mm
_SMOOTH_ROWS = 4.0
_HALF_PX = 7.0
_CENTRES = np.arange(-3.5, 3.51, 0.1)  # where the edge is tried, px
_SIGMAS = 6.0  # of the step over what noise would make of it
_LEAST_PX = 1.5  # of ramp that the step is worth: less may be a shadow that begins by itself
_BETTER = 0.6  # of the squared misfit of a soft step: else it may be a shadow's own edge


def steps_beside_shade(
    light: NDArray[np.float32], path: Path, rim: RimLine, rows: Mask, blur_px: float
) -> tuple[Steps, Mask]:
    """A step and a ramp in some rows near the rim line of a path, and whether the step shows;
    (M,) of all rows, of which the others mean nothing. Offsets are from the path."""
    outwards = -rim.material
    middle = gaussian_filter1d(rim.offset_px, _SMOOTH_ROWS, mode="wrap")
    positions = np.arange(-_HALF_PX, _HALF_PX + STEP_PX / 2, STEP_PX)
    centres = path.points_px + middle[:, None] * path.normals_px
    profiles = profiles_about(light, path, centres, positions)
    profiles = uniform_filter1d(profiles, _ROWS, axis=0, mode="wrap")[rows, ::outwards]
    found, shows = _fit(positions, profiles, blur_px)
    steps = Steps(*(np.zeros(len(rows)) for _ in fields(Steps)))
    for field in fields(Steps):
        getattr(steps, field.name)[rows] = getattr(found, field.name)
    offset = middle + outwards * steps.offset_px
    low, high = (steps.low, steps.high)[::outwards]
    shown = np.zeros(len(rows), bool)
    shown[rows] = shows
    return replace(steps, offset_px=offset, low=low, high=high), shown


def _fit(positions: Array, profiles: Array, blur_px: float) -> tuple[Steps, Mask]:
    """Face first. The best centre is the one of least misfit, between those tried."""
    fits = [_levels(positions, profiles, c, blur_px) for c in _CENTRES]
    cost = np.array([f[1] for f in fits])
    rows, k = np.arange(len(profiles)), np.clip(cost.argmin(axis=0), 1, len(_CENTRES) - 2)
    a, b, c = cost[k - 1, rows], cost[k, rows], cost[k + 1, rows]
    bend, h = np.maximum(a - 2 * b + c, 1e-15), _CENTRES[1] - _CENTRES[0]
    centre = _CENTRES[k] + h * np.clip(0.5 * (a - c) / bend, -1, 1)
    levels = np.array([f[0] for f in fits])[k, :, rows]
    spread = np.array([f[2] for f in fits])[k]
    variance = b / (len(positions) - 4)
    step, ramp = levels[:, 1], levels[:, 2]
    soft = fit_steps(positions, profiles, start_px=np.zeros(len(profiles)))
    shows = (
        (variance < _BETTER * soft.misfit**2)
        & (np.abs(step) > _SIGMAS * np.sqrt(variance * spread))
        & (np.abs(step) > _LEAST_PX * np.abs(ramp))
        & (step * ramp >= 0)
        & (cost.argmin(axis=0) == k)
    )
    blur, u = np.full(len(profiles), blur_px), np.sqrt(2 * variance * h**2 / bend)
    low = levels[:, 0]
    return Steps(centre, blur, low, low + step, np.sqrt(variance), u), np.asarray(shows)


def _levels(
    positions: Array, profiles: Array, centre: float, blur_px: float
) -> tuple[Array, Array, float]:
    """Face, step and ramp per px (3, N) for one centre, the cost (N,), and the variance of the
    step for noise of variance 1."""
    scaled = (positions - centre) / blur_px
    share = ndtr(scaled)
    density = np.exp(-0.5 * scaled**2) / np.sqrt(2 * np.pi)
    columns = np.column_stack([np.ones_like(share), share, blur_px * (scaled * share + density)])
    inverse = np.linalg.pinv(columns)
    levels = inverse @ profiles.T
    cost = ((profiles.T - columns @ levels) ** 2).sum(axis=0)
    return levels, cost, float((inverse @ inverse.T)[1, 1])
