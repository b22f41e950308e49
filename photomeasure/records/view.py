"""What was seen of a sheet, and how the camera stood to it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CAMERA_PARAMETERS = ("f", "cx", "cy", "k1", "k2", "p1", "p2", "k3")
"""Square pixels. f, cx, cy in px of the upright picture; the rest as OpenCV's distortion."""

POSE_PARAMETERS = ("rx", "ry", "rz", "tx", "ty", "tz")
"""T_camera_sheet: rotation vector in rad, translation in mm."""

_CORNERS_OF_A_THING = 4

VIEW_SIZE = len(CAMERA_PARAMETERS) + len(POSE_PARAMETERS)


@dataclass(frozen=True, eq=False)
class MarkerObservation:
    """The saddle corners of one sheet or card found in one photo.

    saddles_mm : (N, 2) where the design puts them, sheet frame.
    saddles_px : (N, 2) where they were found, image frame (pixel centres are integers).
    u_px : standard uncertainty of one coordinate.
    expected : how many saddles the design has.
    square_px : median side of a square in the picture.
    prints : what it may have been printed on, the pages of a card; empty for a print of its own.
    """

    photo: str
    sheet: str
    saddles_mm: Array
    saddles_px: Array
    u_px: float
    expected: int
    square_px: float
    prints: tuple[str, ...] = ()

    @property
    def is_printed(self) -> bool:
        """Whether it is a print of ours, not a thing whose size is known: these have corners."""
        return self.expected > _CORNERS_OF_A_THING

    @property
    def is_card(self) -> bool:
        """Whether it was cut out of a page."""
        return bool(self.prints) and self.sheet not in self.prints

    def printed_on(self, stated: Collection[str]) -> str:
        """The name of its print: the first that is stated, else the first that it may be."""
        prints = self.prints or (self.sheet,)
        return next((name for name in prints if name in stated), prints[0])


@dataclass(frozen=True, eq=False)
class View:
    """Camera and pose of one photo in the frame of one sheet or card, its target.

    All views of one photo have the same camera.

    camera : (8,) in the order of CAMERA_PARAMETERS; pose : (6,) T_camera_sheet.
    start : where this view's 14 numbers begin in the job's vector of inputs. is_card :
    whether the target is a card.
    """

    photo: str
    sheet: str
    size_px: tuple[int, int]
    camera: Array
    pose: Array
    residual_px: float
    held_out_mm: float
    start: int = 0
    is_card: bool = False

    @property
    def parameters(self) -> Array:
        """(14,) camera then pose."""
        return np.concatenate([self.camera, self.pose])


@dataclass(frozen=True, eq=False)
class Solution:
    """All views of a job, estimated together.

    values : (14·V,) the views' parameters one after another.
    covariances : source of uncertainty → (14·V, 14·V); their sum is the joint covariance.
    """

    views: tuple[View, ...]
    values: Array
    covariances: dict[str, Array]
    warnings: tuple[str, ...] = ()

    @property
    def covariance(self) -> Array:
        """The joint covariance of all views."""
        total = np.zeros((len(self.values), len(self.values)))
        for part in self.covariances.values():
            total = total + part
        return total


@dataclass(frozen=True, eq=False)
class CameraRecord:
    """A camera calibrated from board photos, in the orientation stated.

    parameters : (8,) CAMERA_PARAMETERS; covariance : (8, 8).
    orientation : EXIF orientation of the photos it was made from; size_px is upright.
    """

    name: str
    size_px: tuple[int, int]
    orientation: int
    parameters: Array
    covariance: Array
    residual_px: float
    photos: int
    corners: int
    exif_model: str = ""
    exif_lens: str = ""
    focal_length_mm: float | None = None
    made: str = ""
    notes: tuple[str, ...] = field(default_factory=tuple)
