"""What does a camera do to straight lines? A record of it from photos of a board.

The same joint fit as for a job: the record is its lens with the covariance that all board
photos together leave. The board's print scale hardly matters to a lens, its curl does, and
both are in the fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import TakenWith
from photomeasure.estimation.priors import PRINTER_SCALE_U
from photomeasure.estimation.views import Fit, covariance_by_source, estimate_views
from photomeasure.geometry.orientation import turned_camera, turned_size
from photomeasure.records.photo import ExifFacts
from photomeasure.records.view import CameraRecord

Array = NDArray[np.float64]

LEAST_PHOTOS = 3


@dataclass(frozen=True, eq=False)
class Calibration:
    """A record, and for each photo its corners (N, 2) and what the fit misses them by."""

    record: CameraRecord
    corners_px: tuple[Array, ...]
    residuals_px: tuple[Array, ...]


def calibrate_camera(
    sightings: Sequence[Sighting], facts: Sequence[tuple[ExifFacts, TakenWith]]
) -> Calibration:
    """Fit one lens to all photos.

    Raises CalibrationError for too few photos or photos of several lenses.
    """
    if len(sightings) < LEAST_PHOTOS:
        raise CalibrationError(
            f"{len(sightings)} board photo(s) given; at least {LEAST_PHOTOS} are needed, six to "
            "twelve are better. Take more from different sides, tilted 20 to 40 degrees."
        )
    lenses = {taken.key: taken.prior for _, taken in facts}
    if len(lenses) > 1:
        raise CalibrationError(
            f"The photos were taken with {len(lenses)} different lenses, zooms or sizes; one "
            "record holds one. Use photos of one lens at one zoom, as the camera made them."
        )
    prints = dict.fromkeys(s.print_name for s in sightings)
    scales = {p: ScalePrior(np.ones(2), np.full(2, PRINTER_SCALE_U)) for p in prints}
    fit, _ = estimate_views(sightings, lenses, scales)
    kept = fit.unknowns.sightings
    residuals = tuple(fit.unknowns.misses_px(fit.vector, k) for k in range(len(kept)))
    return Calibration(
        record=_record(fit, facts[0][0], facts[0][1]),
        corners_px=tuple(s.observation.saddles_px for s in kept),
        residuals_px=residuals,
    )


def _record(fit: Fit, exif: ExifFacts, taken: TakenWith) -> CameraRecord:
    where = fit.unknowns.lens(taken.key)
    covariance = np.sum(
        [part[where, where] for part in covariance_by_source(fit).values()], axis=0
    )
    matrix, offset = turned_camera(taken.prior.size_px, taken.orientation)
    misses = np.concatenate(
        [fit.unknowns.misses_px(fit.vector, k) for k in range(len(fit.unknowns.sightings))]
    )
    return CameraRecord(
        name="",
        size_px=turned_size(taken.prior.size_px, taken.orientation),
        orientation=taken.orientation,
        parameters=matrix @ fit.vector[where] + offset,
        covariance=matrix @ covariance @ matrix.T,
        residual_px=float(np.sqrt(np.mean(misses**2))),
        photos=len(fit.unknowns.sightings),
        corners=len(misses),
        exif_model=exif.model,
        exif_lens=exif.lens,
        focal_length_mm=exif.focal_length_mm,
        made=datetime.now(UTC).date().isoformat(),
    )
