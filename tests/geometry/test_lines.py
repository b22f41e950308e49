"""Line fits recover lines whatever their direction, and refuse what is no line."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photomeasure.errors import GeometryError
from photomeasure.geometry.lines import fit_line, line_intersection, project_on_line


@given(st.floats(0, 2 * np.pi), st.floats(-100, 100))
def test_direction_runs_with_the_points(angle, offset):
    """A line at any angle comes back with its direction in the order of its points."""
    direction = np.array([np.cos(angle), np.sin(angle)])
    points = offset + np.linspace(0, 30, 9)[:, None] * direction
    centre, found = fit_line(points)
    assert np.allclose(found, direction, atol=1e-9)
    assert np.allclose(centre, points.mean(axis=0))


def test_distances_are_taken_at_right_angles():
    """Swapping x and y swaps the fit: no axis is the dependent one."""
    rng = np.random.default_rng(1)
    points = np.column_stack([np.arange(20.0), np.arange(20.0) * 3]) + rng.normal(0, 1, (20, 2))
    assert np.allclose(fit_line(points)[1], fit_line(points[:, ::-1])[1][::-1])


def test_zero_weight_removes_a_point():
    """A wild point with no weight changes nothing."""
    points = np.array([[0.0, 0], [1, 0], [2, 0], [1, 50]])
    _, direction = fit_line(points, np.array([1.0, 1, 1, 0]))
    assert np.allclose(direction, [1, 0])


def test_intersection_and_projection():
    """Two lines meet where algebra says, and a foot lies on its line at right angles."""
    corner = line_intersection([0, 0], [1, 1], [4, 0], [0, 2])
    assert np.allclose(corner, [4, 4])
    feet = project_on_line(np.array([[3.0, 5.0]]), np.array([0.0, 1.0]), np.array([2.0, 0.0]))
    assert np.allclose(feet, [[3, 1]])


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([[1, 1]], "a line needs 2"),
        ([[1, 1], [1, 1]], "coincide"),
        ([[0, 0], [0, 1], [1, 0], [1, 1]], "as far across"),
    ],
)
def test_what_is_no_line_is_refused(points, said):
    """One point, one spot and a round cloud raise GeometryError and say so."""
    with pytest.raises(GeometryError, match=said):
        fit_line(np.array(points, float))


def test_parallel_lines_are_refused():
    """Parallel lines have no intersection, and the message says so."""
    with pytest.raises(GeometryError, match="parallel"):
        line_intersection([0, 0], [1, 2], [5, 0], [2, 4])
