"""All cameras, poses, print scales and paper shapes of a job as one vector of unknowns.

The vector holds, in this order: for each lens its 8 parameters in the sensor's own
orientation; for each photo its breathing (3: focal length as a factor, principal point
in px) and pose (6); for each printed sheet its scale in x and y and the shape of its paper.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.paper import LIFT_U_MM, Paper
from photomeasure.estimation.priors import BREATHING_U, STABILISER_U_SIDES, LensPrior
from photomeasure.geometry.camera import image_from_space
from photomeasure.geometry.orientation import turned_camera
from photomeasure.records.view import MarkerObservation

Array = NDArray[np.float64]

LENS, BREATHING, POSE, SCALE = 8, 3, 6, 2
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
    papers: dict[str, Paper]

    @cached_property
    def size(self) -> int:
        """Length of the vector."""
        return self._sheets_start + sum(SCALE + p.bumps for p in self.papers.values())

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
        start = self._sheets_start
        for name, paper in self.papers.items():
            if name == sheet:
                break
            start += SCALE + paper.bumps
        return slice(start, start + SCALE)

    def curl(self, sheet: str) -> slice:
        """Where the heights of a sheet's paper stand."""
        start = self.scale(sheet).stop
        return slice(start, start + self.papers[sheet].bumps)

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
        height = self.bases[photo] @ vector[self.curl(observation.sheet)]
        return np.column_stack([plane, height])

    @cached_property
    def bases(self) -> list[Array]:
        """For each photo the (N, n) heights of unit bumps at the corners seen."""
        seen = [s.observation for s in self.sightings]
        return [self.papers[o.sheet].basis(o.saddles_mm) for o in seen]

    def misses_px(self, vector: Array, photo: int) -> Array:
        """(N, 2) corners predicted minus found."""
        predicted = image_from_space(self.paper(vector, photo), self.view(vector, photo))
        return np.asarray(predicted - self.sightings[photo].observation.saddles_px)

    def beliefs(self) -> list[Belief]:
        """Everything believed beforehand, as weighted residuals by source."""
        return [
            *(self.lens_belief(name) for name in self.lenses),
            *(self.breathing_belief(k) for k in range(len(self.sightings))),
            *(self.scale_belief(sheet) for sheet in self.scales),
            *(self._paper_belief(name) for name in self.papers),
        ]

    def lens_belief(self, name: str) -> Belief:
        """What is believed of a lens."""
        prior = self.lenses[name]
        root = np.linalg.cholesky(np.linalg.inv(prior.covariance))
        return Belief(LENS_BELIEF, self.lens(name), prior.mean, root.T)

    def _paper_belief(self, sheet: str) -> Belief:
        count = self.papers[sheet].bumps
        return Belief(FLATNESS, self.curl(sheet), np.zeros(count), np.eye(count) / LIFT_U_MM)

    def scale_belief(self, sheet: str) -> Belief:
        """What is believed of a sheet's print."""
        prior = self.scales[sheet]
        return Belief(PRINT_SCALE, self.scale(sheet), prior.mean, np.diag(1 / prior.u))

    def breathing_belief(self, photo: int) -> Belief:
        """How little a lens changes from photo to photo."""
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

    def strain(self, vector: Array) -> float:
        """How many standard uncertainties the vector lies off, at most."""
        return float(np.max(np.abs(self.residual(vector))))
