"""Which circle fits these points best, and how well is it known?

The geometric fit minimises the squared distances at right angles to the circle (Gander,
Golub and Strebel 1994); algebraic fits are biased on short arcs and serve only as a start.
Collinear points are refused: they define no circle.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

_MAX_STEPS = 100
_CONVERGED = 1e-12
_FLATTEST = 100.0
"""A radius beyond this many times the extent of the points counts as a straight line."""


def fit_circle(points_mm: Array, weights: Array | None = None) -> tuple[Array, float]:
    """Geometric least-squares circle through points.

    points_mm : (N, 2), N ≥ 3. weights : (N,) of the squared distances, or None for equal.
    Returns the centre (2,) and the radius, in the unit of the points.

    Raises GeometryError for fewer than three points and for points on a straight line.
    """
    reduced, shares, origin, scale = _reduce(points_mm, weights)
    centre = _refine(reduced, shares, _taubin(reduced, shares))
    radius = float(shares @ _distances(reduced, centre))
    if radius > _FLATTEST * float(np.max(np.ptp(reduced, axis=0))):
        raise _straight(reduced, scale)
    return origin + scale * centre, scale * radius


def fit_circle_covariance(
    points_mm: Array, centre: Array, radius: float, u: float | Array
) -> Array:
    """(3, 3) covariance of (x, y, radius) of an unweighted fit to independent points.

    points_mm : (N, 2). u : standard uncertainty across the circle of one point, a number or
    (N,). The first-order sandwich (JᵀJ)⁻¹ Jᵀ diag(u²) J (JᵀJ)⁻¹ with J = −[cos φ, sin φ, 1].

    Raises GeometryError where the points leave the circle undetermined.
    """
    offsets = np.asarray(points_mm, float) - centre
    lengths = np.hypot(offsets[:, 0], offsets[:, 1])
    if radius <= 0 or np.any(lengths == 0):
        raise GeometryError("A circle of no size has no uncertainty. Move the points.")
    jacobian = -np.column_stack([offsets / lengths[:, None], np.ones(len(offsets))])
    normal = jacobian.T @ jacobian
    if len(offsets) < 3 or np.linalg.cond(normal) > 1e13:
        raise GeometryError(
            f"{len(offsets)} points over {arc_seen_deg(points_mm, centre):.1f}° do not fix a "
            "circle. Add points further round."
        )
    gain = np.linalg.solve(normal, jacobian.T)
    spread = np.broadcast_to(np.asarray(u, float), (len(offsets),))
    return np.asarray((gain * spread**2) @ gain.T)


def arc_seen_deg(points_mm: Array, centre: Array) -> float:
    """How much of the circle the points cover: 360° less the widest gap between them.

    A widest gap of no more than twice the median one is the spacing of the points and not
    a hole in the arc, so evenly spread points cover 360°.
    """
    offsets = np.asarray(points_mm, float) - centre
    angles = np.sort(np.degrees(np.arctan2(offsets[:, 1], offsets[:, 0])))
    gaps = np.diff(np.append(angles, angles[0] + 360.0))
    widest = float(np.max(gaps))
    return 360.0 if widest <= 2 * float(np.median(gaps)) else 360.0 - widest


def _reduce(points_mm: Array, weights: Array | None) -> tuple[Array, Array, Array, float]:
    """Points with mean zero and rms distance 1, their shares, and the origin and scale."""
    points = np.asarray(points_mm, float)
    shares = _shares(points, weights)
    origin = shares @ points
    scale = float(np.sqrt(shares @ np.sum((points - origin) ** 2, axis=1)))
    if scale == 0:
        raise GeometryError(
            f"All {len(points)} points coincide; a circle needs three apart. Move the points."
        )
    reduced = (points - origin) / scale
    widths = np.linalg.svd(reduced, compute_uv=False)
    if widths[1] <= 1e-9 * widths[0]:
        raise _straight(reduced, scale)
    return reduced, shares, origin, scale


def _shares(points: Array, weights: Array | None) -> Array:
    """(N,) non-negative weights that sum to one, after counting the points."""
    count = len(points)
    if count < 3:
        raise GeometryError(f"{count} points were given; a circle needs at least 3. Add points.")
    if not np.all(np.isfinite(points)):
        raise GeometryError("A point of this circle is not a finite number. Move or remove it.")
    if weights is None:
        return np.full(count, 1.0 / count)
    used = int(np.count_nonzero(weights > 0))
    if used < 3:
        raise GeometryError(
            f"{used} of {count} points carry weight; a circle needs at least 3. Add points."
        )
    return np.asarray(weights, float) / float(np.sum(weights))


def _straight(points: Array, scale: float) -> GeometryError:
    centred = points - points.mean(axis=0)
    along, across = np.ptp(centred @ np.linalg.svd(centred, full_matrices=False)[2].T, axis=0)
    return GeometryError(
        f"The {len(points)} points lie on a straight line to within {across * scale:.2g} mm over "
        f"{along * scale:.1f} mm; a circle needs a bend. Add or move points."
    )


def _taubin(points: Array, shares: Array) -> Array:
    """(2,) centre by Taubin's method, from the SVD of the weighted, centred design."""
    squares = np.sum(points**2, axis=1)
    mean_square = float(shares @ squares)
    design = np.column_stack([(squares - mean_square) / (2 * np.sqrt(mean_square)), points])
    a, b, c = np.linalg.svd(np.sqrt(shares)[:, None] * design, full_matrices=False)[2][2]
    if abs(a) < 1e-12:
        a = 1e-12
    return np.asarray(np.array([b, c]) * (-np.sqrt(mean_square) / a))


def _distances(points: Array, centre: Array) -> Array:
    offsets = points - centre
    return np.hypot(offsets[:, 0], offsets[:, 1])


def _refine(points: Array, shares: Array, centre: Array) -> Array:
    """(2,) centre of the geometric fit by Levenberg–Marquardt.

    The best radius for a centre is the mean distance, so only the centre is searched.
    """
    damping = 1e-6
    cost, gradient, normal = _linearise(points, shares, centre)
    for _ in range(_MAX_STEPS):
        damped = normal + damping * (np.trace(normal) + 1e-30) * np.eye(2)
        step = -np.linalg.solve(damped, gradient)
        trial = _linearise(points, shares, centre + step)
        if trial[0] <= cost:
            centre, damping = centre + step, damping / 10
            cost, gradient, normal = trial
        else:
            damping *= 10
        if float(np.hypot(*step)) <= _CONVERGED * (1 + float(np.hypot(*centre))):
            break
    return centre


def _linearise(points: Array, shares: Array, centre: Array) -> tuple[float, Array, Array]:
    """Cost, gradient (2,) and normal matrix (2, 2) of the distances less their mean."""
    offsets = points - centre
    lengths = np.hypot(offsets[:, 0], offsets[:, 1])
    residuals = lengths - shares @ lengths
    slopes = -offsets / np.maximum(lengths, 1e-300)[:, None]
    slopes = slopes - shares @ slopes
    weighted = slopes * shares[:, None]
    return float(shares @ residuals**2), weighted.T @ residuals, weighted.T @ slopes
