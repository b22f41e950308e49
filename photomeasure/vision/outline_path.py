"""Which line of change round a whole part is the rim of its stated face?

Row by row across a closed path, every place is weighed: is there a change of light, would
its wall end in a change to lighter paper just where the height puts the foot, and does
nothing change further into the part? The best closed line through all rows is found by
dynamic programming.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from photomeasure.vision.band import SMOOTH_PX, STEP_PX, Band, Path, lay_path, sample_band
from photomeasure.vision.walls import wall_px

Array = NDArray[np.float64]

ROW_PX = 2.5
_NEAR_PX = 6.0  # how far the rough contour may miss what it followed, for nothing
_MISS_COST = 0.04  # per px beyond that
_HALF_GAIN = 0.01  # of the square root of full light per px
_TEXTURE = 2.0
_ROWS_AVERAGED = 2.0
_WALL_SEEN_PX = 2.5
_WIDE_WALL_PX, _NO_FOOT = 6.0, 0.15
_SOFT_PX, _SOFT_SHARE = 4.0, 1.3
_FURTHER_IN = 0.45  # what a change further into the part takes away
_IN_PX = (3.0, 16.0)
_BESIDE_PX = 2.5
_PAPER_SHARES = (0.65, 0.8)
_NO_WALL = 0.7
_NEVER = -4.0
_MOST_COLUMNS = 3
_BEND_COST = 0.05
_STROKE_PX = 4.0
_STROKE_REACH_PX = 15.0  # strokes farther from the path are along another boundary
_STROKE_COST = 0.3


@dataclass(frozen=True, eq=False)
class RimLine:
    """The line found across a path. offset_px : (M,) along the normals. clear : (M,) how
    clear the change of light is there, 0 to 1. wall_px : (M,) signed width of the wall that
    shows beside it; 0 where none does."""

    offset_px: Array
    clear: Array
    wall_px: Array


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
    ahead = gaussian_filter1d(even, max(1.0, 0.4 / spacing), axis=0, mode="wrap", order=1)
    tangents = ahead / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    return lay_path(even, tangents, np.ones((rows, 1)), view, height_mm, closed=True)


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
    wall = wall_px(band, material)
    score = _score(band, wall, material, reach_px, paper, shadow_px)
    if len(stroke_px):
        score -= _stroke_cost(band, stroke_px)
    allowed = np.flatnonzero((score > _NEVER).any(axis=0))
    first, last = int(allowed[0]), int(allowed[-1]) + 1
    step = 2 if shadow_px else 1
    columns = first + step * _best_closed_path(score[:, first:last:step])
    clear = _clearness(band, columns, wall, material)
    return RimLine(band.offsets_px[columns], clear, wall)


def _clearness(band: Band, columns: NDArray[np.intp], wall: Array, material: int) -> Array:
    """(M,) how clear the change at each row's column is; not at all where a wide wall should
    show beside it and nothing ends where it would."""
    rows = np.arange(len(columns))
    slope = _slope(band)
    change = maximum_filter1d(_edge_strength(slope), 5, axis=1)
    lighter = np.where(material * slope < 0, change, 0.0)
    foot = gaussian_filter1d(_at_foot(band, lighter, wall)[rows, columns], 2.0, mode="wrap")
    baseless = (np.abs(wall) > _WIDE_WALL_PX) & (foot < _NO_FOOT)
    return np.where(baseless, 0.0, change[rows, columns])


def _score(
    band: Band, wall: Array, material: int, reach_px: float, paper: float, shadow_px: float
) -> Array:
    """(M, B) how well each place fits as the rim."""
    slope = _slope(band)
    change = _edge_strength(slope)
    further_in = _further_in(change, material)
    lighter = np.where(material * slope < 0, change, 0.0)
    foot = _at_foot(band, lighter, wall)
    seen = (np.abs(wall) > _WALL_SEEN_PX)[:, None]
    paper_beside = _paper_beside(band, material, paper)
    with_wall = 0.75 * change + 0.75 * foot - _NO_WALL * paper_beside
    score = np.where(seen, with_wall, change) - _FURTHER_IN * further_in
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
    best = maximum_filter1d(change, width, axis=1, mode="nearest")
    return np.roll(best, -material * (near + width // 2), axis=1)


def _paper_beside(band: Band, material: int, paper: float) -> Array:
    """(M, B) 0 to 1: how surely white paper begins right outside, where a wall should."""
    columns = max(1, round(_BESIDE_PX / STEP_PX))
    beside = np.roll(band.light, material * columns, axis=1)
    low, high = (share * paper for share in _PAPER_SHARES)
    return np.asarray(np.clip((beside - low) / (high - low), 0.0, 1.0))


def _at_foot(band: Band, lighter: Array, wall: Array) -> Array:
    """(M, B) the change to lighter where the foot of a rim at each place would stand."""
    columns = np.arange(len(band.offsets_px))[None, :] + np.rint(wall / STEP_PX)[:, None]
    inside = (columns >= 0) & (columns < lighter.shape[1])
    near = maximum_filter1d(lighter, 5, axis=1)
    picked = np.take_along_axis(near, np.clip(columns, 0, lighter.shape[1] - 1).astype(int), 1)
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
    """(M,) column of each row; the line closes, as it is followed for two thirds more."""
    rows = len(score)
    ahead = min(rows, max(40, rows // 3))
    wrapped = np.vstack([score[-ahead:], score, score[:ahead]])
    return _best_path(wrapped)[ahead : ahead + rows]


def _best_path(score: Array) -> NDArray[np.intp]:
    rows, columns = score.shape
    shifts = np.arange(-_MOST_COLUMNS, _MOST_COLUMNS + 1)
    total = score[0].copy()
    came = np.zeros((rows, columns), np.int8)
    padded = np.full(columns + 2 * _MOST_COLUMNS, -np.inf)
    picks = np.arange(columns)[None, :] + (shifts + _MOST_COLUMNS)[:, None]
    price = _BEND_COST * shifts[:, None] ** 2
    everywhere = np.arange(columns)
    for row in range(1, rows):
        padded[_MOST_COLUMNS:-_MOST_COLUMNS] = total
        options = padded[picks] - price
        best = options.argmax(axis=0)
        came[row] = shifts[best]
        total = options[best, everywhere] + score[row]
    path = np.empty(rows, np.intp)
    path[-1] = int(total.argmax())
    for row in range(rows - 1, 0, -1):
        path[row - 1] = path[row] + came[row, path[row]]
    return path
