"""Where is a rim beside which a shadow begins at once?

A shadow that touches the edge may grow lighter from the edge on, so quickly that the edge's own
small step drowns in it: a blurred step alone is then far too wide. So a step of the photo's own
blur is fitted together with a ramp that begins where the step is. Neighbouring rows are averaged,
as such a step is faint. Where there is only the ramp it is no edge: a shadow begins anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import lru_cache

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
_POSITIONS = np.arange(-_HALF_PX, _HALF_PX + STEP_PX / 2, STEP_PX)
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
    middle = without_jitter(rim.offset_px)
    centres = path.points_px + middle[:, None] * path.normals_px
    profiles = averaged_about(light, path, centres, _POSITIONS)[rows, ::outwards]
    found, shows = _fit(profiles, blur_px)
    steps = Steps(*(np.zeros(len(rows)) for _ in fields(Steps)))
    for field in fields(Steps):
        getattr(steps, field.name)[rows] = getattr(found, field.name)
    offset = middle + outwards * steps.offset_px
    low, high = (steps.low, steps.high)[::outwards]
    shown = np.zeros(len(rows), bool)
    shown[rows] = shows
    return replace(steps, offset_px=offset, low=low, high=high), shown


def without_jitter(offset_px: Array) -> Array:
    """(M,) a line smooth enough for rows beside each other to be averaged about it."""
    return np.asarray(gaussian_filter1d(offset_px, _SMOOTH_ROWS, mode="wrap"))


def averaged_about(
    light: NDArray[np.float32], path: Path, centres_px: Array, offsets_px: Array
) -> Array:
    """(M, B) as `profiles_about`, each the mean of many rows."""
    profiles = profiles_about(light, path, centres_px, offsets_px)
    return np.asarray(uniform_filter1d(profiles, _ROWS, axis=0, mode="wrap"))


def _fit(profiles: Array, blur_px: float) -> tuple[Steps, Mask]:
    """Face first. The best centre is the one of least misfit, between those tried."""
    tried = _tried(blur_px)
    levels = tried.inverse @ profiles.T
    cost = np.array(
        [
            ((profiles.T - c @ v) ** 2).sum(axis=0)
            for c, v in zip(tried.columns, levels, strict=True)
        ]
    )
    rows, k = np.arange(len(profiles)), np.clip(cost.argmin(axis=0), 1, len(_CENTRES) - 2)
    a, b, c = cost[k - 1, rows], cost[k, rows], cost[k + 1, rows]
    bend, h = np.maximum(a - 2 * b + c, 1e-15), _CENTRES[1] - _CENTRES[0]
    centre = _CENTRES[k] + h * np.clip(0.5 * (a - c) / bend, -1, 1)
    face, step, ramp = levels[k, :, rows].T
    variance = b / (len(_POSITIONS) - 4)
    soft = fit_steps(_POSITIONS, profiles, start_px=np.zeros(len(profiles)))
    shows = (
        (variance < _BETTER * soft.misfit**2)
        & (np.abs(step) > _SIGMAS * np.sqrt(variance * tried.spread[k]))
        & (np.abs(step) > _LEAST_PX * np.abs(ramp))
        & (step * ramp >= 0)
        & (cost.argmin(axis=0) == k)
    )
    blur, u = np.full(len(profiles), blur_px), np.sqrt(2 * variance * h**2 / bend)
    return Steps(centre, blur, face, face + step, np.sqrt(variance), u), np.asarray(shows)


@dataclass(frozen=True, eq=False)
class _Tried:
    """Face, step and ramp per px for each centre tried (K). columns : (K, B, 3) of the fit;
    inverse : (K, 3, B); spread : (K,) variance of the step for noise of variance 1."""

    columns: Array
    inverse: Array
    spread: Array


@lru_cache(maxsize=4)
def _tried(blur_px: float) -> _Tried:
    """Of one photo these are always the same."""
    scaled = (_POSITIONS - _CENTRES[:, None]) / blur_px
    share = ndtr(scaled)
    density = np.exp(-0.5 * scaled**2) / np.sqrt(2 * np.pi)
    ramp = blur_px * (scaled * share + density)
    columns = np.stack([np.ones_like(share), share, ramp], axis=2)
    inverse = np.linalg.pinv(columns)
    return _Tried(columns, inverse, np.einsum("kb,kb->k", inverse[:, 1], inverse[:, 1]))
