"""How is a feature located that consists of several edges or points?

A tube is two edges: the first half of its clicks along one side, the rest along the other. A
row is one point a click. Each is located on its own and all are handed on as one feature.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.estimation.features import CLICK_U_PX
from photomeasure.records.feature import ImageFeature
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.points import locate_point

Array = NDArray[np.float64]

_MOST_CLICKS = 100


def sides_of(entry: FeatureEntry) -> tuple[tuple[FeatureEntry, Array], ...]:
    """Both sides of a tube as edges, each with the direction (2,) px in which the body lies.

    Raises GeometryError unless the clicks fall into halves.
    """
    clicks = entry.clicks_px
    if len(clicks) < 4 or len(clicks) % 2:
        raise GeometryError(
            f"{len(clicks)} clicks given; a tube needs 4 or more, as many along one side as along "
            "the other. Click near both ends of one side, then of the other."
        )
    if entry.choice is not None:
        raise GeometryError(
            "`choice` is given for a tube, whose two sides may each have other edges. Leave it "
            "out and click nearer to the edges that are meant."
        )
    half = len(clicks) // 2
    edge = replace(entry, kind="edge")
    way = np.mean(clicks[half:], axis=0) - np.mean(clicks[:half], axis=0)
    return (
        (replace(edge, clicks_px=clicks[:half]), way),
        (replace(edge, clicks_px=clicks[half:]), -way),
    )


def tube_of(entry: FeatureEntry, sides: Sequence[ImageFeature]) -> ImageFeature:
    """The two sides, located as edges, as one tube: the worse doubt of both holds for it."""
    first, second = sides
    said = [
        f"{len(side.alternatives) + 1} edges fit along its {words} side. Click nearer to it."
        for words, side in (("first", first), ("second", second))
        if side.alternatives
    ]
    return replace(
        first,
        kind=entry.kind,
        points_px=np.vstack([first.points_px, second.points_px]),
        normals_px=np.vstack([first.normals_px, second.normals_px]),
        u_noise_px=max(first.u_noise_px, second.u_noise_px),
        u_shift_px=max(first.u_shift_px, second.u_shift_px),
        u_tone_px=max(first.u_tone_px, second.u_tone_px),
        spread_px=float(np.hypot(first.spread_px, second.spread_px) / np.sqrt(2)),
        alternatives=(),
        warnings=tuple(said),
        extent_px=np.vstack([first.extent_px, second.extent_px]),
    )


def locate_row(entry: FeatureEntry, light: NDArray[np.float32]) -> ImageFeature:
    """A point for each click: a corner beside every one of them, else the clicks themselves.

    Raises GeometryError for more clicks than anybody makes.
    """
    if len(entry.clicks_px) > _MOST_CLICKS:
        raise GeometryError(
            f"{len(entry.clicks_px)} clicks given; a row takes {_MOST_CLICKS}. Split it up."
        )
    points = [
        locate_point(replace(entry, kind="point", clicks_px=(click,)), np.array([click]), light)
        for click in entry.clicks_px
    ]
    corners = all(not point.warnings for point in points)
    places = np.vstack([p.points_px for p in points]) if corners else np.array(entry.clicks_px)
    note = () if corners else ("Not every click has a corner beside it; the clicks are used.",)
    return ImageFeature(
        name=entry.name,
        kind=entry.kind,
        photo=entry.photo,
        plane=entry.plane,
        points_px=places,
        normals_px=np.zeros((len(places), 2)),
        u_noise_px=points[0].u_noise_px if corners else CLICK_U_PX,
        u_shift_px=0.0,
        spread_px=0.0,
        warnings=note,
    )
