"""Along which line of change does one boundary of a part run, all round?

A rough chain is followed twice: widely, then closely and to sub-pixel. Where no edge is seen over
a stretch, it is looked for again along what leads from one side of the stretch to the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.vision.band import Path
from photomeasure.vision.locate import Scenery
from photomeasure.vision.outline_arcs import is_round
from photomeasure.vision.outline_bridge import Gap, gaps_of, without_crumbs, without_strays
from photomeasure.vision.outline_edge import SharpRim, sharpen_rim
from photomeasure.vision.outline_path import (
    ROW_PX,
    RimLine,
    closed_path,
    find_rim,
    path_along,
)
from photomeasure.vision.outline_rough import HintsOnFace

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Chains = tuple[Array, ...]

_FIRST_SMOOTH_MM, _THEN_SMOOTH_MM = 0.8, 0.25
_FIRST_REACH_PX, _THEN_REACH_PX = 14.0, 5.0
_SHADOW_PX = 20.0
_ALL_SEEN = 0.98
_DISPUTED_MM, _DISPUTED_ROWS, _DISPUTED_SHARE = 0.1, 25, 0.85
_WORTH_ANOTHER_MM, _MOST_TRIES, _BESIDE_ROWS = 1.5, 3, 24


@dataclass(frozen=True, eq=False)
class Line:
    """A boundary followed all round: its sharp rim, the normals there, which rows a stroke
    covers, all its points on the face, where those were followed before any was made sharp, and
    what is to be said of it."""

    sharp: SharpRim
    normals_px: Array
    by_hand: Mask
    points_mm: Array
    followed_mm: Array
    notes: tuple[str, ...] = ()

    @cached_property
    def gaps(self) -> list[Gap]:
        """What is not seen of it."""
        return gaps_of(self.points_mm, self.sharp.good | self.by_hand)

    @property
    def seen_share(self) -> float:
        """Of all its rows, those that show an edge or follow a stroke."""
        return float(np.mean(self.sharp.good | self.by_hand))

    @property
    def unseen_rows(self) -> int:
        """How many rows neither show an edge nor follow a stroke."""
        return int((~(self.sharp.good | self.by_hand)).sum())

    @property
    def is_simple(self) -> bool:
        """Whether it does not cross itself."""
        return bool(shapely.LinearRing(self.points_mm).is_simple)

    @property
    def seen_px(self) -> Array:
        """(k, 2) the places where it is clearly seen."""
        return self.sharp.points_px[self.sharp.good]


def clearest(
    scenery: Scenery, height_mm: float, chains: Chains, material: int, hints: HintsOnFace
) -> Line:
    """The line of which least is not seen, of those near one of the chains that do not cross
    themselves; of an opening rather a round one. A line that is seen nearly all
    round needs no other."""
    best, best_worth = None, (False, False, -np.inf)
    lines = []
    for chain in reversed(chains):
        line = _followed(scenery, height_mm, chain, material, hints)
        lines.append(line)
        seen = plane_from_image(line.seen_px, scenery.view, height_mm)
        worth = (material > 0 and is_round(seen), line.is_simple, -line.unseen_rows)
        if best is None or worth > best_worth:
            best, best_worth = line, worth
        if line.seen_share > _ALL_SEEN and line.is_simple:
            break
    assert best is not None
    for line in lines:
        best = best if line is best else _without_disputed(best, line)
    return best


def _without_disputed(line: Line, other: Line) -> Line:
    """The line less what shows only here and there where the other guess led elsewhere, unless
    it runs straight on from what is not disputed, as at a corner that the other one cut; with a
    word where too little would be left of it."""
    places, ring = shapely.points(line.points_mm), shapely.LinearRing(other.points_mm)
    shapely.prepare(ring)
    apart = ~shapely.dwithin(ring, places, _DISPUTED_MM)  # only what comes first is prepared
    share = uniform_filter1d(line.sharp.good.astype(float), _DISPUTED_ROWS, mode="wrap")
    disputed = line.sharp.good & apart & (share < _DISPUTED_SHARE)
    good, notes = line.sharp.good & ~disputed, []
    for gap in gaps_of(line.points_mm, good):
        there = line.points_mm[gap.rows]
        good[gap.rows] |= disputed[gap.rows] & gap.straight_on(there)
    for gap in gaps_of(line.points_mm, good | line.by_hand):
        if gap.length_mm > gap.most_mm and line.sharp.good[gap.rows].any():
            good[gap.rows] = line.sharp.good[gap.rows]
            x, y = line.sharp.points_px[gap.rows].mean(axis=0)
            notes.append(
                f"Over {gap.length_mm:.0f} mm near pixel ({x:.0f}, {y:.0f}) more than one line "
                "could be the edge; the clearest was taken. Check it, or draw a stroke along it."
            )
    sharp = replace(line.sharp, good=good)
    return replace(line, sharp=sharp, notes=(*line.notes, *notes))


def _followed(
    scenery: Scenery, height_mm: float, chain: Array, material: int, hints: HintsOnFace
) -> Line:
    """material : +1 where the part lies outwards of the chain, -1 inwards."""
    stroke_px = np.empty((0, 2))
    if hints.strokes:
        stroke_px = image_from_plane(_dense(hints.strokes), scenery.view, height_mm)
    look = _Looking(scenery, height_mm, material, stroke_px)
    path = closed_path(chain, scenery.view, height_mm, _FIRST_SMOOTH_MM, 2 * ROW_PX)
    rim = look.rim(path, _FIRST_REACH_PX, _SHADOW_PX)
    nearer = path.points_px + rim.offset_px[:, None] * path.normals_px
    chain = plane_from_image(nearer, scenery.view, height_mm)
    line = look.line(closed_path(chain, scenery.view, height_mm, _THEN_SMOOTH_MM))
    for _ in range(_MOST_TRIES):
        again = look.again(line)
        if again.seen_share <= line.seen_share:
            break
        line = again
    good = without_strays(line.points_mm, line.sharp.good)
    good = without_crumbs(line.points_mm, good)
    return replace(line, sharp=replace(line.sharp, good=good))


@dataclass(frozen=True, eq=False)
class _Looking:
    """What is needed to look for a rim near a path, anywhere along a boundary."""

    scenery: Scenery
    height_mm: float
    material: int
    stroke_px: Array

    def rim(self, path: Path, reach_px: float, shadow_px: float) -> RimLine:
        """The likeliest line near a path."""
        light, paper = self.scenery.light, self.scenery.tone.paper
        return find_rim(light, path, self.material, reach_px, paper, self.stroke_px, shadow_px)

    def line(self, path: Path) -> Line:
        """The sharp line within a few pixels of a path."""
        rim = self.rim(path, _THEN_REACH_PX, shadow_px=0.0)
        sharp = sharpen_rim(self.scenery.light, path, rim, self.scenery.tone)
        by_hand = _near_strokes(sharp.points_px, self.stroke_px)
        points = plane_from_image(sharp.points_px, self.scenery.view, self.height_mm)
        sharp = replace(sharp, good=without_crumbs(points, sharp.good))
        followed = path.points_px + rim.offset_px[:, None] * path.normals_px
        followed = plane_from_image(followed, self.scenery.view, self.height_mm)
        return Line(sharp, path.normals_px, by_hand, points, followed)

    def again(self, line: Line) -> Line:
        """The same line, each of its longer gaps looked at once more along what leads from one
        side of it to the other."""
        for gap in line.gaps:
            if gap.length_mm > _WORTH_ANOTHER_MM:
                line = self._across(line, gap)
        good = without_crumbs(line.points_mm, line.sharp.good)
        return replace(line, sharp=replace(line.sharp, good=good))

    def _across(self, line: Line, gap: Gap) -> Line:
        rows = np.arange(-_BESIDE_ROWS, len(gap.rows) + _BESIDE_ROWS) + gap.rows[0]
        rows = rows % len(line.points_mm)
        inner = slice(_BESIDE_ROWS, len(rows) - _BESIDE_ROWS)
        chain = line.points_mm[rows].copy()
        chain[inner] = gap.places
        part = self.line(path_along(chain, self.scenery.view, self.height_mm))
        sharp = line.sharp.with_rows(gap.rows, part.sharp, inner)
        normals = _with_rows(line.normals_px, gap.rows, part.normals_px[inner])
        by_hand = line.by_hand.copy()
        by_hand[gap.rows] = part.by_hand[inner]
        points = _with_rows(line.points_mm, gap.rows, part.points_mm[inner])
        followed = _with_rows(line.followed_mm, gap.rows, part.followed_mm[inner])
        return Line(sharp, normals, by_hand, points, followed)


def _with_rows(old: Array, rows: NDArray[np.intp], new: Array) -> Array:
    changed = old.copy()
    changed[rows] = new
    return changed


def _dense(strokes: Sequence[Array]) -> Array:
    """(S, 2) points every 0.1 mm along all strokes."""
    chains = []
    for stroke in strokes:
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(stroke, axis=0).T))])
        places = np.linspace(0.0, along[-1], max(2, round(along[-1] / 0.1)))
        chains.append(np.column_stack([np.interp(places, along, c) for c in stroke.T]))
    return np.concatenate(chains)


def _near_strokes(points_px: Array, stroke_px: Array) -> Mask:
    if len(stroke_px) == 0:
        return np.zeros(len(points_px), bool)
    apart = np.hypot(*(points_px[:, None] - stroke_px[None]).transpose(2, 0, 1))
    return np.asarray(apart.min(axis=1) < 6.0)
