"""Where exactly does the rim run in every row across it?

Each row's profile gets a blurred step in linear light (two where a narrow wall shows beside
it), what the tone curve still displaces is taken off, and rows that disagree with their
neighbours are left out: as for a single edge in `sharpen`, but for a line of any shape.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter, uniform_filter1d

from photomeasure.vision.band import STEP_PX, Path, profiles_about
from photomeasure.vision.outline_path import RimLine
from photomeasure.vision.outline_shade import averaged_about, steps_beside_shade, without_jitter
from photomeasure.vision.steps import Steps, fit_steps, fit_steps_beside_wall
from photomeasure.vision.tone import Tone, without_bias

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_HALF_PX = 6.0
_CLEARANCE_PX = 1.5
_LEAST_HALF_PX = 2.5
_WALL_PX, _NARROW_PX = (0.25, 6.0), 2.0
_LEAST_CONTRAST = 0.012
_MOST_OFF_PX = 2.5
_SOFT, _SOFT_MORE_PX = 1.8, 0.8
_CLEAR = 0.3
_NEIGHBOURS = 15
_NEARBY_ROWS, _SHOWS_NEARBY, _MOSTLY = 41, 0.6, 0.5
_GAP_ROWS, _TAIL_ROWS, _SPIKE_ROWS = 2, 8, 40
_STRAIGHT = 0.94  # the cosine of 20°
_AWAY_MM = 0.3
_SHIFT_FLOOR_PX = 0.13
"""What an edge is, beyond what blur and tone curve make of it; see DEVELOPERS.md."""


@dataclass(frozen=True, eq=False)
class SharpRim:
    """The rim located. points_px : (M, 2), of all rows; good : (M,) rows that show it
    cleanly. light_side : (M,) +1 where it grows lighter along the normal. u_noise_px : of
    each point by itself; u_shift_px, u_tone_px : of all together."""

    points_px: Array
    good: NDArray[np.bool_]
    light_side: Array
    u_noise_px: float
    u_shift_px: float
    u_tone_px: float

    def with_rows(self, rows: NDArray[np.intp], other: SharpRim, of: slice) -> SharpRim:
        """The same but for some rows, which are those of another one."""
        changed = {}
        for name in ("points_px", "good", "light_side"):
            changed[name] = getattr(self, name).copy()
            changed[name][rows] = getattr(other, name)[of]
        return replace(self, **changed)


def sharpen_rim(light: NDArray[np.float32], path: Path, rim: RimLine, tone: Tone) -> SharpRim:
    """Locate the rim near its line in every row of a path.

    Where a wide wall shows and the rim itself does not, its foot is located instead and
    the wall taken to stand upright.
    """
    all_rows = np.full(len(rim.offset_px), True)
    offset, good, sign, u_tone = _located(light, path, rim.offset_px, rim.wall_px, all_rows, tone)
    good &= rim.clear > _CLEAR
    good &= _agreeing(offset, good)
    dimmed = (np.abs(rim.wall_px) >= _NARROW_PX) & (np.abs(rim.wall_px) < _WALL_PX[1]) & ~good
    dimmed &= _share_nearby(dimmed, all_rows) > _MOSTLY
    if dimmed.any():
        at_wall, side, shows = _before_shade(light, path, rim, dimmed, tone)
        offset, sign = np.where(shows, at_wall, offset), np.where(shows, side, sign)
        good = _agreeing(offset, good | shows) & (good | shows)
    hidden = (np.abs(rim.wall_px) >= _WALL_PX[1]) & ~good
    if hidden.any():
        lifted, clean = _lifted(light, path, rim, hidden, tone)
        instead = hidden.copy()
        instead[hidden] = clean
        offset[instead], good[instead] = lifted[clean], True
        good &= _agreeing(offset, good)
    shaded = (np.abs(rim.wall_px) < _NARROW_PX) & ~good
    if shaded.any():
        steps, shows = steps_beside_shade(light, path, rim, shaded, tone.blur_px)
        instead = shaded & shows & (steps.contrast > _LEAST_CONTRAST)
        instead &= _share_nearby(instead, shaded) > _SHOWS_NEARBY
        # A wall too narrow to be seen is one with the face; its foot is what shows.
        offset = np.where(instead, steps.offset_px - rim.wall_px, offset)
        good = good | instead
        sign = np.where(instead, np.sign(steps.high - steps.low), sign)
        good &= _agreeing(offset, good)
    good = _without_spikes(path.points_mm, good)
    smooth = gaussian_filter1d(_filled(offset, good), 3.0, mode="wrap")
    miss = (offset - smooth)[good]
    noise = 1.4826 * float(np.median(np.abs(miss))) if good.any() else 1.0
    return SharpRim(
        points_px=path.points_px + np.where(good, offset, smooth)[:, None] * path.normals_px,
        good=good,
        light_side=sign,
        u_noise_px=max(0.02, noise),
        u_shift_px=_SHIFT_FLOOR_PX,
        u_tone_px=u_tone,
    )


def _share_nearby(those: Mask, of: Mask) -> Array:
    """(M,) how many of some rows are those, among the neighbours of each: where a real edge is
    faint it shows in most rows, and by chance in few."""
    near = [
        uniform_filter1d(rows.astype(float), _NEARBY_ROWS, mode="wrap") for rows in (those, of)
    ]
    return np.asarray(near[0] / np.maximum(near[1], 1e-9))


def _before_shade(
    light: NDArray[np.float32], path: Path, rim: RimLine, rows: Mask, tone: Tone
) -> tuple[Array, Array, Mask]:
    """(M,) offsets, light sides and whether the rim shows in those rows, at a narrow wall before
    which a shadow lies: the ground is level only right at its foot, so no more of it is looked
    at, but many rows at a time."""
    middle = without_jitter(rim.offset_px)
    found = _located(light, path, middle, rim.wall_px, rows, tone, shaded=True)
    offset, side, shows = np.zeros(len(rows)), np.zeros(len(rows)), np.zeros(len(rows), bool)
    offset[rows], shows[rows], side[rows], _ = found
    shows &= rim.clear > _CLEAR
    shows &= _share_nearby(shows, rows) > _SHOWS_NEARBY
    return offset, side, shows


def _lifted(
    light: NDArray[np.float32], path: Path, rim: RimLine, rows: Mask, tone: Tone
) -> tuple[Array, Mask]:
    """(K,) offsets of the rim in some rows, from the feet of their walls; whether those show."""
    at_foot, wall = rim.offset_px + rim.wall_px, rim.wall_px[rows]
    foot, clean, sign, _ = _located(light, path, at_foot, -rim.wall_px, rows, tone)
    return foot - wall, clean & (sign == np.sign(wall))


def _located(
    light: NDArray[np.float32],
    path: Path,
    line: Array,
    wall: Array,
    rows: Mask,
    tone: Tone,
    shaded: bool = False,
) -> tuple[Array, Mask, Array, float]:
    """Offsets (K,) of a line (M,) sharpened in some rows, which of these show it cleanly, which
    side is light, and the doubt that the tone curve leaves. wall : (M,). shaded : whether little
    is looked at beyond a narrow one, but many rows at a time."""
    positions = np.arange(-_HALF_PX, _HALF_PX + STEP_PX / 2, STEP_PX)
    centres = path.points_px + line[:, None] * path.normals_px
    if shaded:
        profiles = averaged_about(light, path, centres, positions)[rows]
    else:
        profiles = profiles_about(light, path, centres, positions, rows)
    steps = _fit(positions, profiles, wall[rows], tone, _CLEARANCE_PX if shaded else np.inf)
    usual_blur = median_filter(steps.blur_px, _NEIGHBOURS, mode="wrap")
    good = _clean(steps) & (np.maximum(steps.blur_px, usual_blur) < _soft_from_px(tone))
    sign = np.sign(steps.high - steps.low)
    offset, u_tone = without_bias(line[rows] + steps.offset_px, steps, sign, good, tone)
    return offset, good, sign, u_tone


def _weights(positions: Array, wall: Array, past_foot_px: float) -> Array:
    """(M, B) 1 where a profile belongs to the rim (and its narrow wall) alone."""
    width = np.abs(wall)
    upto_wall = np.maximum(width - _CLEARANCE_PX, _LEAST_HALF_PX)
    keep = np.where(width < _WALL_PX[1], width + past_foot_px, upto_wall)
    return np.asarray(positions[None, :] * np.sign(wall)[:, None] <= keep[:, None], float)


def _fit(positions: Array, profiles: Array, wall: Array, tone: Tone, past_foot_px: float) -> Steps:
    """One step in each row (K, B); beside a narrow wall as one of two."""
    weights = _weights(positions, wall, past_foot_px)
    beside = (np.abs(wall) > _WALL_PX[0]) & (np.abs(wall) < _WALL_PX[1])
    if not beside.any():
        return fit_steps(positions, profiles, weights, np.zeros(len(wall)))
    alone = ~beside
    both = (
        fit_steps(positions, profiles[alone], weights[alone], np.zeros(int(alone.sum()))),
        fit_steps_beside_wall(
            positions, profiles[beside], weights[beside], wall[beside], tone.blur_px
        ),
    )
    as_given = np.argsort(np.argsort(beside, kind="stable"))
    joined = (np.concatenate([getattr(s, f.name) for s in both]) for f in fields(Steps))
    return Steps(*(values[as_given] for values in joined))


def _soft_from_px(tone: Tone) -> float:
    """From how much blur on a change is the edge of a shadow."""
    return max(_SOFT * tone.blur_px, tone.blur_px + _SOFT_MORE_PX)


def _clean(steps: Steps) -> NDArray[np.bool_]:
    return np.asarray(
        (np.abs(steps.offset_px) < _MOST_OFF_PX)
        & (steps.misfit < 0.25 * steps.contrast)
        & (steps.contrast > _LEAST_CONTRAST)
    )


def _filled(offset: Array, good: NDArray[np.bool_]) -> Array:
    """Offsets of rows left out, interpolated round the closed line."""
    if not good.any():
        return offset
    rows = np.arange(len(offset))
    return np.interp(rows, rows[good], offset[good], period=len(offset))


def _agreeing(offset: Array, good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rows near the median of their neighbours."""
    filled = _filled(offset, good)
    miss = np.abs(filled - median_filter(filled, _NEIGHBOURS, mode="wrap"))
    scale = max(0.08, 1.4826 * float(np.median(miss[good])) if good.any() else 1.0)
    return np.asarray(miss < 4.5 * scale)


