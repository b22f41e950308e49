"""What does a photo file show, upright, and what does it say of its camera?

JPEG, PNG, HEIC, TIFF, WebP, AVIF, and DNG with the extra `raw`. The orientation that the file
asks for is applied exactly once. What cannot be trusted as one still picture is refused:
unknown formats, truncated files, animations, several pages, and pictures of more than LIMIT_PX
pixels, before they are decoded.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from photomeasure.errors import PhotoError
from photomeasure.files.exif import MALFORMED, read_exif, read_file_facts, read_raw_exif
from photomeasure.files.raw import develop_dng, is_dng
from photomeasure.files.reading import file_bytes
from photomeasure.files.samples import STRIP_ROWS, Samples, decode
from photomeasure.files.tone_curves import table
from photomeasure.geometry.orientation import as_stored
from photomeasure.records.photo import ExifFacts, FileFacts, Photo
from photomeasure.registry import mean_words

Pixels = NDArray[np.uint8]

FORMATS = ("JPEG", "PNG", "HEIF", "TIFF", "WEBP", "AVIF")
IN_WORDS = "JPEG, PNG, HEIC, TIFF, WebP, AVIF or DNG"
LIMIT_PX = 100_000_000
LIMIT_BYTES = 250_000_000
MOST_PAGES = 50
SMALL_COPY = 0.5  # of the area: a preview, not another picture
SUBFILE_TYPE = 254  # TIFF 6.0, NewSubfileType; bit 0 is "reduced-resolution"
WITHOUT_CORRECTION = (
    "A DNG lacks the phone's own lens correction: its camera record must be made from DNGs."
)
RETAKE = "Copy the original from the phone again, or retake the photo."


def read_photo(path: Path | str, name: str | None = None) -> Photo:
    """The picture in a file, upright, 8-bit RGB.

    More bits than 8 are rounded, after a tone curve that the file states is taken off; grey,
    palette and CMYK pictures become RGB, transparent ones lie on white. What was done stands
    in the photo's `file.notes`. `name` is the photo's name in messages; by default the file's.
    Raises PhotoError in one sentence for anything that is not one still picture.
    """
    path = Path(path)
    data = _read_bytes(path)
    digest = hashlib.sha256(data).hexdigest()
    with warnings.catch_warnings():
        # Pillow warns of sizes, which are checked here, and of EXIF, which is optional.
        warnings.simplefilter("ignore")
        pixels, facts, told = _picture(data, path.name)
    return Photo(name or path.name, pixels, digest, facts, told)


def _picture(data: bytes, name: str) -> tuple[Pixels, ExifFacts, FileFacts]:
    if is_dng(data):
        return _raw_picture(data, name)
    with _open(data, name) as image:
        _refuse_unfit(image, name)
        facts, told = read_exif(image), read_file_facts(image)
        samples = _decode(image, data, facts.orientation, name)
        told = replace(told, bits=samples.bits, notes=samples.notes)
        return _upright(samples), facts, told


def _raw_picture(data: bytes, name: str) -> tuple[Pixels, ExifFacts, FileFacts]:
    deep = develop_dng(data, name, LIMIT_PX)
    facts = read_raw_exif(data)
    blank = Image.new("RGB", (1, 1))
    samples = Samples(blank, facts.orientation, 16, deep, table(None, 65535))
    size = samples.stored_px
    return _upright(samples), facts, FileFacts("DNG", 16, size, notes=(WITHOUT_CORRECTION,))


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise PhotoError(f"{path.name}: this is a folder, not a photo. Name a photo in it.")
    try:
        size = path.stat().st_size
        if size > LIMIT_BYTES:
            raise PhotoError(
                f"{path.name}: {size / 1e6:.0f} MB, more than the limit of "
                f"{LIMIT_BYTES / 1e6:.0f} MB for a photo. Name the photo as the phone made it."
            )
        data = file_bytes(path)
    except (FileNotFoundError, NotADirectoryError):
        raise PhotoError(
            f"{path}: there is no such photo.{_alike(path)} Check the name, or put the photo "
            "there."
        ) from None
    except (OSError, ValueError) as error:
        raise PhotoError(
            f"{path}: the photo cannot be read ({_reason(error)}). Check the name and that "
            "you may read the file."
        ) from None
    if not data:
        raise PhotoError(f"{path.name}: the file is empty. {RETAKE}")
    return data


def _alike(path: Path) -> str:
    """A question after the file beside it whose name is nearest."""
    try:
        return mean_words(path.name, [other.name for other in path.parent.iterdir()])
    except (OSError, ValueError):
        return ""


def _open(data: bytes, name: str) -> Image.Image:
    formats: tuple[str, ...] = FORMATS
    if data[4:8] == b"ftyp":  # ISO base media: HEIC or AVIF
        _know_heic()
    else:  # Pillow knows no HEIF until its decoder is loaded, and stumbles over its name
        formats = tuple(f for f in FORMATS if f != "HEIF")
    try:
        return Image.open(io.BytesIO(data), formats=formats)
    except Image.DecompressionBombError:
        raise PhotoError(_too_large(name, "far more")) from None
    except UnidentifiedImageError:
        raise PhotoError(
            f"{name}: this is not a {IN_WORDS} picture that can be read, or its beginning is "
            "damaged. Take the photo as JPEG or HEIC and name that file."
        ) from None
    except MALFORMED as error:
        raise PhotoError(_damaged(name, error)) from None


@cache
def _know_heic() -> None:
    import pi_heif  # noqa: PLC0415  slow to import, and few photos are HEIC

    pi_heif.register_heif_opener()


def _refuse_unfit(image: Image.Image, name: str) -> None:
    width, height = image.size
    if width * height > LIMIT_PX:
        raise PhotoError(_too_large(name, f"{width} × {height} px, more"))
    # Phones store depth maps and previews as further pictures in JPEG and HEIC files.
    if image.format == "TIFF":
        _refuse_pages(image, name)
    elif image.format in ("PNG", "WEBP", "AVIF") and getattr(image, "is_animated", False):
        raise PhotoError(f"{name}: this is an animation. Name a single still photo.")


def _refuse_pages(image: Image.Image, name: str) -> None:
    """A TIFF may hold a small copy of its picture, but not several pictures."""
    try:
        pages = _pages(image)
    except (*MALFORMED, Image.DecompressionBombError) as error:
        raise PhotoError(_damaged(name, error)) from None
    if pages > 1:
        raise PhotoError(
            f"{name}: this TIFF holds {pages} pictures; one is wanted. Save the page you mean as "
            "a file of its own."
        )


def _pages(image: Image.Image) -> int:
    size, pages = image.size, 1
    for k in range(1, min(getattr(image, "n_frames", 1), MOST_PAGES)):
        image.seek(k)
        small = image.width * image.height < SMALL_COPY * size[0] * size[1]
        reduced = bool(image.tag_v2.get(SUBFILE_TYPE, 0) & 1)  # type: ignore[attr-defined]
        pages += not (small or reduced)
    image.seek(0)
    return pages


def _decode(image: Image.Image, data: bytes, orientation: int, name: str) -> Samples:
    try:
        return decode(image, data, orientation)
    except PhotoError as error:
        raise PhotoError(f"{name}: {error}") from None
    except (*MALFORMED, Image.DecompressionBombError) as error:
        raise PhotoError(_damaged(name, error)) from None


def _upright(samples: Samples) -> Pixels:
    """(H, W, 3) upright; copied strip by strip, so that only one more copy is held."""
    width, height = samples.stored_px
    shape = (width, height) if samples.turn >= 5 else (height, width)
    pixels = np.empty((*shape, 3), np.uint8)
    stored = as_stored(pixels, samples.turn)
    for top in range(0, height, STRIP_ROWS):
        bottom = min(top + STRIP_ROWS, height)
        stored[top:bottom] = samples.rows(top, bottom)
    return pixels


def _too_large(name: str, seen: str) -> str:
    return (
        f"{name}: {seen} than the limit of {LIMIT_PX // 1_000_000} megapixels. "
        "Take the photo at 12 to 50 megapixels."
    )


def _damaged(name: str, error: BaseException) -> str:
    return f"{name}: the picture is damaged or cut short ({_reason(error)}). {RETAKE}"


def _reason(error: BaseException) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return str(error).strip().rstrip(".") or type(error).__name__


__all__ = ["FORMATS", "LIMIT_PX", "read_photo"]
