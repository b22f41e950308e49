"""Where do boundaries seen in a photo lie on their plane, and how may they be off together?

Every source of doubt (print, lens, paper, height, tone curve, what an edge is) moves all
points at once. These movements are kept as modes, so that any size taken from the contours
later carries its doubt, and two sizes of one part stay correlated. What turns or shifts the
whole part changes no size and is taken out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.features import EDGE, HEIGHT, TONE, Height
from photomeasure.geometry.camera import plane_from_image
from photomeasure.records.outline import Boundary
from photomeasure.records.part import Contour
from photomeasure.records.view import VIEW_SIZE, Solution, View

Array = NDArray[np.float64]

_VIEW_STEPS = np.array([1.0, 0.5, 0.5, 1e-3, 1e-3, 1e-5, 1e-5, 1e-3] + [1e-5] * 3 + [1e-2] * 3)
_LEAST_SHARE = 1e-8  # of a source's variance; smaller directions are left out


def place_boundaries(
    boundaries: Sequence[Boundary], view: View, solution: Solution, height: Height
) -> tuple[Contour, ...]:
    """Contours in mm on the plane at this height, each anticlockwise, with common modes."""
    points_px = np.concatenate([b.points_px for b in boundaries])
    points = plane_from_image(points_px, view.parameters, height.mm)
    named = [
        *_view_modes(points_px, view, solution, height.mm),
        (HEIGHT, _height_mode(points_px, points, view, height)),
        *_edge_modes(boundaries, view, height.mm),
    ]
    sources = tuple(name for name, _ in named)
    modes = np.array([_without_rigid(points, mode) for _, mode in named])
    contours, start = [], 0
    for b in boundaries:
        rows = slice(start, start + len(b.points_px))
        start = rows.stop
        u = b.u_noise_px * _mm_per_px(points_px[rows], points[rows])
        whole = b.whole_px
        if whole is not None:
            whole = plane_from_image(whole, view.parameters, height.mm)
        contours.append(_anticlockwise(Contour(points[rows], u, modes[:, rows], sources, whole)))
    return tuple(contours)


def _view_modes(
    points_px: Array, view: View, solution: Solution, height_mm: float
) -> list[tuple[str, Array]]:
    numbers = view.parameters
    slopes = np.array(
        [
            (
                plane_from_image(points_px, numbers + step * unit, height_mm)
                - plane_from_image(points_px, numbers - step * unit, height_mm)
            )
            / (2 * step)
            for unit, step in zip(np.eye(VIEW_SIZE), _VIEW_STEPS, strict=True)
        ]
    )
    block = slice(view.start, view.start + VIEW_SIZE)
    modes = []
    for source, covariance in solution.covariances.items():
        values, directions = np.linalg.eigh(covariance[block, block])
        for value, direction in zip(values, directions.T, strict=True):
            if value > _LEAST_SHARE * values[-1] and value > 0:
                modes.append((source, np.tensordot(np.sqrt(value) * direction, slopes, 1)))
    return modes


def _height_mode(points_px: Array, points: Array, view: View, height: Height) -> Array:
    if height.u_mm == 0:
        return np.zeros_like(points)
    return plane_from_image(points_px, view.parameters, height.mm + height.u_mm) - points


def _edge_modes(
    boundaries: Sequence[Boundary], view: View, height_mm: float
) -> list[tuple[str, Array]]:
    """One for the photo's tone curve, and for each boundary's own doubt of what its edge is three:
    alike all round, which makes a hole larger, and unlike from side to side of it, as light and
    shadow are, which moves it."""
    size = sum(len(b.points_px) for b in boundaries)
    tone, start = np.zeros((size, 2)), 0
    modes = []
    for b in boundaries:
        rows = slice(start, start + len(b.points_px))
        start = rows.stop
        ahead = plane_from_image(b.points_px + 0.5 * b.normals_px, view.parameters, height_mm)
        behind = plane_from_image(b.points_px - 0.5 * b.normals_px, view.parameters, height_mm)
        outwards = ahead - behind
        tone[rows] = b.u_tone_px * b.light_side[:, None] * outwards
        facing = outwards / np.maximum(np.hypot(*outwards.T), 1e-12)[:, None]
        for how_far in (np.ones(len(facing)), *facing.T):
            own = np.zeros((size, 2))
            own[rows] = b.u_shift_px * how_far[:, None] * outwards
            modes.append((EDGE, own))
    return [(TONE, tone), *modes]


def _without_rigid(points: Array, mode: Array) -> Array:
    """The movement less the shift and turn that fit it best."""
    arm = points - points.mean(axis=0)
    across = np.column_stack([-arm[:, 1], arm[:, 0]])
    turn = float((across * mode).sum() / max(float((across**2).sum()), 1e-12))
    return np.asarray(mode - mode.mean(axis=0) - turn * across)


def _mm_per_px(points_px: Array, points: Array) -> Array:
    """(N,) scale along the boundary."""
    ahead = np.roll(points, -1, axis=0) - points
    ahead_px = np.roll(points_px, -1, axis=0) - points_px
    scale = np.hypot(*ahead.T) / np.maximum(np.hypot(*ahead_px.T), 1e-9)
    return np.full(len(points), float(np.median(scale)))


def _anticlockwise(contour: Contour) -> Contour:
    x, y = contour.points_mm.T
    if float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) >= 0:
        return contour
    return replace(
        contour,
        points_mm=contour.points_mm[::-1],
        u_mm=contour.u_mm[::-1],
        modes_mm=contour.modes_mm[:, ::-1],
        whole_mm=None if contour.whole_mm is None else contour.whole_mm[::-1],
    )
