"""How hard was a JPEG compressed, and was it compressed more than once?

The quantisation table says how hard the last time. A first, coarser compression leaves its
own comb in the coefficients: some multiples of the last step hardly occur.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import dctn

from photomeasure.geometry.orientation import as_stored
from photomeasure.records.photo import Photo

Array = NDArray[np.float64]

# ITU-T T.81 (1992), Annex K, Table K.1: the luminance steps that quality 50 stands for.
# fmt: off
ANNEX_K_LUMA = (
    16, 11, 10, 16, 24, 40, 51, 61,
    12, 12, 14, 19, 26, 58, 60, 55,
    14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62,
    18, 22, 37, 56, 68, 109, 103, 77,
    24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101,
    72, 92, 95, 98, 112, 100, 103, 99,
)
# fmt: on

_BLOCKS = 4000
_LOW = ((0, 1), (1, 0), (1, 1), (0, 2), (2, 0), (1, 2), (2, 1))  # rows, columns of a block
_LEAST_STEP = 2  # a step of one hides in the rounding of the pixels
_REACH = 24  # multiples of the step that are counted
_LEAST_COUNT = 20.0
_COMB = 6.0  # squares of counts about their neighbours, in their variance; 1 is chance


def quality_of(luma_steps: tuple[int, ...]) -> int:
    """The quality 1 to 100 of the common scale whose table is nearest."""
    tables = _tables()
    away = np.abs(np.log(tables) - np.log(np.maximum(luma_steps, 1))).sum(axis=1)
    return int(np.argmin(away)) + 1


@cache
def _tables() -> Array:
    """(100, 64) steps by quality, as the Independent JPEG Group's library scales Annex K."""
    quality = np.arange(1, 101)[:, None]
    scale = np.where(quality < 50, 5000 // quality, 200 - 2 * quality)
    return np.asarray(np.clip((np.array(ANNEX_K_LUMA) * scale + 50) // 100, 1, 255), float)


def compressed_twice(photo: Photo) -> bool:
    """Whether the coefficients of a JPEG show the comb of an earlier, coarser compression."""
    if len(photo.file.luma_steps) != 64:
        return False
    steps = np.array(photo.file.luma_steps).reshape(8, 8)
    coefficients = _coefficients(as_stored(photo.pixels, photo.exif.orientation))
    combs = [
        _comb(coefficients[:, row, column] / steps[row, column])
        for row, column in _LOW
        if steps[row, column] >= _LEAST_STEP
    ]
    told = [c for c in combs if c is not None]
    return len(told) > 0 and float(np.median(told)) > _COMB


def _coefficients(stored: NDArray[np.uint8]) -> Array:
    """(N, 8, 8) of blocks spread over the picture, the liveliest of them."""
    rows, columns = stored.shape[0] // 8, stored.shape[1] // 8
    every = max(1, int(np.sqrt(rows * columns / (4 * _BLOCKS))))
    picked = stored[: rows * 8, : columns * 8].reshape(rows, 8, columns, 8, 3)
    blocks = picked[::every, :, ::every].swapaxes(1, 2).reshape(-1, 8, 8, 3)
    luma = blocks @ np.array([0.299, 0.587, 0.114]) - 128.0
    lively = np.argsort(-luma.var(axis=(1, 2)))[:_BLOCKS]
    return np.asarray(dctn(luma[lively], axes=(1, 2), norm="ortho"))


def _comb(multiples: Array) -> float | None:
    """How far the counts of neighbouring multiples differ beyond chance; about 1 if smooth."""
    whole = np.round(multiples).astype(int)
    counts = np.bincount(whole[np.abs(whole) <= _REACH] + _REACH, minlength=2 * _REACH + 1)
    middle = counts[1:-1].astype(float)
    sides = (counts[:-2] + counts[2:]) / 2
    expected = np.maximum(middle, sides)
    use = np.abs(np.arange(1 - _REACH, _REACH)) > 1  # zero is a peak of its own
    use &= expected > _LEAST_COUNT
    if use.sum() < 4:
        return None
    return float(np.median((middle - sides)[use] ** 2 / (1.5 * expected[use])))
