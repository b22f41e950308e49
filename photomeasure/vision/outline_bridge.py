"""How does a boundary run on where its edge is not seen?

Where what is seen before and after a gap lies on one line or one circle, the boundary is
taken to run along it, so that a faint edge is looked for there once more.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_closing, label, uniform_filter1d

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

UNCLEAR_MM = 6.0  # the longest stretch without an edge that is passed over in silence
_HARDLY_BENDS_MM = 12.0  # where it hardly bends in between, with a warning
_RUNS_ON_MM = 20.0  # and where both its sides lie on one line or circle, with a warning
_LEAST_GAP_MM = 1.0
_BESIDE_MM, _LEAST_BESIDE_MM = 8.0, 3.0
_ON_LINE_MM = 0.05
_GENTLE_MM = 0.25
_WINDS, _LEAST_FOR_WAY, _ARC_POINTS = 1.7, 5, 33
_LEAST_TURN, _MUCH_NEARER = 0.17, 0.5  # the sine of 10°: less is no corner
_WAY_MM = 4.0
_LONELY_ROWS, _LONELY, _LONELY_MM = 25, 0.85, 2.0
_STRAY_REACHES, _STRAY_ROUNDS = (12, 32, 48), 6  # 3, 8 and 12 mm
_STRAY_MM, _AGREE_MM, _AGREE_SHARE = (0.06, 0.45), 0.05, 0.6
_CRUMB_ROWS, _CRUMB_APART, _CRUMB_MM = 8, 6, 0.12


@dataclass(frozen=True, eq=False)
class Gap:
    """Rows of a closed boundary that show no edge. rows : (k,). length_mm : from the last row
    before to the first one after. before, after : (n, 2) mm what is seen beside it, nearest
    first."""

    rows: NDArray[np.intp]
    length_mm: float
    before: Array
    after: Array

    @cached_property
    def places(self) -> Array:
        """(k, 2) mm where its rows may lie."""
        if self._on_common is not None:
            return self._on_common
        return _smooth(self.before, self.after, len(self.rows))

    def places_as_followed(self, followed: Array) -> Array | None:
        """(k, 2) mm as `places`, or on a sharp corner where both sides lead to one and what was
        followed (k, 2) in the gap, clearly seen or not, ran much nearer to that; None where it ran
        along neither."""
        off = float(np.mean(_off(followed, self.places)))
        corner = _corner(self.before, self.after, len(self.rows))
        if corner is not None and np.mean(_off(followed, corner)) < _MUCH_NEARER * off:
            return corner
        return self.places if off < _GENTLE_MM else None

    def is_open(self, followed: Array) -> bool:
        """Whether the boundary may well leave its places: it bends there, or what was followed
        (k, 2) ran along neither of those."""
        if self.runs_on:
            return False
        return not self.is_gentle or self.places_as_followed(followed) is None

    def straight_on(self, points: Array) -> Mask:
        """(N,) which points lie where one of its sides would be if it ran on straight."""
        off = np.minimum(_off_side(points, self.before), _off_side(points, self.after))
        return np.asarray(off < _STRAY_MM[0])

    @property
    def runs_on(self) -> bool:
        """Whether the places are on the line or circle of both sides, not just a smooth curve
        between them."""
        return self._on_common is not None

    @cached_property
    def _on_common(self) -> Array | None:
        return _run_on(self.before, self.after, len(self.rows))

    @property
    def most_mm(self) -> float:
        """How long it may be, and still be passed over: in silence up to UNCLEAR_MM, with a word
        where what lies in it can hardly be elsewhere."""
        if self.runs_on:
            return _RUNS_ON_MM
        return _HARDLY_BENDS_MM if self.is_gentle else UNCLEAR_MM

    @property
    def is_gentle(self) -> bool:
        """Whether the places nearly lie on the chord between both ends, as where a line runs
        into a wide arc: what is not seen can then hardly be elsewhere."""
        chord = self.places[-1] - self.places[0]
        arm = self.places - self.places[0]
        across = arm[:, 0] * chord[1] - arm[:, 1] * chord[0]
        return bool(np.abs(across).max() < _GENTLE_MM * max(float(np.hypot(*chord)), 1e-9))


def gaps_of(points_mm: Array, good: Mask) -> list[Gap]:
    """The gaps of a closed boundary (N, 2) of which good (N,) rows show the edge."""
    marks = np.flatnonzero(good)
    if len(marks) == 0:
        return []
    count = len(good)
    lasts = np.append(marks[1:], marks[0] + count)
    lengths = np.hypot(*(points_mm[lasts % count] - points_mm[marks]).T)
    gaps = (lasts - marks > 1) & (lengths > _LEAST_GAP_MM)
    found = []
    for first, last, length in zip(marks[gaps], lasts[gaps], lengths[gaps], strict=True):
        rows = np.arange(first + 1, last) % count
        before = _beside(points_mm, good, int(first), -1)
        after = _beside(points_mm, good, int(last % count), 1)
        found.append(Gap(rows, float(length), before, after))
    return found


def without_crumbs(points_mm: Array, good: Mask) -> Mask:
    """The good rows less those few that stand alone away from where their neighbours lead:
    there the line changes from one edge to another."""
    joined = binary_closing(np.concatenate([good] * 3), np.ones(_CRUMB_APART + 1))
    labels, count = label(joined)
    sizes = np.bincount(labels, minlength=count + 1)
    large = ((sizes >= _CRUMB_ROWS)[labels] & joined)[len(good) : 2 * len(good)] & good
    kept = large.copy()
    for gap in gaps_of(points_mm, large):
        if good[gap.rows].any():
            near = _off(points_mm[gap.rows], gap.places) < _CRUMB_MM
            kept[gap.rows] = good[gap.rows] & near
    return np.asarray(kept)


def without_strays(points_mm: Array, good: Mask) -> Mask:
    """The good rows of a closed boundary (N, 2) less those that stand a little off a smooth curve
    on which most of their neighbours on both sides agree, or far off it where few beside them
    are good: there the line followed texture or a foot. Where the neighbours agree on none, as
    round a tight corner, all are kept."""
    kept = good.copy()
    for reach in _STRAY_REACHES:
        rows = np.flatnonzero(kept)
        for _ in range(2):
            off, agreed = _off_neighbours(points_mm, kept, reach, rows)
            share = uniform_filter1d(kept.astype(float), _LONELY_ROWS, mode="wrap")[rows]
            most = np.where(share < _LONELY, _LONELY_MM, _STRAY_MM[1])
            gone = rows[agreed & (off > _STRAY_MM[0]) & (off < most)]
            kept[gone] = False
            beside = (gone[:, None] + np.arange(-reach, reach + 1)) % len(kept)
            rows = np.unique(beside[kept[beside]])  # of the others nothing has changed
    return kept


def _off_neighbours(
    points: Array, good: Mask, reach: int, rows: NDArray[np.intp]
) -> tuple[Array, Mask]:
    """(K,) how far some rows lie off a parabola through their neighbours up to some rows away,
    and whether these agree on it."""
    count = len(points)
    if count < 4 * reach or len(rows) == 0:
        return np.zeros(len(rows)), np.zeros(len(rows), bool)
    shifts = np.arange(-reach, reach + 1)
    near = (rows[:, None] + shifts) % count
    way = points[near[:, -1]] - points[near[:, 0]]
    way = way / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    right, up = (c[near] - c[rows, None] for c in points.T)
    t, y = right * way[:, :1] + up * way[:, 1:], up * way[:, :1] - right * way[:, 1:]
    terms, seen = np.stack([np.ones_like(t), t, t * t], axis=1), good[near]
    weights = seen.astype(float)
    for _ in range(_STRAY_ROUNDS):
        weighted = terms * weights[:, None]
        square = weighted @ terms.transpose(0, 2, 1) + 1e-9 * np.eye(3)
        factors = np.linalg.solve(square, weighted @ y[:, :, None])
        off = np.abs(y - (factors.transpose(0, 2, 1) @ terms)[:, 0])
        weights = seen / (1 + (off / _AGREE_MM) ** 2) ** 2
    agreeing = (off < _AGREE_MM) & seen
    share = agreeing.sum(axis=1) / np.maximum(seen.sum(axis=1), 1)
    sides = [agreeing[:, :reach].sum(axis=1), agreeing[:, reach + 1 :].sum(axis=1)]
    return off[:, reach], (share > _AGREE_SHARE) & (np.minimum(*sides) > reach // 3)


def _off(points: Array, places: Array) -> Array:
    """(N,) how far points lie beside a chain of places."""
    nearest = np.hypot(*(points[:, None] - places[None]).transpose(2, 0, 1)).argmin(axis=1)
    ways = np.gradient(places, axis=0) if len(places) > 1 else np.ones_like(places)
    ways = ways / np.maximum(np.hypot(*ways.T), 1e-9)[:, None]
    arm, way = points - places[nearest], ways[nearest]
    return np.asarray(np.abs(arm[:, 0] * way[:, 1] - arm[:, 1] * way[:, 0]))


def _off_side(points: Array, side: Array) -> Array:
    """(N,) how far points lie off the line of what is seen on one side of a gap; endless where
    that is not straight or too little."""
    near = _nearest_of(side)
    if len(near) < _LEAST_FOR_WAY:
        return np.full(len(points), np.inf)
    middle, across = _line_through(near)
    if _rms((near - middle) @ across) > _ON_LINE_MM:
        return np.full(len(points), np.inf)
    return np.asarray(np.abs((points - middle) @ across))


def _nearest_of(side: Array) -> Array:
    """What of one side of a gap lies within _WAY_MM of its first point."""
    return np.asarray(side[np.hypot(*(side - side[:1]).T) < _WAY_MM])


def _line_through(points: Array) -> tuple[Array, Array]:
    """(2,) middle and unit normal of the line that lies nearest to points (N, 2)."""
    middle = points.mean(axis=0)
    return middle, np.linalg.svd(points - middle, full_matrices=False)[2][1]


def _beside(points: Array, good: Mask, start: int, way: int) -> Array:
    """What is seen from the start on, nearest first, over _BESIDE_MM."""
    rows = (start + way * np.arange(len(points) // 2)) % len(points)
    steps = np.hypot(*np.diff(points[rows], axis=0).T)
    near = np.concatenate([[0.0], np.cumsum(steps)]) < _BESIDE_MM
    kept = rows[near & good[rows]]
    return np.asarray(points[kept])


def _run_on(before: Array, after: Array, count: int) -> Array | None:
    """(count, 2) even places between the two sides on their common line or circle."""
    if min(_reach(before), _reach(after)) < _LEAST_BESIDE_MM:
        return None
    both = np.vstack([before, after])
    shares = np.arange(1, count + 1)[:, None] / (count + 1)
    straight = before[0] + shares * (after[0] - before[0])
    middle, across = _line_through(both)
    if _rms((both - middle) @ across) < _ON_LINE_MM:
        return np.asarray(straight - ((straight - middle) @ across)[:, None] * across)
    try:
        centre, radius = fit_circle(both)
    except GeometryError:  # nearly straight, but not straight enough
        return None
    if _rms(np.hypot(*(both - centre).T) - radius) > _ON_LINE_MM:
        return None
    arm = straight - centre
    return np.asarray(centre + radius * arm / np.maximum(np.hypot(*arm.T), 1e-9)[:, None])


def _smooth(before: Array, after: Array, count: int) -> Array:
    """(count, 2) even places on two arcs that touch: they leave one side and meet the other as
    those point there, as lines and arcs of a part do. Straight across where that would wind."""
    start, end = before[0], after[0]
    shares = np.arange(1, count + 1) / (count + 1)
    straight = start + shares[:, None] * (end - start)
    leaving, meeting = _way_at_end(before, end - start), -_way_at_end(after, start - end)
    chain = _two_arcs(start, leaving, end, meeting)
    steps = np.hypot(*np.diff(chain, axis=0).T)
    if steps.sum() > _WINDS * float(np.hypot(*(end - start))):
        return np.asarray(straight)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    return np.column_stack([np.interp(shares * along[-1], along, c) for c in chain.T])


def _corner(before: Array, after: Array, count: int) -> Array | None:
    """(count, 2) even places on both sides, run on straight to where they meet; None where they
    do not lead to one place in the gap."""
    start, end = before[0], after[0]
    leaving, meeting = _way_at_end(before, end - start), _way_at_end(after, start - end)
    across = leaving[0] * meeting[1] - leaving[1] * meeting[0]
    if abs(across) < _LEAST_TURN:
        return None
    arm = end - start
    far = (arm[0] * meeting[1] - arm[1] * meeting[0]) / across
    back = (arm[0] * leaving[1] - arm[1] * leaving[0]) / across
    if min(far, back) <= 0 or far + back > _WINDS * float(np.hypot(*arm)):
        return None
    along = np.arange(1, count + 1) / (count + 1) * (far + back)
    return np.asarray(
        np.where(
            (along < far)[:, None],
            start + along[:, None] * leaving,
            end + (far + back - along)[:, None] * meeting,
        )
    )


def _way_at_end(points: Array, otherwise: Array) -> Array:
    """Unit vector that leaves the first of some points on the side away from the others, or
    along another way where they are too few. The curve through them may bend evenly."""
    points = _nearest_of(points)
    if len(points) < _LEAST_FOR_WAY:
        return np.asarray(otherwise / max(float(np.hypot(*otherwise)), 1e-9))
    chord = points[0] - points[-1]
    chord = chord / max(float(np.hypot(*chord)), 1e-9)
    across = np.array([-chord[1], chord[0]])
    slope = np.polyfit((points - points[0]) @ chord, (points - points[0]) @ across, 2)[1]
    way = chord + slope * across
    return np.asarray(way / np.hypot(*way))


def _two_arcs(start: Array, leaving: Array, end: Array, meeting: Array) -> Array:
    """(N, 2) chain along the biarc with equal tangent lengths, both ends included."""
    chord, both = end - start, leaving + meeting
    a, b, c = 2 * (1 - float(leaving @ meeting)), 2 * float(chord @ both), -float(chord @ chord)
    length = -c / b if a < 1e-9 and b > 0 else (-b + np.sqrt(b * b - 4 * a * c)) / max(2 * a, 1e-9)
    middle = (start + end) / 2 + length / 2 * (leaving - meeting)
    return np.vstack([_arc(start, leaving, middle), _arc(end, -meeting, middle)[::-1][1:]])


def _arc(start: Array, way: Array, end: Array) -> Array:
    """(N, 2) chain on the circle that leaves start along a unit way and meets end."""
    chord = end - start
    half = np.arctan2(way[0] * chord[1] - way[1] * chord[0], way @ chord)
    shares = np.linspace(0.0, 1.0, _ARC_POINTS)
    size = float(np.hypot(*chord))
    far = shares if abs(half) < 1e-6 else np.sin(shares * half) / np.sin(half)
    across = np.array([-way[1], way[0]])
    turn = (shares * half)[:, None]
    return np.asarray(start + size * far[:, None] * (np.cos(turn) * way + np.sin(turn) * across))


def _rms(off: Array) -> float:
    return float(np.sqrt(np.mean(off**2)))


def _reach(points: Array) -> float:
    return float(np.hypot(*(points[-1] - points[0]))) if len(points) > 2 else 0.0
