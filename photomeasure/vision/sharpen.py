"""How exactly does an edge run, once it is known which?

Each row's profile is fitted with a blurred step in linear light, what the photo's own tone
curve still displaces is taken off, and rows that disagree with the path's smooth line
(glare, dirt, another edge) are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.vision.band import STEP_PX, Band, bilinear
from photomeasure.vision.steps import Steps, fit_steps, fit_steps_beside_wall
from photomeasure.vision.tone import Tone, edge_bias_px, edge_bias_u_px

Array = NDArray[np.float64]

_HALF_PX = 7.0
_CLEARANCE_PX = 1.5  # kept from a neighbouring edge
_LEAST_HALF_PX = 2.5
_LEAST_ROWS = 8
_WALL_PX = (0.25, 7.0)  # walls narrower do not matter, wider ones stand apart
_SHIFT_FLOOR_PX = 0.02


@dataclass(frozen=True, eq=False)
class SharpEdge:
    """An edge located: points_px, normals_px (dark to light) : (N, 2).

    u_noise_px a point; u_shift_px common to all, u_tone_px the same from the tone curve;
    spread_px rms of the points about the smooth line; rows : (M,) those used.
    """

    points_px: Array
    normals_px: Array
    u_noise_px: float
    u_shift_px: float
    u_tone_px: float
    spread_px: float
    rows: NDArray[np.bool_]


def sharpen(
    light: NDArray[np.float32],
    band: Band,
    tone: Tone,
    line_px: Array,
    rivals_px: Array,
    wall_px: Array,
) -> SharpEdge:
    """Locate the edge near line_px (M,).

    rivals_px : (R, M) other edges nearby, to keep away from. wall_px : (M,) signed width
    of the wall that shows beside the edge, 0 where none does.
    Raises GeometryError when too few rows show a clean step.
    """
    path = band.path
    positions = np.arange(-_HALF_PX, _HALF_PX + STEP_PX / 2, STEP_PX)
    profiles = _profiles(light, band, line_px, positions)
    narrow = (np.abs(wall_px) > _WALL_PX[0]) & (np.abs(wall_px) < _WALL_PX[1])
    walls = np.where(narrow, wall_px, 0.0)
    weights = _weights(positions, line_px, rivals_px, walls)
    steps = _fit(positions, profiles, weights, walls, tone)
    good = _clean(steps, weights) & band.inside
    offset = line_px + steps.offset_px
    good = _smooth(offset, good, path.basis)
    if good.sum() < max(_LEAST_ROWS, path.basis.shape[1] + 3):
        raise GeometryError(
            f"Only {good.sum()} places along it show a clean edge; at least {_LEAST_ROWS} are "
            "needed. Use more even light, a matt surface or a sharper picture, or click nearer."
        )
    dark, lit, sign = _levels(steps, good)
    bias = float(edge_bias_px(np.array([dark]), np.array([lit]), tone.parameters)[0])
    offset = offset - sign * bias
    miss = _misses(offset, good, path.basis)
    wall_u = 0.25 * np.abs(walls[good]) / (1 + walls[good] ** 2)
    points = path.points_px + offset[:, None] * path.normals_px
    return SharpEdge(
        points_px=points[good],
        normals_px=sign * path.normals_px[good],
        u_noise_px=max(0.01, 1.4826 * float(np.median(np.abs(miss)))),
        u_shift_px=float(np.hypot(_SHIFT_FLOOR_PX, wall_u.mean())),
        u_tone_px=edge_bias_u_px(dark, lit, tone),
        spread_px=float(np.sqrt(np.mean(miss**2))),
        rows=good,
    )


def _profiles(light: NDArray[np.float32], band: Band, line_px: Array, positions: Array) -> Array:
    path = band.path
    shift = (np.arange(3) - 1) * path.spacing_px / 3
    centre = path.points_px + line_px[:, None] * path.normals_px
    across = centre[:, None, :] + positions[None, :, None] * path.normals_px[:, None, :]
    rows = [bilinear(light, across + s * path.tangents_px[:, None, :]) for s in shift]
    return np.asarray(np.mean(rows, axis=0))


def _weights(positions: Array, line_px: Array, rivals_px: Array, walls: Array) -> Array:
    """(M, B) 1 where the profile belongs to this edge (and its wall) alone."""
    low = np.full(len(line_px), -_HALF_PX)
    high = np.full(len(line_px), _HALF_PX)
    for rival in rivals_px:
        apart = rival - line_px
        own_wall = (np.abs(apart - walls) < 1.5) & (walls != 0)
        keep = np.where(
            np.abs(apart) > 2 * _CLEARANCE_PX,
            apart - np.sign(apart) * _CLEARANCE_PX,
            np.sign(apart) * np.maximum(np.abs(apart) / 2, _LEAST_HALF_PX),
        )
        above, below = (apart > 0) & ~own_wall, (apart <= 0) & ~own_wall
        high = np.where(above, np.minimum(high, keep), high)
        low = np.where(below, np.maximum(low, keep), low)
    low, high = np.minimum(low, -_LEAST_HALF_PX), np.maximum(high, _LEAST_HALF_PX)
    return ((positions >= low[:, None]) & (positions <= high[:, None])).astype(float)


def _fit(positions: Array, profiles: Array, weights: Array, walls: Array, tone: Tone) -> Steps:
    start = np.zeros(len(profiles))
    steps = fit_steps(positions, profiles, weights, start)
    beside = walls != 0
    if not beside.any():
        return steps
    walled = fit_steps_beside_wall(
        positions, profiles[beside], weights[beside], walls[beside], tone.blur_px
    )
    for name in ("offset_px", "blur_px", "low", "high", "misfit", "u_px"):
        getattr(steps, name)[beside] = getattr(walled, name)
    return steps


def _clean(steps: Steps, weights: Array) -> NDArray[np.bool_]:
    contrast = steps.contrast
    usual = float(np.median(contrast))
    same_way = np.sign(steps.high - steps.low) == np.sign(np.median(steps.high - steps.low))
    return np.asarray(
        (np.abs(steps.offset_px) < 2.5)
        & (steps.misfit < 0.25 * contrast)
        & (contrast > 0.35 * usual)
        & (contrast > 0.01)
        & same_way
        & (weights.sum(axis=1) > 6)
    )


def _smooth(offset: Array, good: NDArray[np.bool_], basis: Array) -> NDArray[np.bool_]:
    """Leave out rows far from the line that most agree on."""
    for _ in range(4):
        if good.sum() <= basis.shape[1] + 2:
            return good
        miss = _misses(offset, good, basis, everywhere=True)
        scale = max(0.05, 1.4826 * float(np.median(np.abs(miss[good]))))
        good = good & (np.abs(miss) < 3.5 * scale)
    return good


def _misses(
    offset: Array, good: NDArray[np.bool_], basis: Array, everywhere: bool = False
) -> Array:
    model, *_ = np.linalg.lstsq(basis[good], offset[good], rcond=None)
    miss = offset - basis @ model
    return miss if everywhere else miss[good]


def _levels(steps: Steps, good: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Dark and light level, and +1 where the light side is outwards."""
    low, high = float(np.median(steps.low[good])), float(np.median(steps.high[good]))
    return min(low, high), max(low, high), 1.0 if high > low else -1.0
