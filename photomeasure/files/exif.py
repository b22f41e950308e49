"""What does a photo file say of the camera that took it?

Only what the measurement can use is read; where the photo was taken never is.
"""

from __future__ import annotations

import math
import struct
import zlib
from dataclasses import replace

from PIL import ExifTags, Image

from photomeasure.records.photo import ExifFacts, FileFacts

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

_NAMES = {"HEIF": "HEIC", "WEBP": "WebP", "MPO": "JPEG"}

# Values of CustomRendered beyond the standard's 0 and 1, as phones write them; from memory of
# published lists of tags.
_PANORAMA, _PORTRAIT = (6,), (7, 8)
# Names of properties in XMP: a panorama's projection, a depth map, an editor's log.
_XMP_PANORAMA = ("GPano:ProjectionType", "GPano:CroppedAreaImageWidthPixels")
_XMP_DEPTH = ("GDepth:", 'Semantic="Depth"', 'Semantic="DepthMap"')
_XMP_HISTORY = "xmpMM:History"


def read_exif(image: Image.Image) -> ExifFacts:
    """The facts in the main and the Exif directory; what is missing or absurd stays out.

    A malformed block counts as absent: measuring needs none of it.
    """
    try:
        main = image.getexif()
        return _facts(main, _orientation(image, main.get(Tag.Orientation)))
    except MALFORMED:
        return ExifFacts()


def read_raw_exif(data: bytes) -> ExifFacts:
    """The facts of a DNG, which is a TIFF. Its lens is told apart from the JPEG's by a word."""
    main = Image.Exif()
    try:
        main.load(data)
        facts = _facts(main, _valid_orientation(main.get(Tag.Orientation)))
    except MALFORMED:
        return ExifFacts()
    return replace(facts, lens=f"{facts.lens} (raw)".strip())


def read_file_facts(image: Image.Image) -> FileFacts:
    """What a file admits of how its picture was made."""
    xmp = _xmp(image)
    try:
        main = image.getexif()
        rendered = main.get_ifd(ExifTags.IFD.Exif).get(Tag.CustomRendered)
        processed = _text(main.get(Tag.ProcessingSoftware))
    except MALFORMED:
        rendered, processed = None, ""
    return FileFacts(
        format=_NAMES.get(image.format or "", image.format or ""),
        stored_px=image.size,
        luma_steps=tuple(getattr(image, "quantization", {}).get(0, ())),
        panorama=rendered in _PANORAMA or any(sign in xmp for sign in _XMP_PANORAMA),
        portrait=rendered in _PORTRAIT,
        depth_map=bool(image.info.get("depth_images")) or any(sign in xmp for sign in _XMP_DEPTH),
        edited=processed or ("an editor's history" if _XMP_HISTORY in xmp else ""),
    )


def _xmp(image: Image.Image) -> str:
    """The XMP packet as text, whatever key it lies under; empty where there is none."""
    packet = image.info.get("xmp") or image.info.get("XML:com.adobe.xmp") or b""
    return packet if isinstance(packet, str) else bytes(packet).decode("utf-8", "replace")


def _facts(main: Image.Exif, orientation: int) -> ExifFacts:
    detail = main.get_ifd(ExifTags.IFD.Exif)
    return ExifFacts(
        make=_text(main.get(Tag.Make)),
        model=_text(main.get(Tag.Model)),
        lens=_text(detail.get(Tag.LensModel)),
        focal_length_mm=_positive(detail.get(Tag.FocalLength)),
        focal_length_35mm=_positive(detail.get(Tag.FocalLengthIn35mmFilm)),
        digital_zoom=_positive(detail.get(Tag.DigitalZoomRatio)),
        orientation=orientation,
        software=_text(main.get(Tag.Software)),
        taken=_text(detail.get(Tag.DateTimeOriginal)),
        changed=_text(main.get(Tag.DateTime)),
        stated_px=_size(detail.get(Tag.ExifImageWidth), detail.get(Tag.ExifImageHeight)),
    )


def _orientation(image: Image.Image, stored: object) -> int:
    """1 to 8; a HEIC picture was turned while decoding and keeps what it said aside."""
    heif = image.format == "HEIF"
    return _valid_orientation(image.info.get("original_orientation") if heif else stored)


def _valid_orientation(value: object) -> int:
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _size(width: object, height: object) -> tuple[int, int] | None:
    if isinstance(width, int) and isinstance(height, int) and width > 0 and height > 0:
        return width, height
    return None


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
