"""Which line of change round a whole part is the rim of its stated face?

Row by row across a closed path, every place is weighed: is there a change of light, would
its wall end in a change to lighter paper just where the height puts the foot, and does
nothing change further into the part? The best closed line through all rows is found by
dynamic programming.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.vision.band import SMOOTH_PX, STEP_PX, Band, Path, lay_path, sample_band
from photomeasure.vision.walls import wall_px

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROW_PX = 2.5
_TANGENT_MM = 0.4  # over which a path's direction is averaged
_NEAR_PX = 6.0  # how far the rough contour may miss what it followed, for nothing
_MISS_COST = 0.04  # per px beyond that
_HALF_GAIN = 0.01  # of the square root of full light per px
_TEXTURE = 2.0
_ROWS_AVERAGED = 2.0
_WALL_SHOWS_PX, _NARROW_PX, _WALL_SEEN_PX = 0.5, 2.5, 2.5
_NARROW_OWN, _WIDE_OWN = 0.3, 0.75
_WIDE_WALL_PX, _NO_FOOT = 6.0, 0.15
_OTHER_FEET, _STRONG = (0.5, 0.65, 0.8, 1.25, 1.5, 1.8), 0.6
_SOFT_PX, _SOFT_SHARE = 4.0, 1.3
_FURTHER_IN = 0.45  # what a change further into the part takes away
_IN_PX = (3.0, 16.0)
_BESIDE_PX = 2.5
_PAPER_SHARES = (0.65, 0.8)
_LIGHTER, _DARKEST = (1.5, 2.5), 0.01
_NO_WALL = 0.7
_NEVER = -4.0
_MOST_COLUMNS = 3
_BEND_COST = 0.05
_FORGETS_ROWS = 240
_STROKE_PX = 4.0
_STROKE_REACH_PX = 15.0  # strokes farther from the path are along another boundary
_STROKE_COST = 0.3


@dataclass(frozen=True, eq=False)
class RimLine:
    """The line found across a path. offset_px : (M,) along the normals. clear : (M,) how
    clear the change of light is there, 0 to 1. wall_px : (M,) signed width of the wall that
    shows beside it; 0 where none does. material : +1 where the part lies along the normals."""

    offset_px: Array
    clear: Array
    wall_px: Array
    material: int


def closed_path(
    chain_mm: Array, view: Array, height_mm: float, smooth_mm: float, row_px: float = ROW_PX
) -> Path:
    """A path clockwise along a closed chain (N, 2) mm, so that its normals point outwards.

    smooth_mm : over how much of its length the chain is smoothed first. row_px : how far
    apart its rows are.
    """
    closed = np.vstack([chain_mm, chain_mm[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    middle = chain_mm.mean(axis=0)
    probe = lay_path(middle[None], np.array([[1.0, 0.0]]), np.ones((1, 1)), view, height_mm, False)
    rows = max(24, round(along[-1] / float(probe.mm_per_px[0]) / row_px))
    places = np.arange(rows) / rows * along[-1]
    even = np.column_stack([np.interp(places, along, c) for c in closed.T])
    spacing = along[-1] / rows
    even = gaussian_filter1d(even, smooth_mm / spacing, axis=0, mode="wrap")
    if _area(even) > 0:
        even = even[::-1]
    return _laid(even, view, height_mm, "wrap")


def path_along(points_mm: Array, view: Array, height_mm: float) -> Path:
    """A path through just these points (N, 2) mm, part of a closed one."""
    return _laid(points_mm, view, height_mm, "nearest")


def _laid(points_mm: Array, view: Array, height_mm: float, mode: str) -> Path:
    spacing = float(np.median(np.hypot(*np.diff(points_mm, axis=0).T)))
    sigma = max(1.0, _TANGENT_MM / max(spacing, 1e-6))
    ahead = gaussian_filter1d(points_mm, sigma, axis=0, mode=mode, order=1)
    tangents = ahead / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    free = np.ones((len(points_mm), 1))
    return lay_path(points_mm, tangents, free, view, height_mm, closed=mode == "wrap")


def _area(points: Array) -> float:
    x, y = points.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def find_rim(
    light: NDArray[np.float32],
    path: Path,
    material: int,
    reach_px: float,
    paper: float,
    stroke_px: Array,
    shadow_px: float,
) -> RimLine:
    """The rim along a closed path.

    material : +1 where the part lies outwards of the path, -1 inwards. reach_px : how far
    from the path it may be. paper : linear light of the white paper. stroke_px : (S, 2) points
    of strokes along the true edge. shadow_px : how wide a shadow or wall the path may here and
    there run along the far side of, instead; 0 where it follows the rim already.
    Raises GeometryError where most of it lies outside the picture.
    """
    widest = float(np.abs(path.foot_px).max()) + shadow_px
    band = sample_band(light, path, reach_px + widest + _IN_PX[1])
    wall, changes = wall_px(band, material), _changes(band, material)
    score = _score(band, changes, wall, material, reach_px, paper, shadow_px)
    if len(stroke_px):
        score -= _stroke_cost(band, stroke_px)
    allowed = np.flatnonzero((score > _NEVER).any(axis=0))
    first, last = int(allowed[0]), int(allowed[-1]) + 1
    step = 2 if shadow_px else 1
    columns = first + step * _best_closed_path(score[:, first:last:step])
    clear = _clearness(changes, columns, wall)
    return RimLine(band.offsets_px[columns], clear, wall, material)


@dataclass(frozen=True, eq=False)
class _Changes:
    """Changes of light across a band, (M, B). strength : 0 to 1. outwards : whether it grows
    lighter away from the part."""

    strength: Array
    outwards: Mask


def _changes(band: Band, material: int) -> _Changes:
    slope = _slope(band)
    return _Changes(_edge_strength(slope), material * slope < 0)


def changes_across(band: Band, material: int) -> Array:
    """(M, B) 0 to 1: how clearly the light changes at each place of a band."""
    return _changes(band, material).strength


def _clearness(changes: _Changes, columns: NDArray[np.intp], wall: Array) -> Array:
    """(M,) how clear the change at each row's column is; not at all where a wide wall should
    show beside it and nothing ends where it would."""
    rows = np.arange(len(columns))
    change = _largest(changes.strength, 5)
    lighter = _largest(change * changes.outwards, 5)
    foot = gaussian_filter1d(_at_foot(lighter, wall, columns[:, None])[:, 0], 2.0, mode="wrap")
    baseless = (np.abs(wall) > _WIDE_WALL_PX) & (foot < _NO_FOOT)
    # Beside a corner the wall round it hides the foot, and ends nearer or farther.
    for share in _OTHER_FEET:
        other = _at_foot(lighter, share * wall, columns[:, None])[:, 0]
        baseless &= ~((change[rows, columns] > _STRONG) & (other > _STRONG))
    return np.where(baseless, 0.0, change[rows, columns])


def _score(
    band: Band,
    changes: _Changes,
    wall: Array,
    material: int,
    reach_px: float,
    paper: float,
    shadow_px: float,
) -> Array:
    """(M, B) how well each place fits as the rim."""
    change = changes.strength
    further_in = _further_in(change, material)
    lighter = _largest(changes.strength * changes.outwards, 5)
    foot = _at_foot(lighter, wall, np.arange(change.shape[1])[None, :])
    # A narrow wall cannot be told from what lies beside it, but its foot can.
    seen = (np.abs(wall) > _WALL_SHOWS_PX)[:, None]
    wide = np.clip((np.abs(wall) - _NARROW_PX) / _WALL_SEEN_PX, 0, 1)[:, None]
    own = _NARROW_OWN + wide * (_WIDE_OWN - _NARROW_OWN)
    no_wall = _NO_WALL * wide * _no_wall_beside(band, material, paper)
    with_wall = own * change + (2 * _WIDE_OWN - own) * foot - no_wall
    score = np.where(seen, with_wall, change)
    score -= _FURTHER_IN * further_in
    # Where the path runs along a foot, the rim lies a wall's width further into the part,
    # or behind the edge of its shadow.
    inwards = material * shadow_px
    further = (inwards - wall[:, None]) if shadow_px else np.zeros((len(wall), 1))
    offsets = band.offsets_px[None, :]
    low, high = np.minimum(further, 0.0), np.maximum(further, 0.0)
    stray = np.maximum(low - offsets, 0.0) + np.maximum(offsets - high, 0.0)
    score = score - _MISS_COST * np.maximum(stray - _NEAR_PX, 0.0)
    score[stray > reach_px] = _NEVER
    score[~band.inside] = 0.0
    return np.asarray(score)


def _slope(band: Band) -> Array:
    """(M, B) of the square root of light, in which noise is alike in dark and bright places;
    averaged over a few rows, and less what a shadow's soft edge makes of it."""
    bright = np.sqrt(np.maximum(band.light, 0.0))
    slope = gaussian_filter1d(bright, SMOOTH_PX / STEP_PX, axis=1, order=1) / STEP_PX
    return _sharp_share(gaussian_filter1d(slope, _ROWS_AVERAGED, axis=0, mode="wrap"))


