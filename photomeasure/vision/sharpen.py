"""How exactly does an edge run, once it is known which?

Each row's profile is fitted with a blurred step in linear light, what the photo's own tone
curve still displaces is taken off, and rows that disagree with the path's smooth line
(glare, dirt, another edge) are left out.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import ceil

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.vision.agreeing import agreeing
from photomeasure.vision.band import STEP_PX, Band, profiles_about
from photomeasure.vision.double_steps import fit_double_steps
from photomeasure.vision.level_sides import fit_steps_alike
from photomeasure.vision.steps import (
    Steps,
    fit_steps_beside_wall,
    wall_against_face,
)
from photomeasure.vision.tone import Tone, without_bias

Array = NDArray[np.float64]

_HALF_PX = 7.0
_CLEARANCE_PX = 1.5  # kept from a neighbouring edge
_LEAST_HALF_PX = 2.5
_CLOSE_PX = (1.0, 6.0)  # edges so near are fitted together
_LEAST_ROWS = 8
_LEAST_SHARE = 0.1  # of the places looked at: fewer have passed by chance
_LEAST_CONTRAST = 0.012  # of full light
_WALL_PX = (0.25, 7.0)  # walls narrower do not matter, wider ones stand apart
_MUCH_BETTER = 0.8  # of the misfit: then what was found was the foot of a narrow wall
_LEAST_WALL = 0.04  # of face against ground: a wall that differs less is not one
_RIVAL_U_PX = 0.45  # doubt where another edge runs right beside
_RIVAL_REACH_PX = 16.0  # beyond this another edge does not matter
_BURNT, _ALL_WHITE = 0.97, 0.9  # of full light: recorded no more; white on both sides
_BURNT_U_PX = 0.6  # by which glare a few times full light spreads over a blurred edge
SPARSE = 0.5  # of the places along it: an edge that fewer show is weak
_SPARSE_U_PX = 0.6  # doubt of one that hardly any show: noise chose among them
_USUAL_EXCESS = 1.3  # of the photo's blur: edges lie in and out of focus
_SOFT_U = 0.4  # doubt as a share of the width that blur does not explain
_FEW_DISSENT = 0.1  # of the clean places beside the line: dirt, not another edge
_FAR_DISSENT_PX = 4.0  # places farther off are of something else
_UNRELATED = 0.1  # correlation below which rows err on their own
_SHIFT_FLOOR_PX = 0.13  # what an edge is, beyond what blur and tone curve make of it


@dataclass(frozen=True, eq=False)
class SharpEdge:
    """An edge located: points_px, normals_px (dark to light) : (N, 2).

    u_noise_px : of each point by itself. u_shift_px : of all together, from what the edge
    is and what stands beside it; u_tone_px : likewise, from the tone curve. spread_px : rms
    of the points about the smooth line. rows : (M,) those of the path that were used. burnt :
    share of them whose light side is burnt out. shown : share of the places in the picture
    that show it.
    """

    points_px: Array
    normals_px: Array
    u_noise_px: float
    u_shift_px: float
    u_tone_px: float
    spread_px: float
    rows: NDArray[np.bool_]
    burnt: float
    shown: float


def sharpen(
    light: NDArray[np.float32],
    band: Band,
    tone: Tone,
    line_px: Array,
    rivals_px: Array,
    wall_px: Array,
    *,
    foot_found: bool,
    material: int,
    walls_sure: bool = True,
) -> SharpEdge:
    """Locate the edge near line_px (M,).

    rivals_px : (R, M) other edges nearby, to keep away from. wall_px : (M,) signed width
    of the wall that shows beside the edge, 0 where none does. foot_found : whether the
    wall's foot was found as an edge of its own. material : +1 where the part lies outwards.
    walls_sure : whether the part is known to stand on the sheet, so that such a wall must show.
    Raises GeometryError when too few rows show a clean step.
    """
    path = band.path
    narrow = (np.abs(wall_px) > _WALL_PX[0]) & (np.abs(wall_px) < _WALL_PX[1])
    walls = np.where(narrow, wall_px, 0.0)
    lines = [line_px] if foot_found or not walls.any() else [line_px, line_px - walls]
    must_show = not (walls_sure or path.closed)
    line_px, steps, weights = _best_reading(
        light, band, tone, lines, rivals_px, walls, material, must_show=must_show
    )
    clean = _clean(steps, weights) & band.inside
    offset = line_px + steps.offset_px
    good = _smooth(offset, agreeing(offset, clean, path.basis), path.basis)
    _refuse_few(good, band)
    sign = np.sign(steps.high - steps.low)
    offset, u_tone = without_bias(offset, steps, sign, good, tone)
    miss = _misses(offset, good, path.basis)
    wall_u = 0.25 * np.abs(walls[good]) / (1 + walls[good] ** 2)
    points = path.points_px + offset[:, None] * path.normals_px
    burnt = _burnt(steps, good)
    shown = float(good.sum() / band.inside.sum())
    return SharpEdge(
        points_px=points[good],
        normals_px=(sign[:, None] * path.normals_px)[good],
        u_noise_px=max(0.01, 1.4826 * float(np.median(np.abs(miss)))) * _alike(miss),
        u_shift_px=_combined(
            _SHIFT_FLOOR_PX,
            wall_u.mean(),
            _rival_u(line_px, rivals_px),
            _dissent_u(offset, clean, good, path.basis),
            _BURNT_U_PX * burnt,
            _weak_u(steps, good, shown, tone.blur_px),
        ),
        u_tone_px=u_tone,
        spread_px=float(np.sqrt(np.mean(miss**2))),
        rows=good,
        burnt=burnt,
        shown=shown,
    )


def _refuse_few(good: NDArray[np.bool_], band: Band) -> None:
    least = max(_LEAST_ROWS, band.path.basis.shape[1] + 3)
    needed = max(least, ceil(_LEAST_SHARE * band.inside.sum()))
    if good.sum() < needed:
        raise GeometryError(
            f"Only {good.sum()} places along it show a clean edge; at least {needed} are "
            "needed. Use more even light, a matt surface or a sharper picture, or click nearer."
        )


def _combined(*parts: float) -> float:
    """The standard uncertainty of several that have nothing to do with each other."""
    return float(np.linalg.norm(parts))


def _alike(miss: Array) -> float:
    """By how much rows that err alike with their neighbours average less than others: the
    root of the rows that count as one."""
    miss = miss - miss.mean()
    power = float(miss @ miss) + 1e-12
    together = 1.0
    for apart in range(1, len(miss) // 3):
        share = float(miss[apart:] @ miss[:-apart]) / power
        if share < _UNRELATED:
            break
        together += 2 * share
    return float(np.sqrt(together))


def _profiles(light: NDArray[np.float32], band: Band, line_px: Array, positions: Array) -> Array:
    centres_px = band.path.points_px + line_px[:, None] * band.path.normals_px
    return profiles_about(light, band.path, centres_px, positions)


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
    return np.asarray((positions >= low[:, None]) & (positions <= high[:, None]), float)


def _rival_u(line_px: Array, rivals_px: Array) -> float:
    """Doubt in px from the nearest other edge, whose flank the window cannot all leave out."""
    if len(rivals_px) == 0:
        return 0.0
    nearest = float(np.abs(rivals_px - line_px).mean(axis=1).min())
    return _RIVAL_U_PX * max(0.0, 1 - nearest / _RIVAL_REACH_PX)


def _best_reading(
    light: NDArray[np.float32],
    band: Band,
    tone: Tone,
    lines: list[Array],
    rivals_px: Array,
    walls: Array,
    material: int,
    *,
    must_show: bool,
) -> tuple[Array, Steps, Array]:
    """The line, its steps and weights: as found, or one narrow wall further in.

    Beside a narrow wall the sharpest change may be the wall's foot, not the edge itself.
    Both are tried. Where it is not sure that the wall shows (must_show), what lies further in
    must fit much better and be seen: a step of no height at all in front of the edge found
    always fits a little better.
    """
    positions = np.arange(-_HALF_PX, _HALF_PX + STEP_PX / 2, STEP_PX)
    readings = []
    for line in lines:
        profiles = _profiles(light, band, line, positions)
        close = np.where(walls == 0, _close_behind(line, rivals_px, material), 0.0)
        weights = _weights(positions, line, rivals_px, walls + close)
        steps = _fit(positions, profiles, weights, walls, close, tone)
        readings.append((line, steps, weights))
    beside = (walls != 0) & band.inside
    as_found, *further_in = readings
    for reading in further_in:
        misfit, usual = (np.median(r[1].misfit[beside]) for r in (reading, as_found))
        enough = _MUCH_BETTER if must_show else 1.0
        if misfit < enough * usual and (
            not must_show or _shows_a_wall(light, band, positions, reading, walls)
        ):
            return reading
    return as_found


def _shows_a_wall(
    light: NDArray[np.float32],
    band: Band,
    positions: Array,
    reading: tuple[Array, Steps, Array],
    walls: Array,
) -> bool:
    """Whether there is a step at all at a straight edge that was taken to lie further in."""
    line, steps, weights = reading
    rows = (walls != 0) & band.inside
    if not rows.any():
        return True
    profiles = _profiles(light, band, line, positions)[rows]
    fitted = steps.at(rows)
    share = wall_against_face(positions, profiles, weights[rows], walls[rows], fitted)
    return abs(float(np.median(share))) > _LEAST_WALL


def _close_behind(line_px: Array, rivals_px: Array, material: int) -> Array:
    """(M,) signed distance of the edge next to this one, away from the part, where it stands
    so close that the two are fitted together; 0 elsewhere."""
    result = np.zeros(len(line_px))
    nearest = np.full(len(line_px), _CLOSE_PX[1])
    for rival in rivals_px:
        away = -material * (rival - line_px)
        nearer = (away > _CLOSE_PX[0]) & (away < nearest)
        nearest = np.where(nearer, away, nearest)
        result = np.where(nearer, -material * away, result)
    return result


def _fit(
    positions: Array, profiles: Array, weights: Array, walls: Array, close: Array, tone: Tone
) -> Steps:
    """Each row as an edge alone, one beside a narrow wall, or two close together."""
    steps = Steps(*np.empty((len(fields(Steps)), len(profiles))))
    for rows, gap, fit in (
        ((walls == 0) & (close == 0), np.zeros(len(profiles)), _fit_alone),
        (walls != 0, walls, fit_steps_beside_wall),
        (close != 0, close, fit_double_steps),
    ):
        if not rows.any():
            continue
        fitted = fit(positions, profiles[rows], weights[rows], gap[rows], tone.blur_px)
        for field in fields(Steps):
            getattr(steps, field.name)[rows] = getattr(fitted, field.name)
    return steps


def _fit_alone(
    positions: Array, profiles: Array, weights: Array, start_px: Array, blur_px: float
) -> Steps:
    """However much an edge alone is blurred."""
    return fit_steps_alike(positions, profiles, weights, start_px)


def _clean(steps: Steps, weights: Array) -> NDArray[np.bool_]:
    contrast = steps.contrast
    return np.asarray(
        (np.abs(steps.offset_px) < 2.5)
        & (steps.misfit < 0.25 * contrast)
        & (contrast > _LEAST_CONTRAST)
        & (weights.sum(axis=1) > 6)
        & (np.minimum(steps.low, steps.high) < _ALL_WHITE)
    )


def _burnt(steps: Steps, good: NDArray[np.bool_]) -> float:
    """Share of the places whose light side is burnt out: its blur hides part of the dark side,
    and by how much depends on light that the phone did not record."""
    return float(np.mean(np.maximum(steps.low, steps.high)[good] > _BURNT))


def _weak_u(steps: Steps, good: NDArray[np.bool_], shown: float, blur_px: float) -> float:
    """Doubt in px where an edge is wider than the photo's blur explains, or hardly shown.

    A shadow that begins at an edge, or a rounding, widens it, and nobody knows which part of it
    is the edge.
    """
    seen = float(np.median(steps.blur_px[good]))
    wider = float(np.sqrt(max(0.0, seen**2 - (_USUAL_EXCESS * blur_px) ** 2)))
    sparse = max(0.0, 1 - shown / SPARSE)
    return float(np.hypot(_SOFT_U * wider, _SPARSE_U_PX * sparse))


def _smooth(offset: Array, good: NDArray[np.bool_], basis: Array) -> NDArray[np.bool_]:
    """Leave out rows far from the line that most agree on."""
    for _ in range(4):
        if good.sum() <= basis.shape[1] + 2:
            return good
        miss = _misses(offset, good, basis, everywhere=True)
        scale = max(0.05, 1.4826 * float(np.median(np.abs(miss[good]))))
        good = good & (np.abs(miss) < 3.5 * scale)
    return good


def _dissent_u(
    offset: Array, clean: NDArray[np.bool_], good: NDArray[np.bool_], basis: Array
) -> float:
    """Doubt in px where many places show a clean edge, but beside the line that was taken."""
    beside = clean & ~good
    share = float(beside.sum()) / max(float(clean.sum()), 1.0)
    if share < _FEW_DISSENT:
        return 0.0
    away = np.abs(_misses(offset, good, basis, everywhere=True)[beside])
    return share * min(float(np.median(away)), _FAR_DISSENT_PX)


def _misses(
    offset: Array, good: NDArray[np.bool_], basis: Array, everywhere: bool = False
) -> Array:
    model, *_ = np.linalg.lstsq(basis[good], offset[good], rcond=None)
    miss = offset - basis @ model
    return miss if everywhere else miss[good]
