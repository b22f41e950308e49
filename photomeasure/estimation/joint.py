"""All cameras, poses, print scales and paper shapes of a job as one vector of unknowns.

The vector holds, in this order: for each lens its 8 parameters in the sensor's own
orientation; for each photo its breathing (3: focal length as a factor, principal point
in px) and pose (6); for each printed sheet its scale in x and y and its curl (7).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.priors import (
    BREATHING_U,
    CURL_AT_MM,
    CURL_U_MM,
    STABILISER_U_SIDES,
    LensPrior,
)
from photomeasure.geometry.camera import image_from_space
from photomeasure.geometry.orientation import turned_camera
from photomeasure.records.view import MarkerObservation

Array = NDArray[np.float64]

LENS, BREATHING, POSE, SHEET = 8, 3, 6, 2 + len(CURL_U_MM)
PHOTO = BREATHING + POSE

PRINT_SCALE, LENS_BELIEF, FLATNESS = "print scale", "lens", "paper flatness"
CORNERS = "sheet corners"


@dataclass(frozen=True, eq=False)
class Sighting:
    """One photo's sheet, with what is needed to explain it. `lens` names its lens."""

    observation: MarkerObservation
    size_px: tuple[int, int]
    orientation: int
    lens: str


@dataclass(frozen=True, eq=False)
class ScalePrior:
    """Printed over nominal length in x and y: mean (2,) and standard uncertainty (2,)."""

    mean: Array
    u: Array


@dataclass(frozen=True, eq=False)
class Unknowns:
    """Where everything stands in the vector, and what is expected of it."""

    sightings: tuple[Sighting, ...]
    lenses: dict[str, LensPrior]
    scales: dict[str, ScalePrior]

    @cached_property
    def size(self) -> int:
        """Length of the vector."""
        return self._sheets_start + SHEET * len(self.scales)

    @cached_property
    def _sheets_start(self) -> int:
        return LENS * len(self.lenses) + PHOTO * len(self.sightings)

    def lens(self, name: str) -> slice:
        """Where a lens stands."""
        start = LENS * list(self.lenses).index(name)
        return slice(start, start + LENS)

    def breathing(self, photo: int) -> slice:
        """Where a photo's change of the lens stands."""
        start = LENS * len(self.lenses) + PHOTO * photo
        return slice(start, start + BREATHING)

    def pose(self, photo: int) -> slice:
        """Where a photo's pose stands."""
        start = LENS * len(self.lenses) + PHOTO * photo + BREATHING
        return slice(start, start + POSE)

    def scale(self, sheet: str) -> slice:
        """Where the two print scales of a sheet stand."""
        start = self._sheets_start + SHEET * list(self.scales).index(sheet)
        return slice(start, start + 2)

    def curl(self, sheet: str) -> slice:
        """Where the paper shape of a sheet stands."""
        start = self.scale(sheet).stop
        return slice(start, start + len(CURL_U_MM))

    def that_matter_to(self, photo: int) -> list[int]:
        """Indices of the unknowns that the corners of one photo depend on."""
        sighting = self.sightings[photo]
        sheet = sighting.observation.sheet
        slices = (self.lens(sighting.lens), self.breathing(photo), self.pose(photo),
                  self.scale(sheet), self.curl(sheet))
        return [i for where in slices for i in range(where.start, where.stop)]

    def camera(self, vector: Array, photo: int) -> Array:
        """(8,) camera of one photo as turned upright."""
        sighting = self.sightings[photo]
        lens = vector[self.lens(sighting.lens)].copy()
        breathing = vector[self.breathing(photo)]
        lens[0] *= 1 + breathing[0]
        lens[1:3] += breathing[1:]
        matrix, offset = turned_camera(self.lenses[sighting.lens].size_px, sighting.orientation)
        return np.asarray(matrix @ lens + offset)

    def view(self, vector: Array, photo: int) -> Array:
        """(14,) camera and pose of one photo."""
        return np.concatenate([self.camera(vector, photo), vector[self.pose(photo)]])

    def views(self, vector: Array) -> Array:
        """(14·V,) all views one after another."""
        return np.concatenate([self.view(vector, k) for k in range(len(self.sightings))])

    def paper(self, vector: Array, photo: int) -> Array:
        """(N, 3) where the seen corners really are, given print scale and curl."""
        observation = self.sightings[photo].observation
        plane = observation.saddles_mm * vector[self.scale(observation.sheet)]
        height = curl_basis(observation.saddles_mm) @ vector[self.curl(observation.sheet)]
        return np.column_stack([plane, height])

    def misses_px(self, vector: Array, photo: int) -> Array:
        """(N, 2) corners predicted minus found."""
        predicted = image_from_space(self.paper(vector, photo), self.view(vector, photo))
        return np.asarray(predicted - self.sightings[photo].observation.saddles_px)

    def beliefs(self) -> list[Belief]:
        """Everything believed beforehand, as weighted residuals by source."""
        return [
            *(self._lens_belief(name) for name in self.lenses),
            *(self._breathing_belief(k) for k in range(len(self.sightings))),
            *(
                Belief(PRINT_SCALE, self.scale(s), p.mean, np.diag(1 / p.u))
                for s, p in self.scales.items()
            ),
            *(
                Belief(
                    FLATNESS,
                    self.curl(s),
                    np.zeros(len(CURL_U_MM)),
                    np.diag(1 / np.array(CURL_U_MM)),
                )
                for s in self.scales
            ),
        ]

    def _lens_belief(self, name: str) -> Belief:
        prior = self.lenses[name]
        root = np.linalg.cholesky(np.linalg.inv(prior.covariance))
        return Belief(LENS_BELIEF, self.lens(name), prior.mean, root.T)

    def _breathing_belief(self, photo: int) -> Belief:
        shift = STABILISER_U_SIDES * max(self.sightings[photo].size_px)
        return Belief(
            LENS_BELIEF,
            self.breathing(photo),
            np.zeros(BREATHING),
            np.diag([1 / BREATHING_U, 1 / shift, 1 / shift]),
        )


@dataclass(frozen=True, eq=False)
class Belief:
    """whitener @ (vector[where] - mean) is a residual of unit variance from `source`."""

    source: str
    where: slice
    mean: Array
    whitener: Array

    def residual(self, vector: Array) -> Array:
        """(n,) of unit variance."""
        return np.asarray(self.whitener @ (vector[self.where] - self.mean))


def curl_basis(points_mm: Array) -> Array:
    """(N, 7) heights of unit curl: quadratic and cubic, flat and level at the origin."""
    x, y = points_mm.T / CURL_AT_MM
    return np.column_stack([x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3])
