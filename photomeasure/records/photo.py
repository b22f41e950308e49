"""What a photo is: upright pixels, what the file says of itself, and its hash."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class ExifFacts:
    """What the file says of the camera; every field may be missing.

    `orientation` is the EXIF value 1–8 that the file carried before the picture was
    turned upright. `focal_length_35mm` is the rounded 35 mm equivalent.
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


@dataclass(frozen=True, eq=False)
class Photo:
    """A picture as taken, upright.

    pixels : (H, W, 3) uint8, RGB, tone-curve coded as in the file, after EXIF orientation.
    sha256 : of the file's bytes, 64 hex digits.
    """

    name: str
    pixels: NDArray[np.uint8]
    sha256: str
    exif: ExifFacts = field(default_factory=ExifFacts)

    @property
    def size_px(self) -> tuple[int, int]:
        """(width, height)."""
        return int(self.pixels.shape[1]), int(self.pixels.shape[0])
