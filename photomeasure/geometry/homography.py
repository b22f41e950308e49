"""Which projective mapping carries one plane's points to another's?

Normalised direct linear transform (Hartley 1997), then Gauss–Newton on the distances in the
destination. It knows no lens: distortion must be gone before.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

_STEPS = 20
_CONVERGED = 1e-12


def estimate_homography(src: Array, dst: Array, weights: Array | None = None) -> Array:
    """H_dst_src that minimises Σ w |dst − H src|².

    src, dst : (N, 2), N ≥ 4, any units. weights : (N,) or None for equal.
    Returns (3, 3) with H[2, 2] = 1.

    Raises GeometryError for fewer than four points and for points that lie on lines.
    """
    src, dst = np.asarray(src, float), np.asarray(dst, float)
    if len(src) != len(dst):
        raise ValueError(f"{len(src)} points cannot pair with {len(dst)}.")
    if len(src) < 4:
        raise GeometryError(f"{len(src)} points were given; a homography needs 4. Add points.")
    roots = np.ones(len(src)) if weights is None else np.sqrt(np.asarray(weights, float))
    to_src, to_dst = _normaliser(src), _normaliser(dst)
    a, b = apply_homography(to_src, src), apply_homography(to_dst, dst)
    reduced = _refine(_direct(a, b, roots), a, b, roots)
    full = np.linalg.inv(to_dst) @ reduced @ to_src
    return np.asarray(full / full[2, 2])


def apply_homography(homography: Array, points: Array) -> Array:
    """(N, 2) points through a (3, 3) homography.

    Raises GeometryError for a point that maps to infinity.
    """
    points = np.asarray(points, float)
    mapped = points @ homography[:, :2].T + homography[:, 2]
    if np.any(np.abs(mapped[:, 2]) < 1e-300):
        raise GeometryError("A point maps to infinity. Move it away from the horizon.")
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def _normaliser(points: Array) -> Array:
    """(3, 3) that shifts points to mean zero and mean square distance 2."""
    centre = points.mean(axis=0)
    size = float(np.sqrt(np.mean(np.sum((points - centre) ** 2, axis=1)) / 2))
    if not size > 0:
        raise GeometryError("All points coincide; a homography needs them apart. Move them.")
    return np.array(
        [[1 / size, 0, -centre[0] / size], [0, 1 / size, -centre[1] / size], [0, 0, 1]]
    )


def _direct(src: Array, dst: Array, roots: Array) -> Array:
    one = np.column_stack([src, np.ones(len(src))])
    zero = np.zeros_like(one)
    rows = np.vstack(
        [
            np.hstack([one, zero, -dst[:, :1] * one]) * roots[:, None],
            np.hstack([zero, one, -dst[:, 1:] * one]) * roots[:, None],
        ]
    )
    if len(rows) > 9:
        # The same singular values, and no large matrix of them.
        rows = np.asarray(np.linalg.qr(rows, mode="r"))
    _, sizes, axes = np.linalg.svd(rows)
    if sizes[7] < 1e-9 * sizes[0]:
        raise GeometryError(
            f"The {len(src)} points leave the mapping open: too many lie on one line. Add points."
        )
    homography = axes[8].reshape(3, 3)
    if abs(homography[2, 2]) < 1e-9:
        raise GeometryError("The middle of the points lies on the horizon. Choose other points.")
    return np.asarray(homography / homography[2, 2])


def _refine(homography: Array, src: Array, dst: Array, roots: Array) -> Array:
    """Gauss–Newton on the eight free entries, H[2, 2] held at 1."""
    one = np.column_stack([src, np.ones(len(src))])
    zero = np.zeros_like(one)
    for _ in range(_STEPS):
        mapped = one @ homography.T
        depth = mapped[:, 2:]
        xy = mapped[:, :2] / depth
        per = one / depth
        jacobian = np.vstack(
            [
                np.hstack([per, zero, -xy[:, :1] * per[:, :2]]) * roots[:, None],
                np.hstack([zero, per, -xy[:, 1:] * per[:, :2]]) * roots[:, None],
            ]
        )
        residuals = (roots[:, None] * (dst - xy)).T.ravel()
        step = np.linalg.lstsq(jacobian, residuals, rcond=None)[0]
        homography = homography + np.append(step, 0.0).reshape(3, 3)
        if float(np.max(np.abs(step))) < _CONVERGED:
            break
    return homography
