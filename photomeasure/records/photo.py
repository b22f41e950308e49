"""What a photo is: upright pixels, what the file says of itself, and its hash."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class ExifFacts:
    """What the file says of the camera; every field may be missing.

    `orientation` is the EXIF value 1–8 that the file carried before the picture was
    turned upright. `focal_length_35mm` is the rounded 35 mm equivalent. `changed` is when
    the file was last written by a program, `stated_px` the size (as stored) that the camera
    wrote down.
    """

    make: str = ""
    model: str = ""
    lens: str = ""
    focal_length_mm: float | None = None
    focal_length_35mm: float | None = None
    digital_zoom: float | None = None
    orientation: int = 1
    software: str = ""
    taken: str = ""
    changed: str = ""
    stated_px: tuple[int, int] | None = None


@dataclass(frozen=True)
class FileFacts:
    """How the picture lay in its file, and what was done to it there.

    format : as in its name, such as "JPEG"; "" where the photo came from no file. bits : of
    a channel. stored_px : size before turning. luma_steps : the 64 quantisation steps of a
    JPEG's luma in rows, else empty. panorama, portrait, depth_map, edited : what the file
    admits. notes : what reading it changed, in sentences.
    """

    format: str = ""
    bits: int = 8
    stored_px: tuple[int, int] | None = None
    luma_steps: tuple[int, ...] = ()
    panorama: bool = False
    portrait: bool = False
    depth_map: bool = False
    edited: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Photo:
    """A picture as taken, upright.

    pixels : (H, W, 3) uint8, RGB, after EXIF orientation; coded as in the file, or by sRGB's
        tone curve where the file states another.
    sha256 : of the file's bytes, 64 hex digits.
    """

    name: str
    pixels: NDArray[np.uint8]
    sha256: str
    exif: ExifFacts = field(default_factory=ExifFacts)
    file: FileFacts = field(default_factory=FileFacts)

    @property
    def size_px(self) -> tuple[int, int]:
        """(width, height)."""
        return int(self.pixels.shape[1]), int(self.pixels.shape[0])
