"""What does the wall beside an edge say: is there one in sight, where does it end, and how
high does the edge stand over its foot?

The foot of an upright wall appears at a known displacement from its upper edge for every
height, and only where the part does not hide it. So the foot is sought along a line of one
unknown, the height.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.vision.band import Band
from photomeasure.vision.ridges import Ridge

Array = NDArray[np.float64]

APART_PX = 2.0  # feet nearer than this are one edge with its wall
_LOWEST, _HIGHEST, _HEIGHT_STEP = 0.3, 1.15, 0.01  # as shares of the stated height
_FLANK_PX = 3.0  # nearer than this the edge itself is still changing
_SEEN_PX = 4.0  # a wall wider than this stands apart from its edge
_CLEAR_CHANGE = 0.012  # of full light per px, the mean over the rows where it is seen
_ABOVE_USUAL = 1.5
_PAPER_SHARE = 0.12  # of the sharpest change: a foot stands on white paper
_FAINT = 0.0025  # of full light per px, averaged along the edge
_ON_LINE_PX = 1.6
_LEAST_ROWS = 8
_EDGE_SHARE = 0.4  # an edge seen in fewer rows is no sign of a foot
_HEIGHT_DOUBT_PX = 1.0


def wall_px(band: Band, material: int, shift_px: float = 0.0) -> Array:
    """(M,) signed width of the wall in sight beside the edge; 0 where it is hidden.

    material : +1 where the part lies outwards of the path, -1 inwards. shift_px : by which
    the foot lies farther outwards than the view says.
    """
    foot = band.path.foot_px + shift_px
    return np.where(foot * material < 0, foot, 0.0)


def height_over_foot(band: Band, ridge: Ridge, material: int) -> float | None:
    """How high an edge stands over its foot, as a share of the stated height.

    None where no foot is clearly in sight. 1 is an edge on the stated plane. Along a
    straight edge any parallel line would do as the foot of some height, so there only the
    stated height is looked for; around a circle the foot's displacement has a shape.
    """
    wall = wall_px(band, material)
    rows = (np.abs(wall) > _SEEN_PX) & band.inside
    if rows.sum() < _LEAST_ROWS:
        return None
    # White paper begins at a foot: it grows lighter away from the part.
    lighter = -material * band.slope
    doubt = height_doubt(band)
    heights = np.arange(_LOWEST, max(_HIGHEST, 1 + 1.5 * doubt), _HEIGHT_STEP)
    change = _means(band, lighter, ridge.offset_px + heights[:, None] * wall, rows)
    beside = heights * float(np.mean(np.abs(wall[rows]))) < _FLANK_PX
    change = np.where(beside | ~(change > 0), 0.0, change)
    least = max(_CLEAR_CHANGE, _PAPER_SHARE * _sharpest(band))
    # A foot of the stated height need not be the sharpest change: chamfers and shadows are.
    stated = np.where(np.abs(heights - 1) <= doubt, change, 0.0)
    if stated.max() > max(least, 0.4 * change.max()) and _is_peak(change, stated):
        return 1.0
    usual = float(np.median(change[change > 0])) if (change > 0).any() else 0.0
    if not band.path.closed or change.max() < max(least, _ABOVE_USUAL * usual):
        return None
    return float(heights[int(np.argmax(change))])


def _sharpest(band: Band) -> float:
    """The sharpest change that many rows show: against white paper, as a foot is."""
    return float(np.quantile(np.abs(band.slope[band.inside]).max(axis=1), 0.7))


def height_doubt(band: Band) -> float:
    """How well a height over the foot can be told, as a share of the stated height."""
    size = float(np.sqrt(np.mean(band.path.foot_px**2)))
    return max(0.05, _HEIGHT_DOUBT_PX / max(size, 1e-6))


def _is_peak(change: Array, within: Array) -> bool:
    """Whether the best of a range is higher than just outside it, not the flank of another."""
    top = float(within.max())
    inside = np.flatnonzero(within > 0)
    edges = [change[k] for k in (inside[0] - 1, inside[-1] + 1) if 0 <= k < len(change)]
    return all(e < top for e in edges)


def stands_under(band: Band, foot: Ridge, edge: Ridge, height: float, material: int) -> bool:
    """Whether one line of change is the foot of another that stands this high over it."""
    wall = wall_px(band, material)
    rows = foot.rows & (np.abs(wall) > APART_PX)
    if (
        edge.share < _EDGE_SHARE
        or foot.slope * material > 0
        or rows.sum() < max(_LEAST_ROWS, 0.5 * foot.rows.sum())
    ):
        return False
    miss = np.abs(foot.offset_px - edge.offset_px - height * wall)[rows]
    return float(np.median(miss)) < _ON_LINE_PX


def is_lone_foot(band: Band, ridge: Ridge, ridges: Sequence[Ridge], material: int) -> bool:
    """Whether a single edge, with its wall in sight, is the foot and not the face's edge.

    Where face and wall are nearly alike the foot is what is seen: nothing changes where the
    foot of this edge would be, and the face's edge remains as a faint step where it must
    be. Not where another part stands in front of that place.
    """
    wall = wall_px(band, material)
    rows = (np.abs(wall) > _SEEN_PX) & band.inside
    if rows.mean() < 0.9:  # a circle's other half tells which rim it is
        return False
    if ridge.slope * material > 0:  # white paper begins at a foot
        return False
    side = -material
    ahead = [
        side * float(np.mean(other.offset_px - ridge.offset_px))
        for other in ridges
        if other is not ridge
    ]
    reach = float(np.mean(np.abs(wall)))
    if any(1.0 < distance < reach + 3.0 for distance in ahead):
        return False
    size = np.abs(band.slope)
    beyond = float(_means(band, size, (ridge.offset_px + wall)[None], rows)[0])
    shares = np.linspace(0.3, 1.4, 45)
    steps = _means(band, band.slope, ridge.offset_px - shares[:, None] * wall, rows)
    above = np.abs(shares - 1) < height_doubt(band)
    if np.isnan(steps).any() or not np.isfinite(beyond) or beyond > _CLEAR_CHANGE / 2:
        return False
    usual = float(np.median(np.abs(steps - np.median(steps)))) / 0.6745
    return bool(np.abs(steps[above] - np.median(steps)).max() > max(_FAINT, 4 * usual))


def _means(band: Band, values: Array, lines_px: Array, rows: NDArray[np.bool_]) -> Array:
    """(K,) means along lines (K, M) over some rows; NaN where much of one is outside the band."""
    found = band.along(values, lines_px)[:, rows]
    inside = np.isfinite(found)
    total, count = np.where(inside, found, 0.0).sum(axis=1), inside.sum(axis=1)
    return np.where(inside.mean(axis=1) > 0.7, total / np.maximum(count, 1), np.nan)
