"""Flat measurements against handbook values, standards and other libraries.

Machinery's Handbook, "Segments of circles" and "Coordinates for locating equally spaced
holes": from memory, each value recomputed here. ASME B1.20.1 and the Morse tapers: from
memory. ISO 261, ISO 262 and ASME B1.1 pitches: from memory. EN 1993-1-8, table 3.3: read as an
excerpt. Gander, Golub and Strebel, BIT 34 (1994): results from memory, reproduced
independently. Everything else is arithmetic or a library named beside it.
"""

from math import atan, degrees, hypot, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import linregress
from uncertainties import ufloat
from uncertainties.umath import sqrt as usqrt

from photomeasure.geometry.tubes import silhouette
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row
from photomeasure.uncertainty.propagation import jacobian


def measured(kind: str, **features: object) -> dict[str, float]:
    given_shapes = {k: v if isinstance(v, tuple) else (v,) for k, v in features.items()}
    return MEASUREMENTS[kind].evaluate(given_shapes)


def hole(x: float, y: float, radius: float = 3.0) -> Circle:
    return Circle(np.array([x, y], float), radius)


def edge(*ends: object) -> Edge:
    return Edge(np.array(ends, float))


def chord_arc(chord: float, sagitta: float, count: int = 60) -> Curve:
    """An arc by its chord and sagitta, drawn through its three points by complex numbers."""
    radius = (chord**2 / 4 + sagitta**2) / (2 * sagitta)
    half = np.arcsin(min(1.0, chord / 2 / radius))
    half = np.pi - half if sagitta > radius else half
    turns = np.linspace(-half, half, count) + np.pi / 2
    return Curve(np.column_stack([np.cos(turns), np.sin(turns)]) * radius)


@pytest.mark.parametrize(
    ("chord", "sagitta", "radius"),
    [(16.0, 6.0, 25 / 3), (2 * sqrt(8 * 112), 8.0, 60.0), (100.0, 1.0, 1250.5)],
)
def test_radius_from_chord_and_sagitta(chord, sagitta, radius):
    """r = (c² + 4h²)/8h: the handbook's examples (c 16, h 6: 8 1/3; r 60, h 8: c 59.867), and
    a straight-edge's 1 mm over 100 mm."""
    assert measured("radius", arc=chord_arc(chord, sagitta))["radius"] == pytest.approx(radius)
    assert 2 * sqrt(8 * 112) == pytest.approx(59.867, abs=5e-4)


def test_sagitta_is_told_as_the_handbook_has_it():
    """r 60, h 8: the remark gives back the chord 59.9 and the sagitta 8.00."""
    features = {"arc": (chord_arc(2 * sqrt(8 * 112), 8.0, 400),)}
    (words,) = MEASUREMENTS["radius"].remarks(features, {})
    assert "chord of 59.9 mm with a sagitta of 8.00 mm" in words


def test_radius_of_published_points():
    """Gander's six points as a curve: the geometric radius 4.714226."""
    points = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]], float)
    assert measured("radius", arc=Curve(points))["radius"] == pytest.approx(4.714226, abs=1e-6)


HANDBOOK_HOLES = {
    3: [(0.5, 0.0), (0.06699, 0.75), (0.93301, 0.75)],
    5: [
        (0.5, 0.0),
        (0.02447, 0.34549),
        (0.20611, 0.90451),
        (0.79389, 0.90451),
        (0.97553, 0.34549),
    ],
    6: [
        (0.5, 0.0),
        (0.06699, 0.25),
        (0.06699, 0.75),
        (0.5, 1.0),
        (0.93301, 0.75),
        (0.93301, 0.25),
    ],
}


@pytest.mark.parametrize("count", HANDBOOK_HOLES)
def test_bolt_circle_of_the_handbooks_coordinates(count):
    """Holes by the table for a circle of 1, times 100 mm: diameter 100, equal spacing."""
    holes = tuple(hole(100 * x, -100 * y, 4.0) for x, y in HANDBOOK_HOLES[count])
    found = measured("bolt_circle", holes=holes)
    assert found["diameter"] == pytest.approx(100, abs=2e-3)
    assert (found["centre_x"], found["centre_y"]) == pytest.approx((50, -50), abs=2e-3)
    assert found["hole_2_angle"] == pytest.approx(360 / count, abs=2e-3)


