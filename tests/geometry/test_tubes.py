"""The silhouette of a round body leads back to its axis and radius, from any camera."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photomeasure.errors import GeometryError
from photomeasure.geometry.tubes import fit_tube, silhouette, tangent_circle


def seen_edges(axis, radius, eye, count=30):
    """Where sight lines graze a tube, carried to the level plane of its axis: by vectors.

    axis : (2, 2) at height 0. A surface normal m with (eye − axis)·m = radius is grazed.
    """
    start, end = (np.append(p, 0.0) for p in np.array(axis, float))
    along = (end - start) / np.linalg.norm(end - start)
    to_eye = eye - start - ((eye - start) @ along) * along
    away = np.linalg.norm(to_eye)
    beside = np.cross(along, to_eye / away)
    points = []
    for side in (1, -1):
        cosine = radius / away
        normal = cosine * to_eye / away + side * np.sqrt(1 - cosine**2) * beside
        line = start + np.linspace(0, 1, count)[:, None] * (end - start) + radius * normal
        share = eye[2] / (eye[2] - line[:, 2])
        points.append((eye + share[:, None] * (line - eye))[:, :2])
    return points


def test_a_tube_right_below_the_camera():
    """R 25 seen from 300 mm: edges at ± R/√(1 − (R/h)²) = 25.0874 mm, not ± 25 (closed form)."""
    first, second = silhouette(0.0, 25.0, 300.0)
    expected = 25 / np.sqrt(1 - (25 / 300) ** 2)
    assert (first, second) == pytest.approx((-expected, expected))
    assert tangent_circle(first, second, 300.0) == pytest.approx((0.0, 25.0))


def test_a_tube_lying_on_the_marker_reads_nine_percent_large():
    """A 50 mm tube on the bench, the camera 300 mm above the bench: +9 % where its edges are
    read on the bench instead of at its axis (common practice, no source; here worked out)."""
    on_axis = silhouette(0.0, 25.0, 275.0)
    on_bench = np.array(on_axis) * 300 / 275
    assert (on_bench[1] - on_bench[0]) / 50 - 1 == pytest.approx(0.09, abs=0.006)


@given(st.floats(-250, 250), st.floats(1, 40), st.floats(150, 600), st.booleans())
def test_tangents_lead_back_to_the_circle(offset, radius, height, swapped):
    """The closed form and its inverse undo each other, whichever side comes first."""
    sides = silhouette(offset, radius, height)
    found = tangent_circle(*(sides[::-1] if swapped else sides), height)
    assert found == pytest.approx((offset, radius), rel=1e-9, abs=1e-9)


@given(st.floats(0, 360), st.floats(-120, 120), st.floats(-120, 120), st.floats(2, 30))
def test_a_tube_seen_from_anywhere_is_recovered(turn, x, y, radius):
    """Axis, radius and reach come back exactly from both silhouettes, worked out by vectors."""
    way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    axis = np.array([[x, y] - 40 * way, [x, y] + 40 * way])
    eye = np.array([15.0, -20.0, 320.0])
    sides = seen_edges(axis, radius, eye)
    ends = np.vstack([side[[0, -1]] for side in sides])
    found, r, taper = fit_tube(np.vstack(sides), ends, eye)
    assert r == pytest.approx(radius, rel=1e-6)
    assert taper == pytest.approx(0, abs=1e-6)
    across = np.array([-way[1], way[0]])
    np.testing.assert_allclose((found - axis) @ across, 0, atol=1e-6)
    assert float((found[1] - found[0]) @ way) == pytest.approx(80, rel=0.05)


def test_the_way_the_second_side_is_clicked_does_not_matter():
    """Back along the other side or forward: the axis runs as the first side was clicked."""
    sides = seen_edges([[0, 0], [50, 10]], 8.0, np.array([0, 0, 300.0]))
    ends = np.vstack([sides[0][[0, -1]], sides[1][[-1, 0]]])
    axis, radius, _ = fit_tube(np.vstack(sides), ends, np.array([0, 0, 300.0]))
    assert radius == pytest.approx(8.0)
    assert axis[1, 0] > axis[0, 0]


def test_sides_that_run_together_show_as_taper():
    """A cone of 2° between its sides reads 2°."""
    t = np.linspace(0, 60, 30)
    first = np.column_stack([t, 10 - t * np.tan(np.radians(1))])
    second = np.column_stack([t, -10 + t * np.tan(np.radians(1))])
    ends = np.vstack([first[[0, -1]], second[[0, -1]]])
    *_, taper = fit_tube(np.vstack([first, second]), ends, np.array([0, 0, 300.0]))
    assert taper == pytest.approx(2.0, abs=1e-6)


def line(y, count=20):
    return np.column_stack([np.linspace(0, 50, count), np.full(count, float(y))])


@pytest.mark.parametrize(
    ("sides", "ends", "eye", "words"),
    [
        ((line(0), line(0.1)), None, [0, 0, 300.0], "0.10 mm apart"),
        ((line(0), line(9)), None, [0, 0, -5.0], "below the axis"),
        ((line(0), line(1)), [[0, 0], [50, 0], [0, 99], [50, 99]], [0, 0, 300.0], "one side"),
        ((line(0), line(9)), [[0, 0], [0, 0], [0, 9], [50, 9]], [0, 0, 300.0], "coincide"),
    ],
)
def test_what_is_no_tube_is_refused(sides, ends, eye, words):
    """One edge twice, a camera below, one side only, clicks on one spot."""
    given_ends = np.vstack([s[[0, -1]] for s in sides]) if ends is None else np.array(ends, float)
    with pytest.raises(GeometryError, match=words):
        fit_tube(np.vstack(sides), given_ends, np.array(eye, float))
