"""What of a face found by its edges does not look like the rest of it?

A shadow or a wall nearly as light as the face is reached without crossing a clear edge. Seen
over half a millimetre it still differs from the face, whose own light changes only slowly.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from photomeasure.vision.outline_masks import dilated, eroded, opened

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_BLUR_PX = 2.0
_DEEP_PX = 4
_SIGMAS, _FAINTEST = 3.5, 0.012  # of the square root of full light
_STRONG_SIGMAS, _STRONG = 8.0, 0.05
_POCKET_PX, _ALIKE = 8, 2.0
_ROUNDS = 6
_MOST_POINTS = 20_000
_THIN_PX, _AREA_PX = 2, 20
_BESIDE_PX = 6
_SLIVER_PX = 5  # 1.25 mm: a penumbra's middle is as light as the face over less


def with_alike(face: Mask, light: NDArray[np.float32]) -> Mask:
    """The face (H, W) with the pockets and islands that look like it: texture, no edge, divides
    them from it."""
    size = 2 * _POCKET_PX + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = np.pad(face.astype(np.uint8), size)
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, disc)[size:-size, size:-size]
    around = ndimage.binary_fill_holes(face) | (closed > 0)
    labels, count = ndimage.label(around & ~face)
    off, usual = _unlikeness(face, light)
    if count == 0 or usual is None:
        return face
    numbers = np.arange(1, count + 1)
    beyond = labels > 0
    typical = ndimage.median(np.abs(off[beyond]), labels[beyond], numbers)
    alike = typical < max(_ALIKE * usual, _FAINTEST)
    return np.asarray(face | np.concatenate([[False], alike])[labels])


def _unlikeness(face: Mask, light: NDArray[np.float32]) -> tuple[Array, float | None]:
    """(H, W) by how much light seen over half a millimetre differs from the face's slow changes;
    its usual size deep in the face, None where the face is nowhere deep."""
    blurred = np.asarray(cv2.GaussianBlur(light, (0, 0), _BLUR_PX), np.float32)
    off = blurred - _slow(blurred, face)
    deep = eroded(face, _DEEP_PX)
    return off, 1.4826 * float(np.median(np.abs(off[deep]))) if deep.any() else None


def without_unlike(face: Mask, light: NDArray[np.float32]) -> Mask:
    """The face (H, W) less what hangs on its borders and is lighter or darker than its own
    slow changes of light (H, W, square root of linear light) make it."""
    off, usual = _unlikeness(face, light)
    if usual is None:
        return face
    unlike = face & (np.abs(off) > max(_SIGMAS * usual, _FAINTEST))
    unlike = opened(unlike, _THIN_PX)
    labels, count = ndimage.label(unlike)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    border = dilated(~face, _BESIDE_PX)
    gone = np.zeros(count + 1, bool)
    gone[np.unique(labels[border])] = True
    # What stands out clearly is no stain of the face but a hole that leaked.
    strong = max(_STRONG_SIGMAS * usual, _STRONG)
    gone[np.unique(labels[(labels > 0) & (np.abs(off) > strong)])] = True
    gone &= sizes > _AREA_PX
    gone[0] = False
    left = opened(face & ~gone[labels], _SLIVER_PX)
    return _largest(left)


def _largest(mask: Mask) -> Mask:
    labels, count = ndimage.label(mask)
    if count < 2:
        return np.asarray(mask)
    return np.asarray(labels == 1 + int(np.bincount(labels.ravel())[1:].argmax()))


def _slow(light: NDArray[np.float32], face: Mask) -> Array:
    """(H, W) the face's light as a polynomial of the second degree in x and y."""
    rows, columns = np.nonzero(face)
    step = max(1, len(rows) // _MOST_POINTS)
    rows, columns = rows[::step], columns[::step]
    values = light[rows, columns].astype(float)
    terms = _terms(rows / face.shape[0], columns / face.shape[1])
    kept = np.ones(len(values), bool)
    for _ in range(_ROUNDS):
        factors = np.linalg.lstsq(terms[kept], values[kept], rcond=None)[0]
        off = np.abs(values - terms @ factors)
        kept = off <= max(2.5 * 1.4826 * float(np.median(off)), 1e-6)
    y = np.arange(face.shape[0])[:, None] / face.shape[0]
    x = np.arange(face.shape[1])[None, :] / face.shape[1]
    return np.asarray(sum(f * t for f, t in zip(factors, _powers(y, x), strict=True)))


def _terms(y: Array, x: Array) -> Array:
    return np.column_stack(_powers(y, x))


def _powers(y: Array, x: Array) -> list[Array]:
    return [np.ones_like(y * x), y + 0 * x, x + 0 * y, y * y + 0 * x, x * y, x * x + 0 * y]