@pytest.mark.parametrize("count", HANDBOOK_HOLES)
def test_hole_table_gives_back_the_handbooks_coordinates(count):
    """From the corner of the square round the circle, y downwards, as the table is read."""
    holes = tuple(hole(7 + 100 * x, 9 - 100 * y, 4.0) for x, y in HANDBOOK_HOLES[count])
    corner, right = Point(np.array([7.0, 9.0])), Point(np.array([107.0, 9.0]))
    below = Point(np.array([7.0, -91.0]))
    found = measured("hole_pattern", origin=corner, x_axis=right, holes=holes, y_side=below)
    for k, (x, y) in enumerate(HANDBOOK_HOLES[count], start=1):
        assert (found[f"hole_{k}_x"], found[f"hole_{k}_y"]) == pytest.approx((100 * x, 100 * y))


PITCHES_MM = {
    "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M8": 1.25, "M10": 1.5, "M12": 1.75, "M16": 2.0,
    "M8x1": 1.0, "M10x1.25": 1.25, "M12x1.5": 1.5,
    "10-32": 25.4 / 32, "1/4-20": 25.4 / 20, "5/16-18": 25.4 / 18, "3/8-16": 25.4 / 16,
    "1/2-13": 25.4 / 13,
}  # fmt: skip


@pytest.mark.parametrize("thread", PITCHES_MM)
def test_standard_pitches_over_ten_crests(thread):
    """ISO 261, ISO 262 and ASME B1.1: ten crests on a slant give the pitch back."""
    way = np.array([np.cos(0.7), np.sin(0.7)])
    crests = Row(np.outer(PITCHES_MM[thread] * np.arange(10), way))
    assert measured("thread_pitch", crests=crests)["pitch"] == pytest.approx(PITCHES_MM[thread])


@pytest.mark.parametrize(
    ("metric", "inch", "percent"),
    [("M5", "10-32", 0.8), ("M8", "1/4-20", 1.6), ("M16", "1/2-13", 2.3)],
)
def test_pitches_that_nearly_meet_need_more_than_ten_clicks(metric, inch, percent):
    """They differ by 0.8, 1.6 and 2.3 % (arithmetic). Ten crests clicked within 0.15 mm tell
    none of them apart: u of a slope is s √(12/(N³ − N)), here against the kind's derivatives."""
    a, b = PITCHES_MM[metric], PITCHES_MM[inch]
    assert abs(a - b) / a * 100 == pytest.approx(percent, abs=0.06)
    crests = np.outer(a * np.arange(10), [1.0, 0.0])

    def pitch(numbers):
        return measured("thread_pitch", crests=Row(numbers.reshape(-1, 2)))["pitch"]

    u = 0.15 * float(np.linalg.norm(jacobian(pitch, crests.ravel(), 1e-3)))
    assert u == pytest.approx(0.15 * sqrt(12 / (10**3 - 10)), rel=1e-6)
    assert 2 * u > abs(a - b) / 2


def test_pitch_is_the_regression_of_scipy():
    """Noisy crests: the slope is scipy's linregress along the fitted line."""
    rng = np.random.default_rng(4)
    along = 1.5 * np.arange(14) + rng.normal(0, 0.05, 14)
    found = measured("thread_pitch", crests=Row(np.column_stack([along, np.zeros(14)])))
    assert found["pitch"] == pytest.approx(linregress(np.arange(14), along).slope)


def test_a_pipe_thread_tapers_1_in_16():
    """ASME B1.20.1: taper 1 : 16 on the diameter, 1° 47′ 24″ to the axis."""
    low, high = edge([0, -10], [32, -11]), edge([0, 10], [32, 11])
    found = measured("width", a=low, b=high)
    assert found["out_of_parallel"] / 2 == pytest.approx(1 + 47 / 60 + 24 / 3600, abs=2e-4)


def test_a_number_2_morse_taper():
    """0.59941 in a foot on the diameter: 2° 51′ 41″ between its sides; mean width of its ends."""
    length, rise = 64.0, 64.0 * 0.59941 / 24
    low = edge([0, -8.89], [length, -8.89 + rise])
    found = measured("width", a=low, b=edge([0, 8.89], [length, 8.89 - rise]))
    assert -found["out_of_parallel"] == pytest.approx(2 + 51 / 60 + 41 / 3600, abs=3e-4)
    assert found["mean_width"] == pytest.approx(2 * 8.89 - rise, rel=1e-3)


@pytest.mark.parametrize(("one_in", "angle"), [(40, 1.4321), (60, 0.9548), (100, 0.5729)])
def test_falls_of_one_in_so_many(one_in, angle):
    """A fall of 1 in 40 is 1.432°, 25 mm per metre (falls: common practice; arithmetic)."""
    level = edge([0, 0], [100, 0])
    found = measured("level_angle", edge=edge([0, 0], [one_in, -1]), level=level)
    assert found["from_level"] == pytest.approx(angle, abs=5e-5)
    assert found["from_level"] == pytest.approx(degrees(atan(1 / one_in)))


