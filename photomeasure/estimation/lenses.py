"""Which lens took which photo, and does the camera record fit it?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError
from photomeasure.estimation.priors import LensPrior, lens_from_exif, lens_from_record
from photomeasure.geometry.orientation import turned_camera, turned_size
from photomeasure.records.photo import ExifFacts
from photomeasure.records.view import CameraRecord

_TURNED_RIGHT = 6


@dataclass(frozen=True, eq=False)
class TakenWith:
    """One photo's lens: its key, what is believed of it, how the picture was turned."""

    key: str
    prior: LensPrior
    orientation: int

    @property
    def camera(self) -> NDArray[np.float64]:
        """(8,) the camera as believed, in the picture turned upright."""
        matrix, offset = turned_camera(self.prior.size_px, self.orientation)
        return np.asarray(matrix @ self.prior.mean + offset)


def lens_of(
    photo: str,
    exif: ExifFacts,
    size_px: tuple[int, int],
    camera: str | None,
    records: Mapping[str, CameraRecord],
) -> TakenWith:
    """The lens of a photo; photos of one lens and one zoom share a key.

    camera : SHA-256 of a record, or None. Raises CalibrationError when the record is of
    another camera.
    """
    if camera is None:
        sensor = turned_size(size_px, exif.orientation)
        zoom = f"{exif.focal_length_35mm}|{exif.digital_zoom}"
        key = f"{exif.make}|{exif.model}|{exif.lens}|{zoom}|{sensor}"
        if not exif.model:
            key = f"{photo}|{key}"  # nothing says that two such photos share a lens
        return TakenWith(key, lens_from_exif(exif, size_px), exif.orientation)
    record = records[camera]
    _refuse_other_camera(photo, exif, record)
    prior = lens_from_record(record)
    orientation = exif.orientation
    if turned_size(size_px, orientation) != prior.size_px and orientation == 1:
        orientation = _TURNED_RIGHT  # a picture whose EXIF was lost may stand on its side
    if turned_size(size_px, orientation) != prior.size_px:
        raise CalibrationError(
            f"{photo}: the picture has {size_px[0]} x {size_px[1]} px, its camera record is for "
            f"{prior.size_px[0]} x {prior.size_px[1]} px. Use the picture as the camera made it, "
            "not cropped or resized, or leave the record out."
        )
    return TakenWith(camera, prior, orientation)


def _refuse_other_camera(photo: str, exif: ExifFacts, record: CameraRecord) -> None:
    for word, seen, expected in (
        ("camera", exif.model, record.exif_model),
        ("lens", exif.lens, record.exif_lens),
    ):
        if seen and expected and seen != expected:
            raise CalibrationError(
                f"{photo}: taken with {word} {seen!r}, but its camera record is of {expected!r}. "
                "Name the record of this camera, or leave it out."
            )
