"""What is believed of a phone, a printer and a sheet of paper before a corner is seen.

Every number is a mean and a standard uncertainty, and enters the joint fit as one more
observation. They are wide on purpose: a record or more photos narrow them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.orientation import turned_camera, turned_size
from photomeasure.records.photo import ExifFacts
from photomeasure.records.view import CameraRecord

Array = NDArray[np.float64]

# A phone lens after the phone's own correction; "common practice, no source".
DISTORTION_U = (0.04, 0.06, 7e-4, 7e-4, 0.04)  # k1, k2, p1, p2, k3
CENTRE_U_SIDES = 0.006  # principal point, in long sides
CROPPED_CENTRE_U_SIDES = 0.2  # what is left of a picture may have lain anywhere in it
FOCAL_U_EXIF = 0.03  # the 35 mm equivalent is rounded, and its diagonal a convention
FOCAL_U_UNKNOWN = 0.25
FOCAL_SIDES_UNKNOWN = 0.75  # a 27 mm equivalent

# From photo to photo of one lens: focusing and stabilisation.
BREATHING_U = 0.004
STABILISER_U_SIDES = 0.0005

RECORD_BEND_U_PX = 0.1
"""Rms over the picture by which three radial terms and their change with focus leave a lens."""

PRINTER_SCALE_U = 0.003  # an honest printer whose bars nobody has measured

_SAME_SHAPE = 0.01
_RADIAL = (3, 4, 7)  # k1, k2 and k3 in CAMERA_PARAMETERS

FULL_FRAME_MM = (36.0, hypot(36.0, 24.0))  # long side and diagonal of 35 mm film


@dataclass(frozen=True, eq=False)
class LensPrior:
    """Mean (8,) and covariance (8, 8) of a lens in the sensor's own orientation.

    size_px : of the sensor, before turning. known : whether it is a camera record.
    """

    mean: Array
    covariance: Array
    size_px: tuple[int, int]
    known: bool


def lens_from_exif(exif: ExifFacts, upright_size_px: tuple[int, int]) -> LensPrior:
    """What the file says of its lens, or the commonest phone lens."""
    size = turned_size(upright_size_px, exif.orientation)
    long_side = float(max(size))
    focal, focal_u = _focal(exif, size)
    cropped = was_cropped(exif, upright_size_px)
    if cropped:
        focal_u = FOCAL_U_UNKNOWN * focal
    mean = np.array([focal, (size[0] - 1) / 2, (size[1] - 1) / 2, 0, 0, 0, 0, 0])
    centre_u = (CROPPED_CENTRE_U_SIDES if cropped else CENTRE_U_SIDES) * long_side
    u = np.array([focal_u, centre_u, centre_u, *DISTORTION_U])
    return LensPrior(mean, np.diag(u**2), size, known=False)


def was_cropped(exif: ExifFacts, size_px: tuple[int, int]) -> bool:
    """Whether the picture has another shape than the camera wrote down; either may be turned."""
    if exif.stated_px is None:
        return False
    stated, seen = (max(s) / min(s) for s in (exif.stated_px, size_px))
    return abs(stated / seen - 1) > _SAME_SHAPE


def lens_from_record(record: CameraRecord) -> LensPrior:
    """The recorded lens, turned back to the sensor's own orientation."""
    size = turned_size(record.size_px, record.orientation)
    matrix, offset = turned_camera(size, record.orientation)
    back = np.linalg.inv(matrix)
    mean = back @ (record.parameters - offset)
    covariance = back @ record.covariance @ back.T
    covariance[np.ix_(_RADIAL, _RADIAL)] += _bend_covariance(float(mean[0]), size)
    return LensPrior(mean, covariance, size, known=True)


def _bend_covariance(focal_px: float, size_px: tuple[int, int]) -> Array:
    """(3, 3) of k1, k2 and k3, which may change a lot together while the picture hardly does."""
    radius = np.linspace(0.0, hypot(*size_px) / 2 / focal_px, 33)[1:]
    moves_px = focal_px * radius[:, None] ** [3, 5, 7]
    each = moves_px.T @ moves_px / len(radius)
    return np.asarray(np.linalg.inv(each) * RECORD_BEND_U_PX**2 / len(_RADIAL))


def _focal(exif: ExifFacts, size: tuple[int, int]) -> tuple[float, float]:
    """Focal length in px and its standard uncertainty."""
    long_side, diagonal = float(max(size)), hypot(*size)
    if not exif.focal_length_35mm:
        guess = FOCAL_SIDES_UNKNOWN * long_side
        return guess, FOCAL_U_UNKNOWN * guess
    # Makers differ on whether long side or diagonal is compared: take the middle.
    by_side = exif.focal_length_35mm / FULL_FRAME_MM[0] * long_side
    by_diagonal = exif.focal_length_35mm / FULL_FRAME_MM[1] * diagonal
    guess = (by_side + by_diagonal) / 2
    return guess, max(FOCAL_U_EXIF * guess, abs(by_side - by_diagonal) / 2)
