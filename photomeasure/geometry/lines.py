"""Which straight line fits these points, and where do lines meet?

A line is a point on it and a unit direction. The fit is total least squares: distances are
taken at right angles to the line, so it does not matter how the line lies in the frame.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

_PARALLEL = 1e-9


def fit_line(points_mm: Array, weights: Array | None = None) -> tuple[Array, Array]:
    """Total least-squares line.

    points_mm : (N, D), N ≥ 2. weights : (N,) of the squared distances, or None for equal.
    Returns the weighted mean (D,) and a unit direction (D,) that runs with the order of
    the points.

    Raises GeometryError for fewer than two points apart and for a round cloud.
    """
    points = np.asarray(points_mm, float)
    if len(points) < 2:
        raise GeometryError(f"{len(points)} points were given; a line needs 2. Add points.")
    shares = np.ones(len(points)) if weights is None else np.asarray(weights, float)
    total = float(np.sum(shares))
    if not total > 0:
        raise GeometryError("No point of this line carries weight. Add points.")
    centre = shares @ points / total
    centred = np.sqrt(shares / total)[:, None] * (points - centre)
    _, widths, axes = np.linalg.svd(centred, full_matrices=False)
    _refuse_cloud(widths, len(points))
    along = (points - centre) @ axes[0]
    backwards = float(np.dot(np.arange(len(points)) - (len(points) - 1) / 2, along)) < 0
    return centre, -axes[0] if backwards else axes[0]


def line_intersection(
    point_a: Array, direction_a: Array, point_b: Array, direction_b: Array
) -> Array:
    """(2,) where two lines of a plane meet; directions need not be unit.

    Raises GeometryError for parallel lines.
    """
    cross = float(direction_a[0] * direction_b[1] - direction_a[1] * direction_b[0])
    sizes = float(np.hypot(*direction_a) * np.hypot(*direction_b))
    if abs(cross) <= _PARALLEL * sizes:
        raise GeometryError("The two lines are parallel and never meet. Choose another edge.")
    offset = np.asarray(point_b, float) - point_a
    along = (offset[0] * direction_b[1] - offset[1] * direction_b[0]) / cross
    return np.asarray(point_a + along * np.asarray(direction_a, float))


def project_on_line(points_mm: Array, point: Array, direction: Array) -> Array:
    """(N, D) feet of the perpendiculars from (N, D) points; direction (D,) of any length."""
    length = float(np.linalg.norm(direction))
    if length == 0:
        raise GeometryError("A line of no direction was given. Move its points apart.")
    unit = np.asarray(direction, float) / length
    along = (np.asarray(points_mm, float) - point) @ unit
    return point + along[:, None] * unit


def _refuse_cloud(widths: Array, count: int) -> None:
    if widths[0] == 0:
        raise GeometryError(f"All {count} points coincide; a line needs two apart. Move them.")
    if len(widths) > 1 and widths[1] > (1 - 1e-9) * widths[0]:
        raise GeometryError(
            f"The {count} points spread as far across as along; no line fits. Move the points."
        )
