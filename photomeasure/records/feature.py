"""A feature: located in the picture, then known in millimetres."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.shapes import Shape

Array = NDArray[np.float64]

SET_CHOICE = "Set `choice` to take another."
"""How a warning ends that several edges fit; a report tells before it what they would give."""

FEATURE_KINDS = ("point", "edge", "circle", "curve", "tube", "row")


@dataclass(frozen=True, eq=False)
class ImageFeature:
    """What was pointed at, located to sub-pixel in the original picture.

    points_px : (N, 2) image frame; N is 1 for a point, of both sides for a tube.
    normals_px : (N, 2) unit vectors across the edge, from the dark to the light side;
        zero for a point.
    u_noise_px : standard uncertainty of one point, independent from point to point.
    u_shift_px : standard uncertainty of a shift common to all points, to one side of the
        edge or outwards of a circle or tube (edge definition, a narrow wall beside it).
    u_tone_px : the same from the photo's tone curve, common to all features of the photo.
    spread_px : rms distance of the points from the fitted shape.
    extent_px : (2, 2) first and last click, which bound an edge; (4, 2) those of a tube's one
        side, then of the other; empty for other kinds.
    alternatives : plain words for the other answers that fit, nearest first; empty when
        there is one answer. `chosen` is which of them this is, counted from 1.
    """

    name: str
    kind: str
    photo: str
    plane: str
    points_px: Array
    normals_px: Array
    u_noise_px: float
    u_shift_px: float
    spread_px: float
    closed: bool = False
    chosen: int = 1
    alternatives: tuple[Alternative, ...] = ()
    warnings: tuple[str, ...] = ()
    u_tone_px: float = 0.0
    extent_px: Array = field(default_factory=lambda: np.empty((0, 2)))


@dataclass(frozen=True, eq=False)
class Alternative:
    """One of several edges that fit what was pointed at, counted from 1 in the job.

    points_px : (N, 2) a chain to draw. offset_mm : its distance from the one used.
    """

    number: int
    words: str
    points_px: Array
    offset_mm: float


@dataclass(frozen=True, eq=False)
class Feature:
    """A feature in millimetres on its plane, in the frame of the sheet or card `target`.

    numbers of the shape : (k,); `start` is where they begin in the job's vector of
    feature numbers (see Features).
    """

    name: str
    kind: str
    photo: str
    plane: str
    shape: Shape
    image: ImageFeature
    start: int = 0
    target: str = ""

    @property
    def indices(self) -> NDArray[np.intp]:
        """Where this feature's numbers stand in the job's vector."""
        return np.arange(self.start, self.start + len(self.shape.numbers))


@dataclass(frozen=True, eq=False)
class Features:
    """All features of a job with their joint covariance by source.

    values : (n,) all shapes' numbers one after another.
    covariances : source → (n, n); the sum is the joint covariance.
    """

    features: tuple[Feature, ...]
    values: Array
    covariances: dict[str, Array]

    def __getitem__(self, name: str) -> Feature:
        for feature in self.features:
            if feature.name == name:
                return feature
        raise KeyError(name)
