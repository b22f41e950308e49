"""What does a touch find? One feature, located and placed, as the page draws it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure import pipeline
from photomeasure.estimation.features import place_alone, view_on
from photomeasure.exporters.overlay import shape_chains
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.records.feature import Alternative, Feature, ImageFeature
from photomeasure.records.job import FeatureEntry, Job
from photomeasure.records.view import Solution
from photomeasure.web.answers import Chain, Located, Rival
from photomeasure.web.desk import Desk

Array = NDArray[np.float64]

_MOST_POINTS = 60
_MOST_RIVAL_POINTS = 48
_LIKELY = "edge"  # what a rival is called that may lie on the plane as well


def locate_touch(desk: Desk, job: Job, entry: FeatureEntry) -> Located:
    """The feature that was touched. Raises PhotomeasureError in words."""
    image = desk.locate(job, entry)
    views = desk.views(job)
    assert views.solution is not None  # or it would not have been located
    alone = replace(job, features=(entry,))
    height_mm = pipeline.heights_of(alone)[entry.plane].mm
    view = pipeline.view_of(entry, alone, views.solution)
    return located(place_alone(image, view, height_mm), height_mm, views.solution)


def located(feature: Feature, height_mm: float, solution: Solution) -> Located:
    """A feature found, in mm on its plane at a height."""
    image = feature.image
    view = view_on(solution, feature.photo, feature.target).parameters
    return Located(
        name=feature.name,
        kind=feature.kind,
        photo=feature.photo,
        plane=feature.plane,
        sheet=feature.target,
        height_mm=height_mm,
        chains_mm=[chain(c) for c in shape_chains(feature.shape)],
        anchor_mm=_pair(plane_from_image(_middle(image), view, height_mm)[0]),
        points_px=chain(_thinned(image.points_px, _MOST_POINTS)),
        spread_px=image.spread_px,
        spread_mm=image.spread_px * _mm_per_px(image, view, height_mm),
        points=len(image.points_px),
        chosen=image.chosen,
        ask=any(a.words == _LIKELY for a in image.alternatives),
        rivals=[_rival(a, view, height_mm) for a in image.alternatives],
        warnings=list(image.warnings),
    )


def chain(points: Array) -> Chain:
    """(N, 2) as pairs of plain numbers."""
    return [_pair(p) for p in points]


def _pair(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _rival(rival: Alternative, view: Array, height_mm: float) -> Rival:
    points_px = _thinned(rival.points_px, _MOST_RIVAL_POINTS)
    chains = [chain(plane_from_image(points_px, view, height_mm))] if len(points_px) else []
    return Rival(
        number=rival.number, words=rival.words, offset_mm=rival.offset_mm, chains_mm=chains
    )


def _thinned(points: Array, most: int) -> Array:
    return np.asarray(points[:: -(-len(points) // most) or 1])


def _middle(image: ImageFeature) -> Array:
    return np.asarray(image.points_px[len(image.points_px) // 2][None])


def _mm_per_px(image: ImageFeature, view: Array, height_mm: float) -> float:
    at = plane_from_image(_middle(image), view, height_mm)
    beside = image_from_plane(at + np.array([[1.0, 0.0]]), view, height_mm) - _middle(image)
    return 1 / float(np.linalg.norm(beside))
