"""What does a phone make of the light that reaches its sensor?

Blur, noise, exposure, tone curve, sharpening and rounding in the order of a camera's
pipeline, then JPEG with the facts a phone writes into it.
"""

from __future__ import annotations

import io
from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from photomeasure.synthetic.scene import Phone
from photomeasure.synthetic.wear import disc_kernel, path_kernel

Picture = NDArray[np.float32]
Pixels = NDArray[np.uint8]
Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]

_LEVELS = 1 << 14

# What must be done to an upright picture so that its EXIF orientation turns it back.
_STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def _srgb(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """IEC 61966-2-1."""
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055)


def _contrast(strength: float) -> Curve:
    """sRGB, then a film-like S round the middle that keeps black and white."""

    def curve(x: NDArray[np.float64]) -> NDArray[np.float64]:
        y = _srgb(x)
        return (1 - strength) * y + strength * y * y * (3 - 2 * y)

    return curve


def _lifted(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """sRGB with shadows raised and black slightly off zero."""
    y = _srgb(x)
    return 0.02 + 0.98 * (y + 0.35 * y * (1 - y) ** 3)


TONES: dict[str, Curve] = {
    "srgb": _srgb,
    "gamma22": lambda x: np.asarray(x ** (1 / 2.2)),
    "film-soft": _contrast(0.35),
    "film-strong": _contrast(0.8),
    "lifted": _lifted,
}


def code(radiance: Picture, tone_curve: str) -> Picture:
    """Linear light as a share of white (any shape) to coded values 0–1, clipped."""
    levels = np.linspace(0.0, 1.0, _LEVELS)
    table = TONES[tone_curve](levels).astype(np.float32)
    index = np.clip(radiance * (_LEVELS - 1) + 0.5, 0, _LEVELS - 1).astype(np.uint16)
    return np.asarray(table[index])


def develop(radiance: Picture, phone: Phone, seed: int = 0) -> Pixels:
    """(H, W) or (H, W, 3) linear radiance to (H, W, 3) uint8 RGB, upright."""
    light = radiance * np.float32(phone.exposure)
    light = _blurred(light, phone)
    coded = code(_noisy(light, phone, seed), phone.tone_curve)
    if phone.smoothing:
        smeared = cv2.bilateralFilter(coded, 7, 4 * phone.noise, phone.smoothing)
        coded = np.asarray(smeared, np.float32)
    if phone.sharpening:
        soft = cv2.GaussianBlur(coded, (0, 0), phone.sharpening_radius_px)
        coded += np.float32(phone.sharpening) * (coded - soft)
    pixels = np.clip(coded * 255 + 0.5, 0, 255).astype(np.uint8)
    return pixels if pixels.ndim == 3 else np.repeat(pixels[:, :, None], 3, axis=2)


def _blurred(light: Picture, phone: Phone) -> Picture:
    """What lens, focus and a hand that moves make of the light, in this order."""
    if phone.blur_px:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), phone.blur_px), np.float32)
    if phone.defocus_px:
        light = np.asarray(cv2.filter2D(light, -1, disc_kernel(phone.defocus_px)), np.float32)
    if phone.shake_px:
        light = np.asarray(cv2.filter2D(light, -1, path_kernel(phone.shake_px)), np.float32)
    return light


def resample(pixels: Pixels, size_px: tuple[int, int]) -> Pixels:
    """The picture brought to another size as a phone does it; centres stay where they were."""
    smaller = size_px[0] < pixels.shape[1]
    way = cv2.INTER_AREA if smaller else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(pixels, size_px, interpolation=way), np.uint8)


def _noisy(light: Picture, phone: Phone, seed: int) -> Picture:
    """Noise whose variance at white is noise², of which shot_share grows with the light."""
    if not phone.noise:
        return light
    rng = np.random.default_rng([seed, 1])
    variance = (1 - phone.shot_share) + phone.shot_share * np.maximum(light, 0)
    grain = rng.standard_normal(light.shape, dtype=np.float32)
    return np.asarray(light + phone.noise * np.sqrt(variance) * grain, np.float32)


def jpeg(pixels: Pixels, phone: Phone) -> bytes:
    """The upright picture as a JPEG file, stored and marked in the phone's orientation."""
    image = Image.fromarray(pixels)
    turn = _STORED[phone.orientation]
    stored = image if turn is None else image.transpose(turn)
    out = io.BytesIO()
    facts = {"exif": _exif(phone)} if phone.make or phone.model else {}
    stored.save(out, "JPEG", quality=phone.jpeg_quality, **facts)
    return out.getvalue()


def _exif(phone: Phone) -> Image.Exif:
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = phone.make
    exif[ExifTags.Base.Model] = phone.model
    exif[ExifTags.Base.Orientation] = phone.orientation
    details = exif.get_ifd(ExifTags.IFD.Exif)
    if phone.focal_length_mm is not None:
        details[ExifTags.Base.FocalLength] = phone.focal_length_mm
    if phone.focal_length_35mm is not None:
        details[ExifTags.Base.FocalLengthIn35mmFilm] = phone.focal_length_35mm
    if phone.resampled > 1:
        details[ExifTags.Base.DigitalZoomRatio] = phone.resampled
    return exif
