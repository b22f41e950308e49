"""How near does locating come to the best that any method could do?

A straight, blurred step with known noise, again and again with other noise: the scatter of the
line that is located against the Cramér–Rao bound. Nothing else is in the picture: no tone curve,
no wall, no shadow. The program also lets both sides of a step tilt, which this picture does not
need; the bound with that freedom tells what it costs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi, radians, sin, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from photomeasure.benchmark.tables import Row
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.tone import Tone, light_of

Array = NDArray[np.float64]

MOST = 1.5  # times the bound
WINDOW_PX = 15.0  # the profile that locating looks at
_SIDE_PX = 280
_LENGTH_PX = 200.0
_USED = 0.92  # of the length between the clicks, away from its ends
_DARK, _LIGHT, _NOISE = 0.15, 0.75, 0.01
_DRAWS = 30
_SLANTS_DEG = (3.0, 17.0, 45.0)
_BLURS_PX = (0.8, 1.2, 2.0)
_VIEW = np.array([3000.0, _SIDE_PX / 2, _SIDE_PX / 2, 0, 0, 0, 0, 0, pi, 0, 0, 0, 0, 300.0])


@dataclass(frozen=True)
class Scatter:
    """Standard deviation of the located line's middle, px, and two bounds.

    bound_px : where both sides are known to be level; tilting_px : where either may tilt.
    """

    blur_px: float
    measured_px: float
    bound_px: float
    tilting_px: float

    @property
    def ratio(self) -> float:
        """1 is as good as can be."""
        return self.measured_px / self.bound_px


def bound_px(blur_px: float, noise: float, contrast: float, lines: float) -> float:
    """The least standard deviation of a blurred step's place over so many scan lines, px.

    For an error-function edge with its two levels unknown, seen over WINDOW_PX:
    variance ≥ (noise/contrast)² / (1/(2σ√π) − 1/W) (Gatherer 1993, Stanford CSL-TR-93-560).
    """
    told = 1 / (2 * blur_px * sqrt(pi)) - 1 / WINDOW_PX
    return noise / contrast / sqrt(told * lines)


def tilting_bound_px(blur_px: float, noise: float, contrast: float, lines: float) -> float:
    """The same with the blur and a slope on either side unknown as well, by the information
    matrix (both sides' slopes make it up to three times as large)."""
    half = (WINDOW_PX - 1) / 2
    at = np.linspace(-half, half, 1401)
    share = ndtr(at / blur_px)
    rise = np.exp(-0.5 * (at / blur_px) ** 2) / (blur_px * sqrt(2 * pi))
    slopes = np.stack([rise, share, 1 - share, rise * at, at * share, at * (1 - share)])
    information = slopes @ slopes.T * (at[1] - at[0])
    return float(noise / contrast * np.sqrt(np.linalg.inv(information)[0, 0] / lines))


def bound_rows() -> Iterator[Row]:
    """A row for each blur and one for the worst."""
    found = [scatter(blur) for blur in _BLURS_PX]
    worst = max(s.ratio for s in found)
    yield Row(
        "ideal step, scatter against the Cramér–Rao bound",
        f"{worst:.2f} times",
        f"≤ {MOST:g} times",
        worst <= MOST,
        _DRAWS * len(_SLANTS_DEG) * len(_BLURS_PX),
    )
    for one in found:
        yield Row(
            f"  blurred by {one.blur_px:g} px",
            f"{one.measured_px:.4f} px, bound {one.bound_px:.4f} px: {one.ratio:.2f} times; with "
            f"sides free to tilt {one.measured_px / one.tilting_px:.2f} times",
            n=_DRAWS * len(_SLANTS_DEG),
        )


def scatter(blur_px: float) -> Scatter:
    """Edges at several slants, each with fresh noise every time."""
    variances = [
        np.var([_located_px(slant, blur_px, seed) for seed in range(_DRAWS)], ddof=1)
        for slant in _SLANTS_DEG
    ]
    known = blur_px, _NOISE, _LIGHT - _DARK, _USED * _LENGTH_PX
    scattered = float(np.sqrt(np.mean(variances)))
    return Scatter(blur_px, scattered, bound_px(*known), tilting_bound_px(*known))


def _located_px(slant_deg: float, blur_px: float, seed: int) -> float:
    """How far the located line's middle lies from the true one in one noisy picture."""
    way = np.array([cos(radians(slant_deg)), sin(radians(slant_deg))])
    normal, middle = np.array([-way[1], way[0]]), np.full(2, _SIDE_PX / 2 + 0.3)
    y, x = np.mgrid[:_SIDE_PX, :_SIDE_PX].astype(float)
    distance = (x - middle[0]) * normal[0] + (y - middle[1]) * normal[1]
    light = _DARK + (_LIGHT - _DARK) * ndtr(distance / blur_px)
    rng = np.random.default_rng([seed, round(100 * slant_deg)])
    noisy = np.clip(light + rng.normal(0, _NOISE, light.shape), 0, 1).astype(np.float32)
    ends = middle + np.array([[-0.5], [0.5]]) * _LENGTH_PX * way
    clicks = tuple((float(u), float(v)) for u, v in ends)
    entry = FeatureEntry("step", "edge", "picture", "sheet", clicks)
    found = locate(entry, Scenery(noisy, _straight(blur_px), _VIEW), 0.0)
    return float(((found.points_px - middle) @ normal).mean())


def _straight(blur_px: float) -> Tone:
    """A phone without tone curve or sharpening, known exactly."""
    parameters = np.array([1.0, 0.0, 0.0, 0.0, blur_px, 0.0, 1.0])
    return Tone(light_of(parameters), parameters, 1e-8 * np.eye(7), 40, 0.5, _LIGHT)
