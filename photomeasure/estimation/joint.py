"""All cameras, poses, print scales and paper shapes of a job as one vector of unknowns.

The vector holds, in this order: for each lens its 8 parameters in the sensor's own
orientation; for each photo its breathing (3: focal length as a factor, principal point
in px); for each sighting, one sheet or card in one photo, its pose (6); for each print its
scale in x and y; for each sheet and card the shape of its paper. So all that is seen in one
photo shares one camera, and all cards cut from one page share one print.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.paper import Paper
from photomeasure.estimation.priors import BREATHING_U, STABILISER_U_SIDES, LensPrior
from photomeasure.geometry.camera import image_from_space
from photomeasure.geometry.orientation import turned_camera
from photomeasure.records.view import MarkerObservation

Array = NDArray[np.float64]

LENS, BREATHING, POSE, SCALE = 8, 3, 6, 2

PRINT_SCALE, LENS_BELIEF, FLATNESS = "print scale", "lens", "paper flatness"
CORNERS = "sheet corners"


@dataclass(frozen=True, eq=False)
class Sighting:
    """One sheet or card in one photo, with what is needed to explain it.

    lens : names the photo's lens. printed : names the print that it was cut from; "" where it
    is a print of its own.
    """

    observation: MarkerObservation
    size_px: tuple[int, int]
    orientation: int
    lens: str
    printed: str = ""

    @property
    def photo(self) -> str:
        """The name of its photo."""
        return self.observation.photo

    @property
    def print_name(self) -> str:
        """The name of its print."""
        return self.printed or self.observation.sheet


@dataclass(frozen=True, eq=False)
class ScalePrior:
    """Printed over nominal length in x and y: mean (2,) and standard uncertainty (2,)."""

    mean: Array
    u: Array


@dataclass(frozen=True, eq=False)
class Unknowns:
    """Where everything stands in the vector, and what is expected of it.

    Photos, prints and papers go by name, sightings by their number.
    """

    sightings: tuple[Sighting, ...]
    lenses: dict[str, LensPrior]
    scales: dict[str, ScalePrior]
    papers: dict[str, Paper]

    @cached_property
    def _places(self) -> dict[tuple[str, str | int], slice]:
        sizes: list[tuple[tuple[str, str | int], int]] = [
            *((("lens", name), LENS) for name in self.lenses),
            *((("breathing", name), BREATHING) for name in self.photos),
            *((("pose", k), POSE) for k in range(len(self.sightings))),
            *((("scale", name), SCALE) for name in self.scales),
            *((("curl", name), paper.bumps) for name, paper in self.papers.items()),
        ]
        places, start = {}, 0
        for what, size in sizes:
            places[what] = slice(start, start + size)
            start += size
        return places

    @cached_property
    def size(self) -> int:
        """Length of the vector."""
        return int(max(place.stop for place in self._places.values()))

    @cached_property
    def photos(self) -> dict[str, Sighting]:
        """Each photo with one of its sightings."""
        return {s.photo: s for s in reversed(self.sightings)}

    def lens(self, name: str) -> slice:
        """Where a lens stands."""
        return self._places["lens", name]

    def breathing(self, photo: str) -> slice:
        """Where a photo's change of the lens stands."""
        return self._places["breathing", photo]

    def pose(self, sighting: int) -> slice:
        """Where a sighting's pose stands."""
        return self._places["pose", sighting]

    def scale(self, printed: str) -> slice:
        """Where the two scales of a print stand."""
        return self._places["scale", printed]

    def curl(self, sheet: str) -> slice:
        """Where the heights of a sheet's paper stand."""
        return self._places["curl", sheet]

    def camera(self, vector: Array, sighting: int) -> Array:
        """(8,) camera of a sighting's photo as turned upright."""
        seen = self.sightings[sighting]
        lens = vector[self.lens(seen.lens)].copy()
        breathing = vector[self.breathing(seen.photo)]
        lens[0] *= 1 + breathing[0]
        lens[1:3] += breathing[1:]
        matrix, offset = turned_camera(self.lenses[seen.lens].size_px, seen.orientation)
        return np.asarray(matrix @ lens + offset)

    def view(self, vector: Array, sighting: int) -> Array:
        """(14,) camera and pose of one sighting."""
        return np.concatenate([self.camera(vector, sighting), vector[self.pose(sighting)]])

    def views(self, vector: Array) -> Array:
        """(14·V,) all views one after another."""
        return np.concatenate([self.view(vector, k) for k in range(len(self.sightings))])

    def paper(self, vector: Array, sighting: int) -> Array:
        """(N, 3) where the seen corners really are, given print scale and curl."""
        seen = self.sightings[sighting]
        plane = seen.observation.saddles_mm * vector[self.scale(seen.print_name)]
        height = self.bases[sighting] @ vector[self.curl(seen.observation.sheet)]
        return np.column_stack([plane, height])

    @cached_property
    def bases(self) -> list[Array]:
        """For each sighting the (N, n) heights of unit bumps at the corners seen."""
        seen = [s.observation for s in self.sightings]
        return [self.papers[o.sheet].basis(o.saddles_mm) for o in seen]

    def misses_px(self, vector: Array, sighting: int) -> Array:
        """(N, 2) corners predicted minus found."""
        predicted = image_from_space(self.paper(vector, sighting), self.view(vector, sighting))
        return np.asarray(predicted - self.sightings[sighting].observation.saddles_px)

    def beliefs(self) -> list[Belief]:
        """Everything believed beforehand, as weighted residuals by source."""
        return [
            *(self.lens_belief(name) for name in self.lenses),
            *(self.breathing_belief(photo) for photo in self.photos),
            *(self.scale_belief(name) for name in self.scales),
            *(self._paper_belief(name) for name in self.papers),
        ]

    def lens_belief(self, name: str) -> Belief:
        """What is believed of a lens."""
        prior = self.lenses[name]
        root = np.linalg.cholesky(np.linalg.inv(prior.covariance))
        return Belief(LENS_BELIEF, self.lens(name), prior.mean, root.T)

    def _paper_belief(self, sheet: str) -> Belief:
        lift_u_mm = self.papers[sheet].lift_u_mm
        return Belief(FLATNESS, self.curl(sheet), np.zeros(len(lift_u_mm)), np.diag(1 / lift_u_mm))

    def scale_belief(self, printed: str) -> Belief:
        """What is believed of a print."""
        prior = self.scales[printed]
        return Belief(PRINT_SCALE, self.scale(printed), prior.mean, np.diag(1 / prior.u))

    def breathing_belief(self, photo: str) -> Belief:
        """How little a lens changes from photo to photo."""
        shift = STABILISER_U_SIDES * max(self.photos[photo].size_px)
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
