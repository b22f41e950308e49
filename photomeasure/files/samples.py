"""How do the samples of a picture lie in its file, and how do they become 8-bit RGB?

Pillow reads what has 8 bits a channel. What has more is decoded whole, so that a tone curve
is applied before rounding: 10 bits of HEIC by pi_heif, 16 bits of PNG and TIFF and 10 bits of
AVIF by OpenCV, because Pillow drops their lower bits.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from photomeasure.errors import PhotoError
from photomeasure.files.tone_curves import stated_curve, table

Pixels = NDArray[np.uint8]
Deep = NDArray[np.uint16]

STRIP_ROWS = 256
_BITS_PER_SAMPLE, _SAMPLE_FORMAT, _FLOATING = 258, 339, 3
_LINEAR = 0.4  # so much light at half the code (sRGB: 0.21) leaves few codes for shadows

RECODED = (
    "The file states another tone curve than sRGB's; its samples were recoded to sRGB's before "
    "anything was measured."
)
FROM_INK = (
    "The picture is in printing inks (CMYK) and was turned into RGB; its greys are no longer "
    "those of the camera."
)


@dataclass(frozen=True, eq=False)
class Samples:
    """A decoded picture, `turn` being the EXIF orientation still to be applied.

    Either `image` (8 bits) or `deep` ((H, W, 3), up to `white`). codes : (white + 1,) bytes
    for its samples, or None where bytes stay as they are.
    """

    image: Image.Image
    turn: int
    bits: int = 8
    deep: Deep | None = None
    codes: NDArray[np.uint8] | None = None
    notes: tuple[str, ...] = field(default_factory=tuple)

    @property
    def stored_px(self) -> tuple[int, int]:
        """(width, height) as decoded."""
        if self.deep is not None:
            return int(self.deep.shape[1]), int(self.deep.shape[0])
        return self.image.size

    def rows(self, top: int, bottom: int) -> Pixels:
        """(bottom - top, W, 3) as 8-bit RGB."""
        if self.deep is not None:
            assert self.codes is not None  # deep samples always have a table
            return np.asarray(self.codes[self.deep[top:bottom]])
        strip = rgb(self.image.crop((0, top, self.image.width, bottom)))
        return strip if self.codes is None else np.asarray(self.codes[strip])


def decode(image: Image.Image, data: bytes, orientation: int) -> Samples:
    """Decode an opened picture. orientation : what the file asks for.

    Raises whatever the decoders raise, and PhotoError for samples that are no light.
    """
    bits = bits_of(image, data)
    # HEIC and TIFF come upright from their decoders.
    turn = 1 if image.format in ("HEIF", "TIFF") else orientation
    _refuse_floating(image)
    image.load()  # before anything else: it notices a file that is cut short
    if bits > 8:
        deep = _deep(image, data)
        if deep is not None:
            return _deep_samples(image, deep, turn, bits)
    return _plain_samples(image, turn, bits)


def bits_of(image: Image.Image, data: bytes) -> int:
    """Bits of a channel as the file has them."""
    if image.format == "PNG":
        return data[24]  # IHDR's bit depth always stands there
    if image.format == "TIFF":
        return int(max(image.tag_v2.get(_BITS_PER_SAMPLE, (8,))))  # type: ignore[attr-defined]
    if image.format == "HEIF":
        return int(image.info.get("bit_depth", 8))
    if image.format == "AVIF":
        return _avif_bits(data)
    return 8


def _avif_bits(data: bytes) -> int:
    """From the AV1 configuration box: high_bitdepth and twelve_bit (AV1-ISOBMFF 2.3)."""
    at = data.find(b"av1C")
    if at < 0 or at + 6 >= len(data) or not data[at + 6] & 0x40:
        return 8
    return 12 if data[at + 6] & 0x20 else 10


def _refuse_floating(image: Image.Image) -> None:
    floating = image.format == "TIFF" and _FLOATING in np.atleast_1d(
        image.tag_v2.get(_SAMPLE_FORMAT, 1)  # type: ignore[attr-defined]
    )
    if image.mode == "F" or floating:
        raise PhotoError("its samples are floating-point numbers. Save it with 16 bits a channel.")
    if image.mode == "LAB":
        raise PhotoError("its colours are Lab numbers. Save it as RGB.")


def _deep(image: Image.Image, data: bytes) -> Deep | None:
    """(H, W) or (H, W, C) in the order RGB(A); None where only 8 bits can be had."""
    if image.format == "HEIF":
        import pi_heif  # noqa: PLC0415  slow to import, and few photos are HEIC

        file = pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False)
        return np.asarray(file).astype(np.uint16)
    if image.mode == "CMYK":
        return None
    found = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if found is None or found.dtype != np.uint16:
        return None
    deep = np.asarray(found, np.uint16)
    if deep.ndim == 3:
        deep = deep[:, :, [2, 1, 0, *range(3, deep.shape[2])]]
    return deep


def _deep_samples(image: Image.Image, deep: Deep, turn: int, bits: int) -> Samples:
    white = _white(image, bits)
    curve = stated_curve(image.info.get("icc_profile"), _transfer(image))
    codes = table(curve, white)
    assert codes is not None  # more than 8 bits always need one
    notes = [f"Its {bits} bits a channel were rounded to 8, which is finer than a phone's noise."]
    if curve is not None:
        notes.append(RECODED)
    return Samples(image, turn, bits, three_channels(deep, white), codes, tuple(notes))


def _white(image: Image.Image, bits: int) -> int:
    """The largest sample: pi_heif shifts to the top of 16 bits, AVIF stays at the bottom."""
    if image.format == "HEIF":
        return ((1 << bits) - 1) << (16 - bits)
    return (1 << bits) - 1 if image.format == "AVIF" else 65535


def _transfer(image: Image.Image) -> int | None:
    profile = image.info.get("nclx_profile")
    return profile.get("transfer_characteristics") if isinstance(profile, dict) else None


def three_channels(deep: Deep, white: int) -> Deep:
    """(H, W, 3) from grey, grey with alpha, RGB or RGBA; what is clear lies on white."""
    stacked = deep[:, :, None] if deep.ndim == 2 else deep
    if stacked.shape[2] in (2, 4):
        alpha = stacked[:, :, -1:].astype(np.float32) / white
        colour = stacked[:, :, :-1] * alpha + white * (1 - alpha)
        stacked = np.round(colour).astype(np.uint16)
    return np.asarray(np.repeat(stacked, 3, axis=2) if stacked.shape[2] == 1 else stacked)


def _plain_samples(image: Image.Image, turn: int, bits: int) -> Samples:
    notes = []
    if bits > 8:
        notes.append(f"Of its {bits} bits a channel the upper 8 were read.")
    icc = image.info.get("icc_profile")
    if image.mode == "CMYK":
        return Samples(_from_ink(image, icc), turn, bits, notes=(*notes, FROM_INK))
    curve = stated_curve(icc, _transfer(image))
    if curve is not None:
        notes.append(RECODED)
        if float(curve(np.array([0.5]))[0]) > _LINEAR:
            notes.append("Eight bits of it hold little of the shadows: save it with 16 bits.")
    return Samples(image, turn, bits, codes=table(curve, 255), notes=tuple(notes))


def _from_ink(image: Image.Image, icc: bytes | None) -> Image.Image:
    if not icc:
        return image.convert("RGB")
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        turned = ImageCms.profileToProfile(
            image, profile, ImageCms.createProfile("sRGB"), outputMode="RGB"
        )
    except (ImageCms.PyCMSError, OSError):
        return image.convert("RGB")
    return turned or image.convert("RGB")


def rgb(strip: Image.Image) -> Pixels:
    """(h, w, 3) uint8 from a strip of any mode; transparency lies on white."""
    if strip.mode.startswith("I"):
        grey = np.clip(np.asarray(strip).astype(np.int64) >> 8, 0, 255).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if strip.has_transparency_data:
        rgba = strip.convert("RGBA")
        white = Image.new("RGBA", strip.size, "white")
        strip = Image.alpha_composite(white, rgba)
    return np.asarray(strip if strip.mode == "RGB" else strip.convert("RGB"))
