"""Distances, chords and bolt circles against closed forms.

All numbers are arithmetic, computed independently for this project; the bolt circles are
common sizes.
"""

from math import pi, sin

import numpy as np
import pytest

from photomeasure.geometry.distances import polyline_polyline
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import Circle
from photomeasure.uncertainty.propagation import jacobian


def polygon(count: int, radius: float, start: float = 0.0) -> np.ndarray:
    angles = start + np.linspace(0, 2 * pi, count + 1)
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


def holes(count: int, diameter: float) -> tuple[Circle, ...]:
    return tuple(Circle(p, 4.0) for p in polygon(count, diameter / 2, 0.3)[:-1])


@pytest.mark.parametrize(
    ("count", "diameter", "chord"),
    [(4, 100, 70.7107), (5, 100, 58.7785), (5, 112, 65.8319), (5, 114.3, 67.1839),
     (6, 139.7, 69.85)],
)  # fmt: skip
def test_bolt_circle_chords(count, diameter, chord):
    """D sin(180°/n): neighbouring holes of n on a circle D, by the kinds that measure both."""
    pattern = holes(count, diameter)
    measured = MEASUREMENTS["distance"].evaluate({"a": pattern[:1], "b": pattern[1:2]})
    assert measured["distance"] == pytest.approx(chord, abs=5e-5)
    assert chord == pytest.approx(diameter * sin(pi / count), abs=5e-5)
    found = MEASUREMENTS["bolt_circle"].evaluate({"holes": pattern})
    assert found["diameter"] == pytest.approx(diameter)


def test_chord_that_skips_a_hole():
    """Five holes on 114.3: the chord that skips one is 108.7058."""
    pattern = holes(5, 114.3)
    measured = MEASUREMENTS["distance"].evaluate({"a": pattern[:1], "b": pattern[2:3]})
    assert measured["distance"] == pytest.approx(108.7058, abs=5e-5)


def test_a_square_pattern_of_31_mm():
    """Four holes 31 mm apart lie on a circle of 43.8406 mm."""
    corners = [(0, 0), (31, 0), (31, 31), (0, 31)]
    pattern = tuple(Circle(np.array(c, float), 2.0) for c in corners)
    found = MEASUREMENTS["bolt_circle"].evaluate({"holes": pattern})
    assert found["diameter"] == pytest.approx(43.8406, abs=5e-5)


def test_uncertainty_of_a_bolt_circle_falls_with_the_number_of_holes():
    """u(D) ≈ 2 s/√N for N holes all round, each with s (computed)."""
    for count in (3, 6, 12):
        centres = np.concatenate([hole.centre for hole in holes(count, 100.0)])

        def diameter(numbers):
            pattern = tuple(Circle(p, 4.0) for p in numbers.reshape(-1, 2))
            return MEASUREMENTS["bolt_circle"].evaluate({"holes": pattern})["diameter"]

        slopes = jacobian(diameter, centres, 1e-3)
        assert np.linalg.norm(slopes) == pytest.approx(2 / np.sqrt(count), rel=1e-5)


@pytest.mark.parametrize(
    ("a", "b", "distance"),
    [
        ([[0, 0], [10, 0]], [[13, 4], [20, 4]], 5.0),
        ([[0, 0, 0], [10, 0, 0]], [[5, -5, 4], [5, 5, 4]], 4.0),
        ([[-30, 0, 0], [30, 0, 0]], [[0, -30, 20], [0, 30, 20]], 6.0 + 6 + 8),
    ],
)
def test_segment_distances(a, b, distance):
    """A 3–4–5 offset, crossing in space, and hoses of r 6 and 8 whose axes pass at 20: gap 6."""
    assert polyline_polyline(np.array(a), np.array(b)).value == pytest.approx(distance)
