"""How does a lens look in a picture that was turned or mirrored (EXIF orientation 1–8)?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# upright = TURN[o] @ sensor + offset, for the axes (x right, y down). EXIF 2.32, tag 274.
TURN: dict[int, Array] = {
    1: np.array([[1.0, 0.0], [0.0, 1.0]]),
    2: np.array([[-1.0, 0.0], [0.0, 1.0]]),
    3: np.array([[-1.0, 0.0], [0.0, -1.0]]),
    4: np.array([[1.0, 0.0], [0.0, -1.0]]),
    5: np.array([[0.0, 1.0], [1.0, 0.0]]),
    6: np.array([[0.0, -1.0], [1.0, 0.0]]),
    7: np.array([[0.0, -1.0], [-1.0, 0.0]]),
    8: np.array([[0.0, 1.0], [-1.0, 0.0]]),
}


def turned_size(size_px: tuple[int, int], orientation: int) -> tuple[int, int]:
    """(width, height) after turning; also the way back, as turning swaps or does not."""
    return size_px if orientation <= 4 else (size_px[1], size_px[0])


def as_stored(upright: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """An upright picture (H, W, …) in the order of its file: a view, nothing is copied."""
    turned = upright.swapaxes(0, 1) if orientation >= 5 else upright
    flip_rows = orientation in (3, 4, 6, 7)
    flip_columns = orientation in (2, 3, 7, 8)
    rows, columns = (slice(None, None, -1 if flip else 1) for flip in (flip_rows, flip_columns))
    return turned[rows, columns]


def turned_camera(sensor_size_px: tuple[int, int], orientation: int) -> tuple[Array, Array]:
    """(8, 8) matrix and (8,) offset from sensor to upright camera parameters.

    The principal point turns as a position, the decentring pair (p2, p1) as a vector;
    focal length and radial terms stay.
    """
    turn = TURN[orientation]
    far_corner = np.array(sensor_size_px, float) - 1
    offset_px = np.where((turn < 0).any(axis=1), np.abs(turn) @ far_corner, 0.0)
    matrix = np.eye(8)
    matrix[1:3, 1:3] = turn
    matrix[5:7, 5:7] = turn[::-1, ::-1]  # stored as (p1, p2), turned as (p2, p1)
    offset = np.zeros(8)
    offset[1:3] = offset_px
    return matrix, offset
