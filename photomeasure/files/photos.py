"""What does a photo file show, upright, and what does it say of its camera?

JPEG, PNG and HEIC. The orientation that the file asks for is applied exactly once. What
cannot be trusted as one still picture is refused: unknown formats, truncated files,
animations, and pictures of more than LIMIT_PX pixels, before they are decoded.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from functools import cache
from pathlib import Path

import numpy as np
import pi_heif
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from photomeasure.errors import PhotoError
from photomeasure.files.exif import MALFORMED, read_exif
from photomeasure.records.photo import ExifFacts, Photo

Pixels = NDArray[np.uint8]

FORMATS = ("JPEG", "PNG", "HEIF")
LIMIT_PX = 100_000_000
LIMIT_BYTES = 250_000_000
STRIP_ROWS = 256
RETAKE = "Copy the original from the phone again, or retake the photo."


def read_photo(path: Path | str, name: str | None = None) -> Photo:
    """The picture in a JPEG, PNG or HEIC file, upright, 8-bit RGB.

    16-bit pictures are scaled down to 8, grey and palette ones become RGB, transparent
    ones lie on white. `name` is the photo's name in messages; by default the file's.
    Raises PhotoError in one sentence for anything that is not one still picture.
    """
    path = Path(path)
    data = _read_bytes(path)
    digest = hashlib.sha256(data).hexdigest()
    with warnings.catch_warnings():
        # Pillow warns of sizes, which are checked here, and of EXIF, which is optional.
        warnings.simplefilter("ignore")
        pixels, facts = _picture(data, path.name)
    return Photo(name or path.name, pixels, digest, facts)


def _picture(data: bytes, name: str) -> tuple[Pixels, ExifFacts]:
    with _open(data, name) as image:
        _refuse_unfit(image, name)
        _decode(image, name)
        facts = read_exif(image)
        # HEIC comes upright from the decoder; its orientation is a fact, not a task.
        turn = 1 if image.format == "HEIF" else facts.orientation
        return _upright(image, turn), facts


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise PhotoError(f"{path.name}: this is a folder, not a photo. Name a photo in it.")
    try:
        size = path.stat().st_size
        if size > LIMIT_BYTES:
            raise PhotoError(
                f"{path.name}: {size / 1e6:.0f} MB, more than the limit of "
                f"{LIMIT_BYTES / 1e6:.0f} MB for a photo. Name a JPEG, PNG or HEIC photo."
            )
        data = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise PhotoError(
            f"{path}: there is no such photo. Check the name, or put the photo there."
        ) from None
    except (OSError, ValueError) as error:
        raise PhotoError(
            f"{path}: the photo cannot be read ({_reason(error)}). Check the name and that "
            "you may read the file."
        ) from None
    if not data:
        raise PhotoError(f"{path.name}: the file is empty. {RETAKE}")
    return data


def _open(data: bytes, name: str) -> Image.Image:
    _know_heic()
    try:
        return Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError:
        raise PhotoError(_too_large(name, "far more")) from None
    except UnidentifiedImageError:
        raise PhotoError(
            f"{name}: this is not a JPEG, PNG or HEIC picture, or its beginning is damaged. "
            "Take the photo as JPEG or HEIC and name that file."
        ) from None
    except MALFORMED as error:
        raise PhotoError(_damaged(name, error)) from None


@cache
def _know_heic() -> None:
    pi_heif.register_heif_opener()


def _refuse_unfit(image: Image.Image, name: str) -> None:
    width, height = image.size
    if width * height > LIMIT_PX:
        raise PhotoError(_too_large(name, f"{width} × {height} px, more"))
    # Phones store depth maps and previews as further pictures in JPEG and HEIC files.
    if image.format == "PNG" and getattr(image, "is_animated", False):
        raise PhotoError(f"{name}: this is an animation. Name a single still photo.")


def _decode(image: Image.Image, name: str) -> None:
    try:
        image.load()
    except (*MALFORMED, Image.DecompressionBombError) as error:
        raise PhotoError(_damaged(name, error)) from None


def _upright(image: Image.Image, orientation: int) -> Pixels:
    """(H, W, 3) upright; copied strip by strip, so that only one more copy is held."""
    width, height = image.size
    shape = (width, height) if orientation >= 5 else (height, width)
    pixels = np.empty((*shape, 3), np.uint8)
    stored = _as_stored(pixels, orientation)
    for top in range(0, height, STRIP_ROWS):
        bottom = min(top + STRIP_ROWS, height)
        stored[top:bottom] = _rgb(image.crop((0, top, width, bottom)))
    return pixels


def _as_stored(upright: Pixels, orientation: int) -> Pixels:
    """The upright picture seen in the order of the file: a view, nothing is copied."""
    turned = upright.swapaxes(0, 1) if orientation >= 5 else upright
    flip_rows = orientation in (3, 4, 6, 7)
    flip_columns = orientation in (2, 3, 7, 8)
    rows, columns = (slice(None, None, -1 if flip else 1) for flip in (flip_rows, flip_columns))
    return turned[rows, columns]


def _rgb(strip: Image.Image) -> Pixels:
    """(h, w, 3) uint8 from a strip of any mode; transparency lies on white."""
    if strip.mode.startswith("I") or strip.mode == "F":
        grey = np.clip(np.asarray(strip).astype(np.int64) >> 8, 0, 255).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if strip.has_transparency_data:
        rgba = strip.convert("RGBA")
        white = Image.new("RGBA", strip.size, "white")
        strip = Image.alpha_composite(white, rgba)
    return np.asarray(strip.convert("RGB"))


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
