"""Where does a rendered lens put a sight line in the picture, and the way back?

OpenCV's full model: rational radial k1–k6, decentring p1 and p2, thin prism s1–s4. It holds
more terms than the estimator fits, on purpose.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

_STEPS = 30
_CONVERGED = 1e-12
_GRID_PX = 16


@dataclass(frozen=True)
class Lens:
    """A lens with square pixels in front of a sensor of `size_px` (width, height), upright.

    f_px, cx, cy in px (pixel centres are integers); k1–k6, p1, p2, s1–s4 as OpenCV's
    distortion of normalised coordinates. `vignetting` is the share of light lost at the
    corner of the picture, growing with the square of the distance from the middle.
    """

    f_px: float
    cx: float
    cy: float
    size_px: tuple[int, int] = (4032, 3024)
    k1: float = 0.0
    k2: float = 0.0
    k3: float = 0.0
    k4: float = 0.0
    k5: float = 0.0
    k6: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    s1: float = 0.0
    s2: float = 0.0
    s3: float = 0.0
    s4: float = 0.0
    vignetting: float = 0.0

    def pixels_from_normal(self, normal: Array) -> Array:
        """(N, 2) undistorted normalised coordinates to (N, 2) px."""
        return np.asarray(distort(normal, self) * self.f_px + np.array([self.cx, self.cy]))

    def normal_from_pixels(self, points_px: Array) -> Array:
        """(N, 2) px to (N, 2) undistorted normalised coordinates.

        Raises GeometryError where the model folds back on itself.
        """
        return undistort((points_px - np.array([self.cx, self.cy])) / self.f_px, self)


def distort(normal: Array, lens: Lens) -> Array:
    """(N, 2) undistorted to distorted normalised coordinates (OpenCV's calib3d formulas)."""
    x, y = normal[:, 0], normal[:, 1]
    r2 = x * x + y * y
    radial = _polynomial(r2, lens.k1, lens.k2, lens.k3) / _polynomial(
        r2, lens.k4, lens.k5, lens.k6
    )
    prism_x, prism_y = r2 * (lens.s1 + lens.s2 * r2), r2 * (lens.s3 + lens.s4 * r2)
    return np.column_stack(
        [
            x * radial + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x * x) + prism_x,
            y * radial + lens.p1 * (r2 + 2 * y * y) + 2 * lens.p2 * x * y + prism_y,
        ]
    )


def undistort(distorted: Array, lens: Lens) -> Array:
    """(N, 2) distorted to undistorted normalised coordinates by Newton's method.

    Raises GeometryError where the model folds back on itself.
    """
    normal = distorted.copy()
    for _ in range(_STEPS):
        error = distort(normal, lens) - distorted
        step = _solve(_jacobian(normal, lens), error)
        normal = normal - step
        if np.max(np.abs(step), initial=0.0) < _CONVERGED:
            break
    if np.max(np.abs(step), initial=0.0) < _CONVERGED and not _folded(normal, distorted, lens):
        return normal
    raise GeometryError(
        "The rendered lens folds back inside the picture. Give it less distortion."
    )


def _folded(normal: Array, distorted: Array, lens: Lens) -> bool:
    """Whether a solution lies beyond the radius at which the lens turns back."""
    m = _jacobian(normal, lens)
    mirrored = m[:, 0, 0] * m[:, 1, 1] <= m[:, 0, 1] * m[:, 1, 0]
    opposite = np.sum(normal * distorted, axis=1) < -_CONVERGED
    return bool(np.any(mirrored | opposite))


def normal_map(lens: Lens, region: tuple[int, int, int, int]) -> NDArray[np.float32]:
    """(H, W, 2) undistorted coordinates of every pixel of a region x0, y0, x1, y1.

    Exact on a grid of 16 px, bicubic between: error under 0.001 px for a phone's lens.
    """
    x0, y0, x1, y1 = region
    columns = np.arange(x0 - 2 * _GRID_PX, x1 + 3 * _GRID_PX, _GRID_PX, dtype=float)
    rows = np.arange(y0 - 2 * _GRID_PX, y1 + 3 * _GRID_PX, _GRID_PX, dtype=float)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1)
    exact = lens.normal_from_pixels(grid.reshape(-1, 2)).reshape(grid.shape)
    return upsample(exact.astype(np.float32), _GRID_PX, (2, 2), (x1 - x0, y1 - y0))


def upsample(
    grid: NDArray[np.float32], step: int, start: tuple[int, int], size: tuple[int, int]
) -> NDArray[np.float32]:
    """Smooth values on a coarse grid to every pixel, bicubic.

    grid : (h, w) or (h, w, C); its node `start` (column, row) is the first pixel of the
    result of `size` (width, height) and neighbouring nodes are `step` px apart.
    """
    across = _cubic_weights(step, start[0], size[0], grid.shape[1])
    down = _cubic_weights(step, start[1], size[1], grid.shape[0])
    layers = np.atleast_3d(grid)
    out = np.stack([down @ layers[..., k] @ across.T for k in range(layers.shape[2])], axis=-1)
    return np.asarray(out.reshape(size[1], size[0], *grid.shape[2:]), np.float32)


def _cubic_weights(step: int, start: int, size: int, nodes: int) -> NDArray[np.float32]:
    """(size, nodes) weights of Keys' cubic with a = −1/2, which keeps parabolas exact.

    OpenCV's own cubic (a = −3/4) does not even keep a straight line.
    """
    at = start + np.arange(size) / step
    away = np.abs(at[:, None] - np.arange(nodes))
    near = (1.5 * away - 2.5) * away**2 + 1
    far = ((2.5 - 0.5 * away) * away - 4) * away + 2
    return np.where(away <= 1, near, np.where(away < 2, far, 0.0)).astype(np.float32)


def _polynomial(r2: Array, a: float, b: float, c: float) -> Array:
    return 1 + r2 * (a + r2 * (b + r2 * c))


def _jacobian(normal: Array, lens: Lens, h: float = 1e-6) -> Array:
    """(N, 2, 2) derivative of the distorted by the undistorted coordinates."""
    columns = [
        (distort(normal + d, lens) - distort(normal - d, lens)) / (2 * h)
        for d in np.array([[h, 0.0], [0.0, h]])
    ]
    return np.stack(columns, axis=-1)


def _solve(matrix: Array, right: Array) -> Array:
    """(N, 2) solutions of N systems of two equations."""
    a, b, c, d = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 0], matrix[:, 1, 1]
    u, v = right[:, 0], right[:, 1]
    return np.column_stack([d * u - b * v, a * v - c * u]) / (a * d - b * c)[:, None]
