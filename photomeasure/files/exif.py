"""What does a photo file say of the camera that took it?

Only what the measurement can use is read; where the photo was taken never is.
"""

from __future__ import annotations

import math
import struct
import zlib

from PIL import ExifTags, Image

from photomeasure.records.photo import ExifFacts

MALFORMED = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    KeyError,
    IndexError,
    TypeError,
    AttributeError,
    OverflowError,
    RuntimeError,
    struct.error,
    zlib.error,
)
"""What the decoders raise when a file does not keep to its format."""

LONGEST_TEXT = 200
Tag = ExifTags.Base


def read_exif(image: Image.Image) -> ExifFacts:
    """The facts in the main and the Exif directory; what is missing or absurd stays out.

    A malformed block counts as absent: measuring needs none of it.
    """
    try:
        main = image.getexif()
        detail = main.get_ifd(ExifTags.IFD.Exif)
    except MALFORMED:
        return ExifFacts()
    return ExifFacts(
        make=_text(main.get(Tag.Make)),
        model=_text(main.get(Tag.Model)),
        lens=_text(detail.get(Tag.LensModel)),
        focal_length_mm=_positive(detail.get(Tag.FocalLength)),
        focal_length_35mm=_positive(detail.get(Tag.FocalLengthIn35mmFilm)),
        digital_zoom=_positive(detail.get(Tag.DigitalZoomRatio)),
        orientation=_orientation(image, main.get(Tag.Orientation)),
        software=_text(main.get(Tag.Software)),
        taken=_text(detail.get(Tag.DateTimeOriginal)),
    )


def _orientation(image: Image.Image, stored: object) -> int:
    """1 to 8; a HEIC picture was turned while decoding and keeps what it said aside."""
    value = image.info.get("original_orientation") if image.format == "HEIF" else stored
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    printable = "".join(c for c in value.split("\0")[0] if c.isprintable())
    return printable.strip()[:LONGEST_TEXT]


def _positive(value: object) -> float | None:
    """A positive finite number; EXIF writes 0 for "unknown" and "not used"."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) and number > 0 else None
