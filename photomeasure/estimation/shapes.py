"""Which shape fits located points in millimetres, and how does their noise reach it?

One entry a feature kind: a fit, the covariance of its numbers from noise that is independent
from point to point, and that from a doubt which differs from place to place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.circles import arc_seen_deg, fit_circle, fit_circle_covariance
from photomeasure.geometry.lines import fit_line
from photomeasure.geometry.tubes import fit_tube
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube

Array = NDArray[np.float64]

_CURVE_POINTS = 48
_CORRELATED_ROWS = 2.0  # rows of a band share pixels with their neighbours
_CURVE_ROWS = 10.0  # points of a curve that share one stretch of its smooth line


@dataclass(frozen=True)
class ShapeKind:
    """How one kind of shape comes from points.

    fit : (points (N, 2), extent (E, 2), eye (3,)) → shape; the eye is the camera, its z above
    the plane. noise : (shape, points, u, u_click) → (k, k), with u of one coordinate of a point
    and of a click, all mm. local : (shift (k,)) → (k, k) covariance for a doubt that moves the
    numbers by `shift` where it is the same all along, but differs from place to place.
    outwards : whether what its edge is may be in doubt outwards all round.
    """

    fit: Callable[[Array, Array, Array], Shape]
    noise: Callable[[Shape, Array, float, float], Array]
    local: Callable[[Array], Array]
    outwards: bool = False


def _none(shift: Array) -> Array:
    return np.zeros((len(shift), len(shift)))


def _fit_point(points: Array, extent: Array, eye: Array) -> Shape:
    return Point(points.mean(axis=0))


def _point_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    return np.eye(2) * u**2 / len(points)


def _fit_edge(points: Array, extent: Array, eye: Array) -> Shape:
    """The line through the points, from the first click to the last."""
    centre, direction = fit_line(points)
    along = (extent - centre) @ direction
    return Edge(centre + along[:, None] * direction)


def _edge_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    """At right angles from the line fit, along the edge from the clicks."""
    ends = shape.numbers.reshape(2, 2)
    direction = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    normal = np.array([-direction[1], direction[0]])
    centre = points.mean(axis=0)
    lever = (ends - centre) @ direction
    design = np.column_stack([np.ones(len(points)), (points - centre) @ direction])
    fit = np.linalg.inv(design.T @ design) * u**2 * _CORRELATED_ROWS
    at_ends = np.column_stack([np.ones(2), lever])
    across = at_ends @ fit @ at_ends.T
    covariance = np.kron(across, np.outer(normal, normal))
    return np.asarray(covariance + np.kron(np.eye(2), np.outer(direction, direction)) * u_click**2)


def _edge_local(shift: Array) -> Array:
    """Either end on its own."""
    return _weighted(shift, np.repeat(np.eye(2), 2, axis=1))


def _fit_circle(points: Array, extent: Array, eye: Array) -> Shape:
    centre, radius = fit_circle(points)
    return Circle(centre, radius, arc_seen_deg(points, centre))


def _circle_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    x, y, radius = shape.numbers
    covariance = fit_circle_covariance(points, np.array([x, y]), float(radius), u)
    return np.asarray(covariance * _CORRELATED_ROWS)


def _circle_local(shift: Array) -> Array:
    """Either coordinate of the centre on its own."""
    return np.asarray(np.diag([1.0, 1.0, 0.0]) * shift[2] ** 2)


def _fit_curve(points: Array, extent: Array, eye: Array) -> Shape:
    count = min(len(points), _CURVE_POINTS)
    places = np.linspace(0, len(points) - 1, count)
    rows = np.arange(len(points))
    return Curve(np.column_stack([np.interp(places, rows, c) for c in points.T]))


def _curve_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    """Points of one stretch of the smooth line err together, the less the farther apart."""
    count = len(shape.numbers) // 2
    rows = np.linspace(0, len(points) - 1, count)
    together = np.clip(1 - np.abs(np.subtract.outer(rows, rows)) / _CURVE_ROWS, 0.0, None)
    return np.asarray(np.kron(together, np.eye(2)) * u**2 * _CORRELATED_ROWS / _CURVE_ROWS)


def _curve_local(shift: Array) -> Array:
    """Its two ends and its middle on their own, fading into each other."""
    place = np.linspace(0.0, 2.0, len(shift) // 2)
    hats = np.clip(1 - np.abs(place - np.arange(3)[:, None]), 0.0, None)
    return _weighted(shift, np.repeat(hats, 2, axis=1))


def _weighted(shift: Array, weights: Array) -> Array:
    """(k, k) of a shift (k,) in independent parts with these weights (P, k)."""
    parts = weights * shift
    return np.asarray(parts.T @ parts)


def _fit_tube(points: Array, extent: Array, eye: Array) -> Shape:
    return Tube(*fit_tube(points, extent, eye))


def _tube_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    """At right angles from the line fits of both sides, along the axis from the clicks.

    As seen from straight above; a slanting view makes it a little less.
    """
    ends = shape.numbers[:4].reshape(2, 2)
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    normal = np.array([-along[1], along[0]])
    places = (points - points.mean(axis=0)) @ along
    variance = u**2 * _CORRELATED_ROWS / len(points)
    turn = u**2 * _CORRELATED_ROWS / float(places @ places)
    lever = (ends - points.mean(axis=0)) @ along
    covariance = np.zeros((5, 5))
    across = variance + turn * np.outer(lever, lever)
    covariance[:4, :4] = np.kron(across, np.outer(normal, normal))
    covariance[:4, :4] += np.kron(np.eye(2), np.outer(along, along)) * u_click**2 / 2
    covariance[4, 4] = variance
    return covariance


def _tube_local(shift: Array) -> Array:
    """Either end of either side on its own, by as much as the radius: an end of the axis is
    the mean of two of them, the radius that of four."""
    return np.asarray(np.diag([0.5, 0.5, 0.5, 0.5, 0.25]) * shift[4] ** 2)


def _fit_row(points: Array, extent: Array, eye: Array) -> Shape:
    return Row(points)


def _row_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    return np.eye(len(shape.numbers)) * u**2


SHAPE_KINDS: dict[str, ShapeKind] = {
    "point": ShapeKind(_fit_point, _point_noise, _none),
    "edge": ShapeKind(_fit_edge, _edge_noise, _edge_local),
    "circle": ShapeKind(_fit_circle, _circle_noise, _circle_local, outwards=True),
    "curve": ShapeKind(_fit_curve, _curve_noise, _curve_local),
    "tube": ShapeKind(_fit_tube, _tube_noise, _tube_local, outwards=True),
    "row": ShapeKind(_fit_row, _row_noise, _none),
}
