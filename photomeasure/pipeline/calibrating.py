"""Board photos → a camera record: the first half of the line, of which only the lens is kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from photomeasure.estimation.calibrate import Calibration, calibrate_camera
from photomeasure.estimation.joint import Sighting
from photomeasure.estimation.lenses import lens_of
from photomeasure.records.photo import Photo
from photomeasure.vision.detection import detect_sheets

Progress = Callable[[str], None]


def silent(message: str) -> None:
    """Say nothing."""


def calibrate(photos: Sequence[Photo], progress: Progress = silent) -> Calibration:
    """A camera record from board photos, with what a plot of it needs."""
    sightings, facts = [], []
    for photo in photos:
        progress(f"looking for the board in {photo.name}")
        taken = lens_of(photo.name, photo.exif, photo.size_px, None, {})
        seen = detect_sheets(photo)[0]
        sightings.append(Sighting(seen, photo.size_px, taken.orientation, taken.key))
        facts.append((photo.exif, taken))
    progress("fitting the lens")
    return calibrate_camera(sightings, facts)
