"""Which shape fits located points in millimetres, and how does their noise reach it?

One entry a feature kind: a fit, and the covariance of its numbers from noise that is
independent from point to point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.circles import arc_seen_deg, fit_circle, fit_circle_covariance
from photomeasure.geometry.lines import fit_line
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Shape

Array = NDArray[np.float64]

_CURVE_POINTS = 48
_CORRELATED_ROWS = 2.0  # rows of a band share pixels with their neighbours
_CURVE_ROWS = 10.0  # points of a curve that share one stretch of its smooth line


@dataclass(frozen=True)
class ShapeKind:
    """fit : (points (N, 2), extent (E, 2)) → shape. noise : (shape, points, u, u_click) →
    (k, k), with u of one coordinate of a point and of a click, all mm."""

    fit: Callable[[Array, Array], Shape]
    noise: Callable[[Shape, Array, float, float], Array]


def _fit_point(points: Array, extent: Array) -> Shape:
    return Point(points.mean(axis=0))


def _point_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    return np.eye(2) * u**2 / len(points)


def _fit_edge(points: Array, extent: Array) -> Shape:
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


def _fit_circle(points: Array, extent: Array) -> Shape:
    centre, radius = fit_circle(points)
    return Circle(centre, radius, arc_seen_deg(points, centre))


def _circle_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    x, y, radius = shape.numbers
    covariance = fit_circle_covariance(points, np.array([x, y]), float(radius), u)
    return np.asarray(covariance * _CORRELATED_ROWS)


def _fit_curve(points: Array, extent: Array) -> Shape:
    count = min(len(points), _CURVE_POINTS)
    places = np.linspace(0, len(points) - 1, count)
    rows = np.arange(len(points))
    return Curve(np.column_stack([np.interp(places, rows, c) for c in points.T]))


def _curve_noise(shape: Shape, points: Array, u: float, u_click: float) -> Array:
    return np.eye(len(shape.numbers)) * u**2 * _CORRELATED_ROWS / _CURVE_ROWS


SHAPE_KINDS: dict[str, ShapeKind] = {
    "point": ShapeKind(_fit_point, _point_noise),
    "edge": ShapeKind(_fit_edge, _edge_noise),
    "circle": ShapeKind(_fit_circle, _circle_noise),
    "curve": ShapeKind(_fit_curve, _curve_noise),
}
