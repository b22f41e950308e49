"""What has happened to a printed sheet since it left the printer, and what stands in its light?

Plain facts about one sheet or one lamp; `flat` renders them. Nominal mm of the sheet unless
said otherwise. Nothing here is modelled by the estimator.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pair = tuple[float, float]


@dataclass(frozen=True)
class Waves:
    """Wet paper that dried: ripples round a flat rectangle in the middle.

    The height is peak·(1 + sin(2π·s/length + phase))/2 with s along `direction_rad`, faded
    in over `fade_mm` outside the rectangle of this half size (round the sheet's centre).
    """

    peak_mm: float
    length_mm: float
    direction_rad: float
    phase_rad: float
    flat_half_mm: Pair
    fade_mm: float = 25.0

    def height_mm(self, points_mm: Array) -> Array:
        """(N,) height of the paper at (N, 2) nominal points."""
        along = points_mm @ np.array([cos(self.direction_rad), sin(self.direction_rad)])
        ripple = (1 + np.sin(2 * pi * along / self.length_mm + self.phase_rad)) / 2
        beyond = np.max(np.abs(points_mm) - np.array(self.flat_half_mm), axis=1) / self.fade_mm
        share = np.clip(beyond, 0.0, 1.0)
        return np.asarray(self.peak_mm * ripple * share**2 * (3 - 2 * share))


@dataclass(frozen=True)
class Stain:
    """A round patch of grease: paper and ink in it are darker by this share."""

    centre_mm: Pair
    radius_mm: float
    darkness: float

    def outline(self) -> Array:
        """(N, 2) its rim."""
        turns = 2 * pi * np.arange(48) / 48
        return self.centre_mm + self.radius_mm * np.column_stack([np.cos(turns), np.sin(turns)])


@dataclass(frozen=True)
class Taped:
    """The sheet was torn along a line and taped together again, not quite where it was.

    Everything with (x, y)·(cos, sin of `direction_rad`) > beyond_mm is moved and turned
    about its own middle of the tear.
    """

    direction_rad: float
    beyond_mm: float
    shift_mm: Pair
    turn_rad: float = 0.0

    def moved(self, points_mm: Array) -> Array:
        """(N, 2) nominal points to where they lie now, still in nominal mm."""
        normal = np.array([cos(self.direction_rad), sin(self.direction_rad)])
        hinge = normal * self.beyond_mm
        c, s = cos(self.turn_rad), sin(self.turn_rad)
        turned = (points_mm - hinge) @ np.array([[c, s], [-s, c]]) + hinge + self.shift_mm
        return np.where((points_mm @ normal > self.beyond_mm)[:, None], turned, points_mm)


@dataclass(frozen=True)
class Wear:
    """What a sheet has been through.

    torn_mm : outlines of what is missing. soft_mm : how softly a stain ends (1 σ).
    gloss, gloss_rad : radiance that the lamp's reflection in its lamination adds at its
    brightest, and half the angle over which it fades.
    """

    stains: tuple[Stain, ...] = ()
    soft_mm: float = 0.4
    torn_mm: tuple[tuple[Pair, ...], ...] = ()
    taped: Taped | None = None
    gloss: float = 0.0
    gloss_rad: float = 0.06


@dataclass(frozen=True)
class Screen:
    """Something opaque between the lamp and the sheet, out of the picture.

    outline_mm : of its shadow on the plane of the sheet, true mm. penumbra_mm : over which
    the shadow's edge fades (1 σ).
    """

    outline_mm: tuple[Pair, ...]
    penumbra_mm: float = 0.3


def path_kernel(path_px: tuple[Pair, ...], step_px: float = 0.1) -> NDArray[np.float32]:
    """(K, K) how light spreads while the picture moves evenly along a path, centred, sum 1."""
    points = np.concatenate(list(_between(np.array(path_px), step_px)))
    points -= points.mean(axis=0)
    half = int(np.ceil(np.abs(points).max())) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1))
    low = np.floor(points).astype(int)
    rest = points - low
    for dx in (0, 1):
        for dy in (0, 1):
            share = np.abs(1 - dx - rest[:, 0]) * np.abs(1 - dy - rest[:, 1])
            np.add.at(kernel, (low[:, 1] + dy + half, low[:, 0] + dx + half), share)
    return np.asarray(kernel / kernel.sum(), np.float32)


def _between(path_px: Array, step_px: float) -> Iterator[Array]:
    for start, end in pairwise(path_px):
        count = max(1, round(float(np.hypot(*(end - start))) / step_px))
        yield start + (np.arange(count) / count)[:, None] * (end - start)


def disc_kernel(radius_px: float) -> NDArray[np.float32]:
    """(K, K) the image of a point out of focus: an even disc, its rim one pixel soft, sum 1."""
    half = int(np.ceil(radius_px)) + 1
    y, x = np.mgrid[-half : half + 1, -half : half + 1]
    disc = np.clip(radius_px + 0.5 - np.hypot(x, y), 0.0, 1.0)
    return np.asarray(disc / disc.sum(), np.float32)
