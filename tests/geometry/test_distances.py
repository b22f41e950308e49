"""Distances agree with an independent library, gaps keep their sign, closest points lie on."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from photomeasure.geometry.distances import (
    circle_circle_gap,
    point_polyline,
    polyline_circle_gap,
    polyline_polyline,
    polyline_polyline_gap,
)

coordinate = st.integers(-20, 20).map(float)
segment = st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=2).map(np.array)


def ring(x: float, radius: float, count: int = 360) -> np.ndarray:
    angles = np.linspace(0, 2 * np.pi, count + 1)
    return np.column_stack([x + radius * np.cos(angles), radius * np.sin(angles)])


@given(segment, segment)
def test_segments_agree_with_shapely(a, b):
    """Distances of segments, crossing, touching, parallel or of no length, equal shapely's."""
    expected = shapely.LineString(a).distance(shapely.LineString(b))
    found = polyline_polyline(a, b)
    assert found.value == pytest.approx(expected, abs=1e-9)
    assert np.linalg.norm(found.on_a - found.on_b) == pytest.approx(found.value, abs=1e-9)


def test_polylines_agree_with_shapely():
    """Distances of 300 pairs of random chains equal shapely's."""
    rng = np.random.default_rng(1)
    for _ in range(300):
        a, b = rng.normal(size=(9, 2)) * 3, rng.normal(size=(6, 2)) * 3 + rng.normal(size=2) * 5
        expected = shapely.LineString(a).distance(shapely.LineString(b))
        assert polyline_polyline(a, b).value == pytest.approx(expected, abs=1e-12)


def test_segments_in_space_agree_with_a_fine_grid():
    """In 3-D no pair of points on two segments is nearer than the distance stated."""
    rng = np.random.default_rng(2)
    t = np.linspace(0, 1, 201)[:, None]
    for _ in range(100):
        a, b = rng.normal(size=(2, 3)), rng.normal(size=(2, 3))
        grid = (a[0] + t * (a[1] - a[0]))[:, None] - (b[0] + t * (b[1] - b[0]))[None]
        nearest = np.min(np.linalg.norm(grid, axis=2))
        assert nearest - 0.03 <= polyline_polyline(a, b).value <= nearest + 1e-12


@given(segment, segment, st.floats(0, 6.3))
def test_distance_ignores_order_and_frame(a, b, angle):
    """Swapping the shapes or turning both leaves a signed gap as it was."""
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    there = polyline_polyline_gap(a, b)
    back = polyline_polyline_gap(b, a)
    assert there.value == pytest.approx(back.value, abs=1e-9)
    clear = polyline_polyline(a @ turn.T, b @ turn.T).value
    assert clear == pytest.approx(polyline_polyline(a, b).value, abs=1e-9)


def test_point_to_a_segment_of_no_length():
    """A segment of no length is a point."""
    assert point_polyline(np.array([3.0, 4.0]), np.zeros((2, 2))).value == 5.0


@pytest.mark.parametrize(("tip", "expected"), [(1.0, 1.0), (0.0, 0.0), (-0.5, -0.5)])
def test_an_edge_end_passing_a_line_changes_sign_smoothly(tip, expected):
    """An end 1 mm short reads +1, at contact 0, half a millimetre through −0.5."""
    line = np.array([[-10.0, 0.0], [10.0, 0.0]])
    edge = np.array([[0.0, tip], [0.0, 30.0]])
    assert polyline_polyline_gap(edge, line).value == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("offset", "radius", "expected"),
    [(15, 3, 2.0), (13, 3, 0.0), (12, 3, -1.0), (0, 8, 2.0), (3, 8, -1.0), (2, 8, 0.0)],
)
def test_circle_gaps_beside_and_inside(offset, radius, expected):
    """Beside: d − R − r; inside: R − r − d; negative is the shift that separates them.

    The same circles as 360-gons agree within 0.01 mm, by way of polygons and of a mix.
    """
    exact = circle_circle_gap(np.zeros(2), 10.0, np.array([float(offset), 0.0]), radius)
    assert exact.value == pytest.approx(expected)
    mixed = polyline_circle_gap(ring(offset, radius), np.zeros(2), 10.0)
    assert mixed.value == pytest.approx(expected, abs=0.01)
    chains = polyline_polyline_gap(ring(0, 10), ring(offset, radius))
    assert chains.value == pytest.approx(expected, abs=0.01)


def test_closest_points_lie_on_both_circles():
    """The two points of a gap lie on the outlines they name."""
    found = circle_circle_gap(np.zeros(2), 3.0, np.array([1.0, 2.0]), 9.0)
    assert np.linalg.norm(found.on_a) == pytest.approx(3)
    assert np.linalg.norm(found.on_b - [1, 2]) == pytest.approx(9)
    assert np.linalg.norm(found.on_a - found.on_b) == pytest.approx(abs(found.value))


def test_a_wedge_reaches_in_by_its_tip():
    """A wedge pushed 2 mm through an edge overlaps by 2 mm."""
    wedge = np.array([[-3.0, 10.0], [0.0, -2.0], [3.0, 10.0]])
    found = polyline_polyline_gap(wedge, np.array([[-50.0, 0.0], [50.0, 0.0]]))
    assert found.value == pytest.approx(-2.0)
    assert np.allclose(found.on_a, [0, -2])


def test_touching_end_to_end_is_contact():
    """Two edges that share an end read exactly 0."""
    a, b = np.array([[0.0, 0], [5, 5]]), np.array([[5.0, 5], [9, 0]])
    assert polyline_polyline_gap(a, b).value == 0.0
