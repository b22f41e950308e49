"""What would a number come out as if another of the edges that fit were meant?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from photomeasure.errors import GeometryError
from photomeasure.estimation.features import place_alone, view_on
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.feature import Alternative, Feature, Features
from photomeasure.records.job import Job, MeasurementEntry
from photomeasure.records.report import Measurement, Otherwise
from photomeasure.records.view import Solution


def by_other_edges(
    job: Job,
    features: Features,
    measurements: Sequence[Measurement],
    solution: Solution,
    heights_mm: Mapping[str, float],
) -> tuple[Otherwise, ...]:
    """The main number of every measurement, by every other edge that fits of its features.

    An edge that gives no result is left out. The other edges are as they were found, not yet
    sharpened: their numbers are good to about a tenth of a millimetre.
    """
    return tuple(
        Otherwise(feature.name, other.number, measured.name, value)
        for feature in features.features
        for other in feature.image.alternatives
        for placed in _placed(feature, other, solution, heights_mm)
        for measured in measurements
        if feature.name in measured.features
        for value in _value(_entry(job, measured), measured, features, placed)
    )


def _entry(job: Job, measured: Measurement) -> MeasurementEntry:
    return next(entry for entry in job.measurements if entry.name == measured.name)


def _placed(
    feature: Feature, other: Alternative, solution: Solution, heights_mm: Mapping[str, float]
) -> Iterator[Feature]:
    """The feature by another edge; nothing where that has no such shape."""
    image = replace(
        feature.image, points_px=other.points_px, normals_px=np.zeros_like(other.points_px)
    )
    view = view_on(solution, feature.photo, feature.target)
    try:
        yield place_alone(image, view, heights_mm[feature.plane])
    except GeometryError:
        return


def _value(
    entry: MeasurementEntry, measured: Measurement, features: Features, instead: Feature
) -> Iterator[float]:
    """The main number with one feature replaced; nothing where it has no result."""
    shapes = {
        role: tuple((instead if n == instead.name else features[n]).shape for n in names)
        for role, names in entry.of
    }
    try:
        yield float(MEASUREMENTS[entry.kind].evaluate(shapes)[measured.primary.name])
    except (GeometryError, KeyError):
        return
