"""Where along a profile does the brightness step lie?

A blurred step between two free levels, each side with a slight tilt (a shadow that fades, a
face that shines), is fitted to many profiles at once. In linear light its centre is the
edge, whatever the blur; on coded values it is not. Where a narrow wall shows beside the
edge, two steps of known distance are fitted instead of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]

_ITERATIONS = 12
_BLUR_PX = (0.35, 4.0)
_NOISE = 0.01  # of full light, against which beliefs are weighed
_TILT = 0.03  # how far a side may change in a px, as a share of the step
_AT_ONCE = 1000  # profiles: what stays in the processor's cache
_WALL_CENTRES = np.arange(-1.5, 1.51, 0.1)  # where an edge beside a wall is tried, px


@dataclass(frozen=True, eq=False)
class Steps:
    """One fitted step a profile, all (N,).

    offset_px from the middle of the profile; low, high the levels before and after it;
    misfit : rms residual; u_px : standard uncertainty of the offset from that residual.
    """

    offset_px: Array
    blur_px: Array
    low: Array
    high: Array
    misfit: Array
    u_px: Array

    @property
    def contrast(self) -> Array:
        """(N,) size of the step, never zero."""
        return np.asarray(np.maximum(np.abs(self.high - self.low), 1e-9))

    def at(self, rows: NDArray[np.bool_]) -> Steps:
        """Those of some profiles."""
        return Steps(*(getattr(self, f.name)[rows] for f in fields(self)))


def fit_steps(
    positions_px: Array,
    profiles: Array,
    weights: Array | None = None,
    start_px: Array | None = None,
) -> Steps:
    """Fit a step to each profile.

    positions_px : (B,) along the profile. profiles : (N, B). weights : (N, B) or None;
    0 leaves a sample out. start_px : (N,) where to begin, else the middle of the change.
    """
    return fit_tilted_steps(positions_px, profiles, weights, start_px)[0]


def fit_tilted_steps(
    positions_px: Array,
    profiles: Array,
    weights: Array | None = None,
    start_px: Array | None = None,
) -> tuple[Steps, Array, Array]:
    """The same, and the tilts before and after the step (N, 2), per px, with the covariance
    (N, 3, 3) of the place and the two."""
    w = np.ones_like(profiles) if weights is None else weights
    parameters = _start(positions_px, profiles, w, start_px)
    for iteration in range(_ITERATIONS):
        model, jacobian = _model(parameters, positions_px)
        damping = 1e-2 if iteration < 4 else 1e-7
        step = _step(parameters, jacobian, profiles - model, w, damping)
        parameters = parameters + step
        parameters[:, 1] = np.clip(parameters[:, 1], *_BLUR_PX)
    return _result(parameters, positions_px, profiles, w)


def _start(positions: Array, profiles: Array, w: Array, start_px: Array | None) -> Array:
    """(N, 6): centre, blur, level, half the step, slope before and after, per px."""
    n, b = profiles.shape
    fifth = max(2, b // 5)
    low = np.average(profiles[:, :fifth], axis=1, weights=w[:, :fifth] + 1e-9)
    high = np.average(profiles[:, -fifth:], axis=1, weights=w[:, -fifth:] + 1e-9)
    contrast = np.where(np.abs(high - low) < 1e-9, 1e-9, high - low)
    if start_px is None:
        # The area above the step gives its place in one stroke.
        share = np.average((profiles - low[:, None]) / contrast[:, None], axis=1, weights=w + 1e-9)
        start_px = positions[-1] - np.clip(share, 0.1, 0.9) * np.ptp(positions)
    flat = np.zeros(n)
    return np.column_stack([start_px, flat + 1.0, (low + high) / 2, contrast / 2, flat, flat])


def _model(parameters: Array, positions: Array) -> tuple[Array, Array]:
    centre, blur, level, half, before, after = (c[:, None] for c in parameters.T)
    away = positions - centre
    scaled = away / blur
    share = ndtr(scaled)
    density = np.exp(-0.5 * scaled**2) / (np.sqrt(2 * np.pi) * blur)
    step = 2 * share - 1
    trend = before * away * (1 - share) + after * away * share
    rise = 2 * half * density + (after - before) * away * density
    jacobian = np.empty((*step.shape, 6))
    jacobian[..., 0] = -rise - before * (1 - share) - after * share
    jacobian[..., 1] = -rise * scaled
    jacobian[..., 2] = 1.0
    jacobian[..., 3] = step
    jacobian[..., 4] = away * (1 - share)
    jacobian[..., 5] = away * share
    return level + half * step + trend, jacobian


def _belief(parameters: Array) -> Array:
    """(N, 6) information on each parameter beforehand: a side is nearly level.

    Shadows and round edges tilt it; how much is believed grows with the step's own size.
    """
    size = np.maximum(np.abs(parameters[:, 3]), 1e-3)
    information = np.zeros_like(parameters)
    information[:, 4:] = ((_NOISE / (_TILT * 2 * size)) ** 2)[:, None]
    return information


def _step(parameters: Array, jacobian: Array, residual: Array, w: Array, damping: float) -> Array:
    weighted = jacobian * w[:, :, None]
    normal = weighted.transpose(0, 2, 1) @ jacobian
    diagonal = np.einsum("nii->ni", normal)
    belief = _belief(parameters)
    diagonal += damping * diagonal + belief + 1e-12
    right = np.einsum("nbi,nb->ni", weighted, residual) - belief * parameters
    step = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    step[:, :2] = np.clip(step[:, :2], -1.0, 1.0)
    return np.asarray(step)


def _result(
    parameters: Array, positions: Array, profiles: Array, w: Array
) -> tuple[Steps, Array, Array]:
    model, jacobian = _model(parameters, positions)
    freedom = np.maximum(w.sum(axis=1) - 4, 1)
    variance = (w * (profiles - model) ** 2).sum(axis=1) / freedom
    normal = (jacobian * w[:, :, None]).transpose(0, 2, 1) @ jacobian
    np.einsum("nii->ni", normal)[:] += _belief(parameters) + 1e-12
    covariance = np.linalg.inv(normal) * variance[:, None, None]
    centre, blur, level, half = parameters[:, :4].T
    u = np.sqrt(np.abs(covariance[:, 0, 0]))
    steps = Steps(centre, blur, level - half, level + half, np.sqrt(variance), u)
    place_and_tilts = np.ix_(range(len(profiles)), [0, 4, 5], [0, 4, 5])
    return steps, parameters[:, 4:], covariance[place_and_tilts]


def fit_steps_beside_wall(
    positions_px: Array, profiles: Array, weights: Array, gap_px: Array, blur_px: float
) -> Steps:
    """Fit face | wall | ground, where the wall is gap_px (N,) wide and the face comes first.

    gap_px is signed: negative where the wall lies before the edge (face last). The wall is
    believed as bright as the face within a third of the whole contrast, which decides only
    where the wall is too narrow to be seen. Returns the step from face to wall; `low` and
    `high` are the levels before and after wall and edge together, or before and after the
    edge alone where the wall stands out from both.
    """
    ends = _start(positions_px, profiles, weights, None)
    believed = np.abs(ends[:, 3]) * 2 / 3 + 1e-9
    given = (profiles, weights, gap_px, believed)
    cost = _wall_costs(positions_px, given, blur_px)
    k = np.clip(np.argmin(cost, axis=0), 1, len(_WALL_CENTRES) - 2)
    rows = np.arange(len(profiles))
    a, b, c = cost[k - 1, rows], cost[k, rows], cost[k + 1, rows]
    bend = np.maximum(a - 2 * b + c, 1e-15)
    h = _WALL_CENTRES[1] - _WALL_CENTRES[0]
    centre = _WALL_CENTRES[k] + h * np.clip(0.5 * (a - c) / bend, -1, 1)
    levels, best = _wall_levels(positions_px, profiles, weights, gap_px, blur_px, centre, believed)
    variance = best / np.maximum(weights.sum(axis=1) - 4, 1)
    u = np.sqrt(2 * variance * h**2 / bend)
    blur = np.full(len(profiles), blur_px)
    low, high = _levels_at_edge(levels, gap_px)
    return Steps(centre, blur, low, high, np.sqrt(variance), u)


def _wall_costs(positions: Array, given: Sequence[Array], blur: float) -> Array:
    """(C, N) the cost of each centre tried, for given profiles, weights, gaps and beliefs (N, …):
    of few profiles several centres at once, as one fit of few takes as long as one of many."""
    count = len(given[0])
    some = max(1, _AT_ONCE // count)
    costs = []
    for first in range(0, len(_WALL_CENTRES), some):
        centres = _WALL_CENTRES[first : first + some]
        profiles, w, gap, believed = (np.concatenate([g] * len(centres)) for g in given)
        at = np.repeat(centres, count)
        costs.append(_wall_levels(positions, profiles, w, gap, blur, at, believed)[1])
    return np.concatenate(costs).reshape(len(_WALL_CENTRES), count)


def wall_against_face(
    positions_px: Array, profiles: Array, weights: Array, gap_px: Array, fitted: Steps
) -> Array:
    """(N,) by how much a wall differs from its face, signed, as a share of face against ground.

    fitted : by `fit_steps_beside_wall`, of the same profiles.
    """
    free = np.full(len(profiles), np.inf)
    blur = float(fitted.blur_px[0])
    levels, _ = _wall_levels(positions_px, profiles, weights, gap_px, blur, fitted.offset_px, free)
    first, wall, last = levels.T
    face, ground = np.where(gap_px > 0, first, last), np.where(gap_px > 0, last, first)
    away = ground - face
    return np.asarray((wall - face) / np.where(np.abs(away) < 1e-6, 1e-6, away))


def _levels_at_edge(levels: Array, gap: Array) -> tuple[Array, Array]:
    """Face and wall where the wall is the darker or lighter of the three, else both ends."""
    first, wall, last = levels.T
    low = np.where(gap > 0, first, wall)
    high = np.where(gap > 0, wall, last)
    stands_out = np.abs(high - low) > np.abs(last - first)
    return np.where(stands_out, low, first), np.where(stands_out, high, last)


def _wall_levels(
    positions: Array,
    profiles: Array,
    w: Array,
    gap: Array,
    blur: float,
    centre: Array,
    believed: Array,
) -> tuple[Array, Array]:
    """Best three levels in order along the profile, and the cost, for given centres."""
    near = ndtr((positions - centre[:, None]) / blur)
    far = ndtr((positions - centre[:, None] - gap[:, None]) / blur)
    first, last = np.minimum(near, far), np.maximum(near, far)
    columns = np.stack([1 - last, last - first, first], axis=2)
    weighted = columns * w[:, :, None]
    normal = weighted.transpose(0, 2, 1) @ columns + 1e-9 * np.eye(3)
    right = np.einsum("nbi,nb->ni", weighted, profiles)
    # The face is the first level where the wall follows the edge, else the last.
    tie = np.where(gap[:, None] > 0, [[1.0, -1.0, 0.0]], [[0.0, -1.0, 1.0]])
    strength = (_NOISE**2 / believed**2)[:, None, None]
    normal = normal + strength * np.einsum("ni,nj->nij", tie, tie)
    levels = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    miss = profiles - np.einsum("nbi,ni->nb", columns, levels)
    cost = (w * miss**2).sum(axis=1) + strength[:, 0, 0] * np.einsum("ni,ni->n", tie, levels) ** 2
    return levels, cost
