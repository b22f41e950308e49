"""Which profile of few lines and tangent arcs runs within a tolerance of a contour?

Cut (`segments`), fit tangent pieces (`finish`), join (`joints`), check every place against
the tolerance; then try whether one piece fewer would do. Refuses a tolerance finer than the
contour is known or coarser than the part has details.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.parts.finish import Primitive, finish, gap, start_arc, start_line, start_rounding
from photomeasure.parts.joints import profile_of
from photomeasure.parts.profiles import distance_mm, is_closed_and_simple
from photomeasure.parts.segments import ARC, LINE, Stretch, cut
from photomeasure.records.part import Contour, Profile

Array = NDArray[np.float64]

_FREE_MM = 0.2  # beyond the tolerance, for pieces where nothing is seen
WIDEST_MM = 0.5  # by which lines and arcs may leave what is seen
_MOST_BLOCKS = 800
_LEAST_BLOCK_MM = 0.25
_STRICTER = (2.5, 3.5, 5.0, 7.5)  # tolerance over what the cuts may leave
_MOST_PIECES = 150
_FEWEST, _MOST_TRIALS = 3, 40
_SHORT = 25  # blocks: longer pieces are not in doubt
_GAP = 5.0  # times the usual step between points
_NOISE_REACH = 3.5  # times its noise, as far as one of hundreds of blocks may lie off by chance
_TOUCHING = 1.2  # tolerances that may lie between pieces which are to touch
_EXACT_MM = 1e-3  # points this sure are taken as they are
_CUT_SHORT = 0.36  # of a block: a quarter of it, over the sine of 45°
_COARSEST = 0.05  # of the contour's extent


@dataclass(frozen=True, eq=False)
class Fitted:
    """A profile, the pieces that it was made of, and how far it leaves the contour at most."""

    profile: Profile
    primitives: tuple[Primitive, ...]
    tangent: tuple[bool, ...]
    most_off_mm: float


def fit_profile(contour: Contour, tolerance_mm: float) -> Fitted:
    """The profile of few lines and arcs within the tolerance everywhere.

    The contour is judged by means over short blocks, so that the noise of single points does
    not count. What was not seen of it is left to the pieces, unless they lead far from where it
    may well run. Raises GeometryError for an absurd tolerance, and where none is met.
    """
    found = _fit_seen(contour, tolerance_mm)
    whole = contour.whole_mm
    if whole is None or distance_mm(whole, found.profile).max() < _FREE_MM + tolerance_mm:
        return found
    usual = np.full(len(whole), float(np.median(contour.u_mm)))
    return _fit_seen(replace(contour, points_mm=whole, u_mm=usual), tolerance_mm)


def _fit_seen(contour: Contour, tolerance_mm: float) -> Fitted:
    exact = float(np.median(contour.u_mm)) < _EXACT_MM
    thinned = contour.points_mm[:: max(1, len(contour.points_mm) // _MOST_BLOCKS)]
    blocks = thinned if exact else averaged(contour.points_mm)
    _refuse_absurd(contour, blocks, tolerance_mm)
    noise = _block_noise(contour, blocks)
    allowed = tolerance_mm + _NOISE_REACH * noise
    fits = []
    for strict in _STRICTER:
        stretches = _rotated(cut(blocks, max(tolerance_mm / strict, 1.2 * noise)), len(blocks))
        found = _fit_stretches(blocks, stretches, allowed)
        if found is None:
            continue
        fits.append(found)
        if found.most_off_mm <= allowed:
            return _with_rounded(_with_fewer(found, blocks, allowed), blocks, allowed)
    raise _not_met(fits, blocks, tolerance_mm)


def _block_noise(contour: Contour, blocks: Array) -> float:
    """Standard uncertainty of a block by itself, mm."""
    share = max(1.0, len(contour.points_mm) / len(blocks))
    return float(np.median(contour.u_mm) / np.sqrt(share))


def averaged(points_mm: Array) -> Array:
    """(M, 2) even blocks of a closed chain (N, 2), each the mean of its points.

    Where points are missing over a stretch there are no blocks: nothing was seen there.
    """
    steps = np.hypot(*np.diff(np.vstack([points_mm, points_mm[:1]]), axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    spacing = max(_LEAST_BLOCK_MM, along[-1] / _MOST_BLOCKS)
    count = max(24, round(along[-1] / spacing))
    fine = max(1, round(len(points_mm) / count)) * 4
    places = (np.arange(count * fine) + 0.5) / (count * fine) * along[-1]
    closed = np.vstack([points_mm, points_mm[:1]])
    even = np.column_stack([np.interp(places, along, c) for c in closed.T])
    at = np.searchsorted(along, places, side="right") - 1
    step = steps[np.clip(at, 0, len(steps) - 1)]
    seen = (step < _GAP * float(np.median(steps))).reshape(count, fine).all(axis=1)
    return np.asarray(even.reshape(count, fine, 2).mean(axis=1)[seen])


def _refuse_absurd(contour: Contour, blocks: Array, tolerance_mm: float) -> None:
    known = 2 * float(np.median(contour.u_mm)) / 3
    extent = float(np.ptp(blocks, axis=0).min())
    if not tolerance_mm >= known:
        raise GeometryError(
            f"A tolerance of {tolerance_mm:g} mm was asked for, but the edge is seen no better "
            f"than {known:.3f} mm from place to place. Ask for {max(0.05, 2 * known):.2f} mm "
            "or more, or photograph from nearer."
        )
    if tolerance_mm > _COARSEST * extent:
        raise GeometryError(
            f"A tolerance of {tolerance_mm:g} mm would wipe out the shape of something "
            f"{extent:.1f} mm across; at most {_COARSEST * extent:.2f} mm makes sense. "
            "Ask for less."
        )
    if tolerance_mm > WIDEST_MM:
        raise GeometryError(
            f"A tolerance of {tolerance_mm:g} mm was asked for; at most {WIDEST_MM:g} mm can be: "
            "what lies farther from its outline fits nothing. Draw a stroke along the edge where "
            "it is hard to see, or take a clearer photo."
        )


def _rotated(stretches: list[Stretch], count: int) -> list[Stretch]:
    """The same stretches, each beginning at an index below count."""
    firsts = [s.first % count for s in stretches]
    return [
        Stretch(first, s.last - s.first + first, s.kind)
        for first, s in zip(firsts, stretches, strict=True)
    ]


def _points(blocks: Array, stretch: Stretch) -> Array:
    return blocks[np.arange(stretch.first, stretch.last + 1) % len(blocks)]


def _fit_stretches(blocks: Array, stretches: list[Stretch], tolerance_mm: float) -> Fitted | None:
    """Fit and join; pieces that do not fit in give their points to their neighbours."""
    if len(stretches) > _MOST_PIECES:
        return None
    while len(stretches) >= 2:
        primitives = [_primitive(_points(blocks, s), s.kind) for s in stretches]
        primitives = finish(primitives, [False] * len(primitives))
        found, bad = _joined(primitives, _touching(primitives, tolerance_mm), blocks)
        if not bad:
            return found
        stretches = _without_all(stretches, bad)
    return None


def _joined(
    primitives: list[Primitive], tangent: list[bool], blocks: Array
) -> tuple[Fitted, list[int]]:
    """The pieces joined, some of them smoothly, and the indices of those that do not fit in."""
    solved = finish(primitives, tangent)
    profile, bad = profile_of(solved, tangent)
    return Fitted(profile, tuple(solved), tuple(tangent), _most_off(blocks, profile, tangent)), bad


def _without_all(stretches: list[Stretch], bad: Sequence[int]) -> list[Stretch]:
    """Leave out the shortest misfits, no two neighbours of them at once."""
    gone: list[int] = []
    for k in sorted(bad, key=lambda k: stretches[k].last - stretches[k].first):
        if all((k - g) % len(stretches) not in (1, len(stretches) - 1) for g in gone):
            gone.append(k)
    for k in sorted(gone, reverse=True):
        stretches = _without(stretches, k)
    return stretches


def _primitive(points: Array, kind: int) -> Primitive:
    return Primitive(start_arc(points) if kind == ARC else start_line(points), points)


def _touching(primitives: Sequence[Primitive], tolerance_mm: float) -> list[bool]:
    """Which pieces run smoothly into the next: a miss this small is no corner."""
    flags = []
    for k, piece in enumerate(primitives):
        following = primitives[(k + 1) % len(primitives)]
        smooth = piece.is_arc or following.is_arc
        flags.append(smooth and abs(gap(piece, following)) < _TOUCHING * tolerance_mm)
    return flags


def _without(stretches: list[Stretch], k: int) -> list[Stretch]:
    """Give the points of one stretch to both neighbours, half each."""
    count = len(stretches)
    gone = stretches[k]
    size = gone.last - gone.first + 1
    kept = list(stretches)
    before, after = (k - 1) % count, (k + 1) % count
    kept[before] = Stretch(kept[before].first, kept[before].last + size // 2, kept[before].kind)
    back = size - size // 2
    kept[after] = Stretch(kept[after].first - back, kept[after].last, kept[after].kind)
    del kept[k]
    return kept


def _most_off(blocks: Array, profile: Profile, tangent: Sequence[bool]) -> float:
    """The farthest block; one that straddles a sharp corner is cut short by being a mean."""
    off = distance_mm(blocks, profile)
    smooth_at_start = np.roll(tangent, 1)
    corners = [p for p, s in zip(profile.points_mm, smooth_at_start, strict=True) if not s]
    block = float(np.median(np.hypot(*np.diff(blocks, axis=0).T)))
    for corner in corners:
        near = np.hypot(*(blocks - corner).T) < block
        off[near] = np.maximum(off[near] - _CUT_SHORT * block, 0.0)
    return float(off.max())


def _with_fewer(fitted: Fitted, blocks: Array, tolerance_mm: float) -> Fitted:
    """Leave out short pieces as long as the tolerance holds, the shortest first."""
    kept: set[int] = set()  # first blocks of pieces that must stay
    for _ in range(_MOST_TRIALS):
        stretches = _stretches_of(fitted, blocks)
        sizes = [s.last - s.first for s in stretches]
        left = [k for k, s in enumerate(stretches) if s.first not in kept and sizes[k] < _SHORT]
        if not left or len(stretches) <= _FEWEST:
            break
        k = min(left, key=lambda k: sizes[k])
        found = _fit_stretches(blocks, _without(stretches, k), tolerance_mm)
        simpler = found is not None and len(found.primitives) < len(fitted.primitives)
        if found is not None and simpler and found.most_off_mm <= tolerance_mm:
            fitted, kept = found, set()
        else:
            kept.add(stretches[k].first)
    return fitted


def _with_rounded(fitted: Fitted, blocks: Array, tolerance_mm: float) -> Fitted:
    """Where two pieces meet in a corner that nobody saw, the shorter one may be what is left in
    sight of a rounding: it is, if an arc that touches both its neighbours fits as well."""
    usual = float(np.median(np.hypot(*np.diff(blocks, axis=0).T)))
    count = len(fitted.primitives)
    for k in range(count):
        pieces, tangent = list(fitted.primitives), list(fitted.tangent)
        one, next_ = pieces[k], pieces[(k + 1) % count]
        if tangent[k] or np.hypot(*(next_.points_mm[0] - one.points_mm[-1])) < _GAP * usual:
            continue
        short = min(k, (k + 1) % count, key=lambda i: len(pieces[i].points_mm))
        before, after = pieces[short - 1], pieces[(short + 1) % count]
        if count < _FEWEST or before.is_arc or after.is_arc:
            continue
        seen = pieces[short].points_mm
        pieces[short] = Primitive(start_rounding(before, after, seen), seen)
        tangent[short - 1] = tangent[short] = True
        found, bad = _joined(pieces, tangent, blocks)
        # It turns farther than what is seen of it, but not back.
        if not {*bad} - {short} and 0 < abs(found.profile.bulges[short]) < 1:
            fitted = found if found.most_off_mm <= tolerance_mm else fitted
    return fitted


def _stretches_of(fitted: Fitted, blocks: Array) -> list[Stretch]:
    index = {tuple(p): k for k, p in enumerate(blocks)}
    stretches = []
    for piece in fitted.primitives:
        first = index[tuple(piece.points_mm[0])]
        kind = ARC if piece.is_arc else LINE
        stretches.append(Stretch(first, first + len(piece.points_mm) - 1, kind))
    return stretches


def _not_met(fits: list[Fitted], blocks: Array, tolerance_mm: float) -> GeometryError:
    if not fits:
        (x, y), size = blocks.mean(axis=0), float(np.ptp(blocks, axis=0).max())
        return GeometryError(
            f"No lines and arcs close around the contour {size:.0f} mm wide about ({x:.0f}, "
            f"{y:.0f}) mm on the face. Draw a stroke along the edge where it is hard to see, or "
            "take a clearer photo."
        )
    best = min(fits, key=lambda f: f.most_off_mm)
    off = distance_mm(blocks, best.profile)
    x, y = blocks[int(off.argmax())]
    needed = 1.2 * float(off.max())
    wider = f", or ask for a tolerance of {needed:.2f} mm" if needed <= WIDEST_MM else ""
    return GeometryError(
        f"No profile of lines and arcs stays within {tolerance_mm:g} mm: at ({x:.1f}, {y:.1f}) "
        f"mm on the face the best one is {off.max():.2f} mm off. Look there for dirt, a shadow "
        f"or a bright streak, draw a stroke along the edge{wider}."
    )


def refuse_crossing(profile: Profile) -> None:
    """Raise GeometryError for an outline that crosses itself."""
    if not is_closed_and_simple(profile):
        raise GeometryError(
            "The outline crosses itself, so it bounds no part. Draw a stroke along the true "
            "edge where it does, or lay the part so that nothing touches it."
        )