def _without_spikes(points_mm: Array, good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Leave out short runs of rows that stand away from where their neighbours lead.

    Such a run followed a shadow or a foot: rows that show no edge lie at both its ends, and
    the line before it and the line after it point at each other. points_mm : (M, 2) of the
    path, which runs within a few pixels of the rim.
    """
    kept = good.copy()
    rows = np.flatnonzero(good)
    if len(rows) < 2 * _TAIL_ROWS:
        return kept
    breaks = np.flatnonzero(np.diff(np.append(rows, rows[0] + len(good))) > _GAP_ROWS)
    if len(breaks) < 2:
        return kept
    runs = [rows[(np.arange(a + 1, b + 1 if b > a else b + 1 + len(rows))) % len(rows)]
            for a, b in zip(breaks, np.roll(breaks, -1), strict=True)]  # fmt: skip
    for k, run in enumerate(runs):
        before, after = runs[k - 1], runs[(k + 1) % len(runs)]
        if len(run) < min(_SPIKE_ROWS, len(before), len(after)) and _is_spike(
            points_mm[run], points_mm[before[-_TAIL_ROWS:]], points_mm[after[:_TAIL_ROWS]]
        ):
            kept[run] = False
    return kept


def _is_spike(run: Array, before: Array, after: Array) -> bool:
    if min(len(before), len(after)) < _TAIL_ROWS:
        return False
    chord = after[0] - before[-1]
    ways = (chord, before[-1] - before[0], after[-1] - after[0])
    if min(float(np.hypot(*way)) for way in ways) < 1e-9:
        return False
    length = float(np.hypot(*chord))
    straight = min(
        float((before[-1] - before[0]) @ chord / np.hypot(*(before[-1] - before[0])) / length),
        float((after[-1] - after[0]) @ chord / np.hypot(*(after[-1] - after[0])) / length),
    )
    away = np.abs((run - before[-1]) @ np.array([-chord[1], chord[0]]) / length)
    return bool(straight > _STRAIGHT and away.max() > _AWAY_MM)
