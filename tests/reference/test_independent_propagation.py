"""Propagation against the `uncertainties` package, which differentiates by another method."""

import numpy as np
import pytest
import uncertainties
from uncertainties import umath

from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import Circle, Edge, Point
from photomeasure.uncertainty.propagation import jacobian, propagate, standard_uncertainties


def correlated(size: int) -> np.ndarray:
    """A full covariance of about 0.1 mm, all inputs correlated."""
    root = np.random.default_rng(7).normal(0, 0.05, (size, size))
    return root @ root.T + 1e-4 * np.eye(size)


def stated_u(evaluate, x: np.ndarray, covariance: np.ndarray) -> float:
    slopes = jacobian(evaluate, x, 1e-4)
    return float(standard_uncertainties(propagate(slopes, {"all": covariance})["all"])[0])


def test_distance_between_correlated_points():
    """u of a distance equals the package's for four correlated coordinates."""
    x, covariance = np.array([1.0, 2.0, 31.0, 42.0]), correlated(4)

    def evaluate(v):
        return MEASUREMENTS["distance"].evaluate({"a": (Point(v[:2]),), "b": (Point(v[2:]),)})[
            "distance"
        ]

    a, b, c, d = uncertainties.correlated_values(x, covariance)
    expected = umath.hypot(c - a, d - b)
    assert evaluate(x) == pytest.approx(expected.n)
    assert stated_u(evaluate, x, covariance) == pytest.approx(expected.s, rel=1e-6)


def test_angle_between_correlated_edges():
    """u of an angle equals the package's for eight correlated coordinates."""
    x, covariance = np.array([0.0, 0, 50, 3, 10, 5, 40, 45]), correlated(8)

    def evaluate(v):
        edges = {"edge_a": (Edge(v[:4].reshape(2, 2)),), "edge_b": (Edge(v[4:].reshape(2, 2)),)}
        return MEASUREMENTS["angle"].evaluate(edges)["angle"]

    v = uncertainties.correlated_values(x, covariance)
    turn = umath.atan2(v[7] - v[5], v[6] - v[4]) - umath.atan2(v[3] - v[1], v[2] - v[0])
    expected = umath.degrees(turn)
    assert evaluate(x) == pytest.approx(expected.n)
    assert stated_u(evaluate, x, covariance) == pytest.approx(expected.s, rel=1e-6)


def test_bolt_circle_through_three_correlated_holes():
    """u of the circle through three centres equals that of the closed form abc/(2·area)."""
    x, covariance = np.array([0.0, 0, 60, 5, 20, 48]), correlated(6)

    def evaluate(v):
        holes = tuple(Circle(centre, 3.0) for centre in v.reshape(3, 2))
        return MEASUREMENTS["bolt_circle"].evaluate({"holes": holes})["diameter"]

    v = uncertainties.correlated_values(x, covariance)
    sides = [umath.hypot(v[i] - v[j], v[i + 1] - v[j + 1]) for i, j in ((0, 2), (2, 4), (4, 0))]
    area = ((v[2] - v[0]) * (v[5] - v[1]) - (v[4] - v[0]) * (v[3] - v[1])) / 2
    expected = sides[0] * sides[1] * sides[2] / (2 * area)
    assert evaluate(x) == pytest.approx(expected.n)
    assert stated_u(evaluate, x, covariance) == pytest.approx(expected.s, rel=1e-5)


def test_the_same_input_twice_cancels():
    """x − x: both give exactly 0."""
    x = uncertainties.ufloat(5.0, 0.2)
    assert (x - x).s == 0.0
    assert stated_u(lambda v: v[0] - v[0], np.array([5.0]), np.array([[0.04]])) == 0.0
