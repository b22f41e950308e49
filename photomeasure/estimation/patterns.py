"""What would a bent, torn or wrongly printed target, or a bad picture, do to its corners?

Each pattern is a small family of displacements of the corners, of unit size. Heights are in
mm at the corner that lifts most; shifts in mm; picture patterns in px.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BENT, FOLDED, LIFTED, ARCHED = "bent", "folded", "lifted", "arched"
PRINT, TORN, STITCHED = "print", "torn", "stitched"

_DIRECTIONS = 24
_BENDS = (0.0, 0.3, 0.5, 0.7)  # where bending begins, as a share of the way out
_CREASES = (0.05, 0.2, 0.4, 0.6, 0.75)  # the part beyond a crease is the smaller, which bends
_CUTS = (0.3, 0.5, 0.7)  # where pieces meet, as a share of the width


@dataclass(frozen=True, eq=False)
class Pattern:
    """columns : (N, 3, d) in mm, or (N, 2, d) in px where `in_picture`. `where` in words."""

    kind: str
    where: str
    columns: Array
    in_picture: bool = False


def target_patterns(saddles_mm: Array) -> Iterator[Pattern]:
    """Of the target itself, by the nominal places (N, 2) of its corners seen."""
    yield from _heights(saddles_mm)
    yield _stretch(saddles_mm)
    yield from _pieces(saddles_mm)


def picture_patterns(corners_px: Array, size_px: tuple[int, int]) -> Iterator[Pattern]:
    """Of the picture: two parts that do not fit, as panoramas and ghosts have."""
    for axis, words in ((0, "left and right"), (1, "upper and lower")):
        for share in _CUTS:
            beyond = (corners_px[:, axis] > share * size_px[axis]).astype(float)
            if 0.1 < beyond.mean() < 0.9:
                columns = np.zeros((len(beyond), 2, 2))
                columns[:, 0, 0] = columns[:, 1, 1] = beyond
                yield Pattern(STITCHED, f"its {words} part", columns, in_picture=True)


def _heights(saddles_mm: Array) -> Iterator[Pattern]:
    centre = saddles_mm.mean(axis=0)
    for turn in 2 * np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS:
        way = np.array([np.cos(turn), np.sin(turn)])
        along = (saddles_mm - centre) @ way
        out = along / max(float(np.abs(along).max()), 1e-9)
        corner = _is_corner(saddles_mm - centre, way)
        for start in _BENDS:
            kind = LIFTED if corner and start >= 0.3 else BENT
            yield _height(kind, way, corner, np.clip(out - start, 0, None) ** 2)
        for start in _CREASES:
            kind = LIFTED if corner and start >= 0.4 else FOLDED
            yield _height(kind, way, corner, np.clip(out - start, 0, None))
        if turn < np.pi:
            for start in _BENDS[:3]:
                yield _height(ARCHED, way, False, np.clip(np.abs(out) - start, 0, None) ** 2)


def _height(kind: str, way: Array, corner: bool, height: Array) -> Pattern:
    columns = np.zeros((len(height), 3, 1))
    columns[:, 2, 0] = height / max(float(height.max()), 1e-9)
    return Pattern(kind, _side(way, corner), columns)


def _is_corner(places: Array, way: Array) -> bool:
    """Whether this way leads into a corner of the target rather than to a side."""
    half = np.abs(places).max(axis=0)
    slant = np.abs(way) / np.maximum(half / half.max(), 1e-9)
    return bool(slant.min() > 0.4 * slant.max())


def _side(way: Array, corner: bool) -> str:
    upper, right = "upper" if way[1] > 0 else "lower", "right" if way[0] > 0 else "left"
    if corner:
        return f"its {upper} {right} corner"
    return f"its {right} side" if abs(way[0]) > abs(way[1]) else f"its {upper} side"


def _stretch(saddles_mm: Array) -> Pattern:
    """Scale in x and in y, as a share."""
    columns = np.zeros((len(saddles_mm), 3, 2))
    columns[:, 0, 0], columns[:, 1, 1] = saddles_mm.T
    return Pattern(PRINT, "its print", columns)


def _pieces(saddles_mm: Array) -> Iterator[Pattern]:
    low, span = saddles_mm.min(axis=0), np.ptp(saddles_mm, axis=0)
    for axis, side in ((0, "its right part"), (1, "its upper part")):
        for share in _CUTS:
            beyond = (saddles_mm[:, axis] > low[axis] + share * span[axis]).astype(float)
            if 0.1 < beyond.mean() < 0.9:
                columns = np.zeros((len(beyond), 3, 2))
                columns[:, 0, 0] = columns[:, 1, 1] = beyond
                yield Pattern(TORN, side, columns)