def test_least_edge_distance_of_en_1993():
    """1.2 d0 from the centre: an M8 screw's 9 mm hole lies 10.8 mm from the edge, wall 6.3 mm."""
    features = {"hole": (hole(30, 10.8, 4.5),), "edge": (edge([0, 0], [60, 0]),)}
    found = MEASUREMENTS["hole_to_edge"].evaluate(features)
    assert found["wall"] == pytest.approx(6.3)
    assert "1.20 times" in MEASUREMENTS["hole_to_edge"].remarks(features, found)[0]


def test_the_apparent_width_of_the_moon():
    """A round body at distance d is seen under 2 asin(r/d): r 1737.4 km at 384 400 km is 31.1
    arc minutes (from memory), which the two silhouettes must span."""
    low, high = silhouette(0.0, 1737.4, 384_400.0)
    span = degrees(atan(high / 384_400.0) - atan(low / 384_400.0))
    assert span * 60 == pytest.approx(31.1, abs=0.05)


@given(st.floats(5, 60), st.floats(1, 9), st.floats(0, 180))
def test_a_slot_is_shapelys_buffer_of_a_line(apart, radius, turn):
    """Overall length and width are those of shapely's smallest rectangle round the buffer."""
    way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    ends = tuple(hole(*(side * apart / 2 * way), radius) for side in (-1, 1))
    found = measured("slot", ends=ends)
    shape = shapely.LineString([-apart / 2 * way, apart / 2 * way]).buffer(radius, quad_segs=200)
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = sorted(np.linalg.norm(np.diff(box[:3], axis=0), axis=1))
    assert (found["width"], found["length"]) == pytest.approx(sides, rel=1e-3)


@given(st.floats(-30, 30), st.floats(-30, 30), st.floats(0, 360), st.floats(1, 5))
def test_walls_and_webs_are_shapelys_distances(x, y, turn, radius):
    """Wall to a curve and web between holes are shapely's distances of rims."""
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    chain = np.array([[-60 * c, -60 * s], [0.0, 50.0], [60 * c, 60 * s]])
    found = measured("hole_to_edge", hole=hole(x, y, radius), edge=Curve(chain))
    line = shapely.LineString(chain)
    assert found["edge_distance"] == pytest.approx(shapely.distance(line, shapely.Point(x, y)))
    other = hole(x + 20 * c, y + 20 * s, 2.0)
    web = measured("web", holes=(hole(x, y, radius), other))["web"]
    discs = [
        shapely.Point(h.centre).buffer(h.radius, quad_segs=400)
        for h in (hole(x, y, radius), other)
    ]
    assert web == pytest.approx(shapely.distance(*discs), abs=1e-4)


def test_the_symmetry_axis_is_the_best_reflection():
    """No reflection found by brute force (scipy, Nelder–Mead) leaves less than the closed form."""
    rng = np.random.default_rng(11)
    left = rng.uniform(-40, 40, (4, 2)) + np.array([0.0, 50.0])
    right = left * [1, -1] + rng.normal(0, 2.0, (4, 2))

    def left_over(numbers):
        n = np.array([-np.sin(numbers[0]), np.cos(numbers[0])])
        return np.sum((left - 2 * (left @ n - numbers[1])[:, None] * n - right) ** 2)

    best = minimize(left_over, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-10})
    found = measured(
        "symmetry_axis",
        left=tuple(hole(*p) for p in left),
        right=tuple(hole(*p) for p in right),
    )
    misses = [hypot(2 * found[f"pair_{k}_across"], found[f"pair_{k}_along"]) for k in range(1, 5)]
    assert sum(m**2 for m in misses) == pytest.approx(best.fun, rel=1e-8)
    assert found["axis_angle"] == pytest.approx(degrees(best.x[0]) % 360, abs=1e-4)


def test_a_wall_has_the_uncertainty_that_the_package_uncertainties_gives():
    """First-order propagation through distance and radius, by derivatives of another library."""
    numbers, u = np.array([30.0, 12.0, 4.0, 0.0, 0.0, 60.0, 2.0]), 0.02

    def wall(n):
        return measured("hole_to_edge", hole=hole(*n[:3]), edge=edge(n[3:5], n[5:7]))["wall"]

    x, y, r, x0, y0, x1, y1 = (ufloat(v, u) for v in numbers)
    cross = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
    expected = cross / usqrt((x1 - x0) ** 2 + (y1 - y0) ** 2) - r
    assert wall(numbers) == pytest.approx(expected.nominal_value)
    assert u * np.linalg.norm(jacobian(wall, numbers, 1e-4)) == pytest.approx(expected.std_dev)