def _sharp_share(slope: Array) -> Array:
    """What of a slope has no like on both its sides: an edge in focus, no penumbra."""
    columns = round(_SOFT_PX / STEP_PX)
    way = np.sign(slope)
    padded = np.pad(slope, ((0, 0), (columns, columns)), mode="edge")
    before, after = padded[:, : -2 * columns], padded[:, 2 * columns :]
    soft = np.maximum(np.minimum(way * before, way * after), 0.0)
    return np.asarray(way * np.maximum(np.abs(slope) - _SOFT_SHARE * soft, 0.0))


def _edge_strength(slope: Array) -> Array:
    """(M, B) 0 to 1: that there is a change counts more than how strong it is."""
    usual = float(np.median(np.abs(slope)))
    return np.asarray(slope**2 / (slope**2 + (_HALF_GAIN + _TEXTURE * usual) ** 2))


def _further_in(change: Array, material: int) -> Array:
    """(M, B) the clearest change a little further into the part."""
    near, far = (int(px / STEP_PX) for px in _IN_PX)
    width = far - near + 1
    best = _largest(change, width)
    return np.roll(best, -material * (near + width // 2), axis=1)


def _no_wall_beside(band: Band, material: int, paper: float) -> Array:
    """(M, B) 0 to 1: how surely right outside, where a wall should be, begins white paper, or
    something far lighter than the face: a wall is of its stuff and seldom has more light."""
    columns = max(1, round(_BESIDE_PX / STEP_PX))
    beside = np.roll(band.light, material * columns, axis=1)
    inside = np.roll(band.light, -material * columns, axis=1)
    low, high = (share * paper for share in _PAPER_SHARES)
    white = np.clip((beside - low) / (high - low), 0.0, 1.0)
    least, most = _LIGHTER
    ratio = beside / np.maximum(inside, _DARKEST)
    return np.asarray(np.maximum(white, np.clip((ratio - least) / (most - least), 0.0, 1.0)))


def _largest(values: Array, columns: int) -> Array:
    """(M, B) the largest value within so many columns about each place."""
    return np.asarray(cv2.dilate(values, np.ones((1, columns), np.uint8)), float)


def _at_foot(lighter: Array, wall: Array, columns: NDArray[np.intp]) -> Array:
    """(M, C) the change to lighter (M, B) where the foot of a rim would stand that runs at each
    of some columns, (M, C) or (1, C)."""
    feet = columns + np.rint(wall / STEP_PX)[:, None]
    inside = (feet >= 0) & (feet < lighter.shape[1])
    picked = np.take_along_axis(lighter, np.clip(feet, 0, lighter.shape[1] - 1).astype(int), 1)
    return np.where(inside, picked, 0.0)


def _stroke_cost(band: Band, stroke_px: Array) -> Array:
    """(M, B) what straying from a stroke costs in the rows that it crosses."""
    arm = stroke_px[None] - band.path.points_px[:, None]
    along = np.einsum("msi,mi->ms", arm, band.path.tangents_px)
    across = np.einsum("msi,mi->ms", arm, band.path.normals_px)
    cost = np.zeros((len(arm), len(band.offsets_px)))
    for row in range(len(arm)):
        close = (np.abs(along[row]) < 2 * ROW_PX) & (np.abs(across[row]) < _STROKE_REACH_PX)
        if close.any():
            at = float(np.median(across[row][close]))
            cost[row] = _STROKE_COST * np.maximum(np.abs(band.offsets_px - at) - _STROKE_PX, 0.0)
    return cost


def _best_closed_path(score: Array) -> NDArray[np.intp]:
    """(M,) column of each row; the line closes, as it is followed for some rows more, before
    and after, in which it forgets where it began."""
    rows = len(score)
    ahead = min(rows, _FORGETS_ROWS)
    wrapped = np.vstack([score[-ahead:], score, score[:ahead]])
    return _best_path(wrapped)[ahead : ahead + rows]


def _best_path(score: Array) -> NDArray[np.intp]:
    """Written for speed: it goes through thousands of rows."""
    rows, columns = score.shape
    shifts = np.arange(-_MOST_COLUMNS, _MOST_COLUMNS + 1)
    came = np.empty((rows, columns), np.intp)  # the number of the shift
    padded = np.full(columns + 2 * _MOST_COLUMNS, -np.inf)
    total = padded[_MOST_COLUMNS:-_MOST_COLUMNS]
    total[:] = score[0]
    before = sliding_window_view(padded, columns)  # total, seen from each shift
    price = _BEND_COST * shifts[:, None] ** 2
    options = np.empty((len(shifts), columns))
    for row in range(1, rows):
        np.subtract(before, price, out=options)
        options.argmax(axis=0, out=came[row])
        np.maximum.reduce(options, axis=0, out=total)
        np.add(total, score[row], out=total)
    path = np.empty(rows, np.intp)
    path[-1] = int(total.argmax())
    for row in range(rows - 1, 0, -1):
        path[row - 1] = path[row] + shifts[came[row, path[row]]]
    return path
