"""What may a part look like on which every kind of measurement has something to measure?

Everything is drawn in the part's own frame, where the true values are plain arithmetic or
come from another library, and is then laid anywhere on the sheet. None of the program's
formulas is used for a truth.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import least_squares

from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube

Array = NDArray[np.float64]
Roles = Mapping[str, tuple[str, ...]]

FACE, AXIS = "top", "axis of the tubes"
_ARC_POINTS = 200
_PITCHES_MM = (1.5, 1.75, 2.0, 2.5, 25.4 / 16, 25.4 / 13)  # clicks must tell the crests apart


@dataclass(frozen=True)
class Question:
    """One number that a kind is asked for, and its true value in mm or deg."""

    kind: str
    of: Roles
    quantity: str
    truth: float


@dataclass
class KindsPart:
    """Named shapes in mm and what is asked of them. lay : from the part's frame to the sheet."""

    lay: Callable[[Array], Array]
    turn_deg: float
    shapes: dict[str, Shape] = field(default_factory=dict)
    planes: dict[str, str] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)

    def hole(self, name: str, at: Array, radius: float) -> None:
        """A round hole of the face."""
        self.shapes[name] = Circle(self.lay(at[None])[0], radius)

    def point(self, name: str, at: Array) -> None:
        """A point of the face."""
        self.shapes[name] = Point(self.lay(at[None])[0])

    def edge(self, name: str, start: Array, end: Array) -> None:
        """A straight edge of the face."""
        self.shapes[name] = Edge(self.lay(np.array([start, end])))

    def arc(self, name: str, centre: Array, radius: float, degrees: tuple[float, float]) -> None:
        """A curve along an arc of the face."""
        turns = np.radians(np.linspace(*degrees, _ARC_POINTS))
        points = centre + radius * np.column_stack([np.cos(turns), np.sin(turns)])
        self.shapes[name] = Curve(self.lay(points))

    def tube(self, name: str, start: Array, end: Array, radius: float) -> None:
        """A tube whose axis lies on the plane of the axes."""
        self.shapes[name] = Tube(self.lay(np.array([start, end])), radius)
        self.planes[name] = AXIS

    def ask(self, kind: str, of: Roles, quantity: str, truth: float) -> None:
        """Put a question."""
        self.questions.append(Question(kind, of, quantity, float(truth)))


def kinds_part(rng: np.random.Generator) -> KindsPart:
    """A part with something for every kind, at most 100 mm × 70 mm."""
    turn, shift = float(rng.uniform(0, 2 * np.pi)), rng.uniform(-12, 12, 2)
    c, s = np.cos(turn), np.sin(turn)
    matrix = np.array([[c, -s], [s, c]])
    part = KindsPart(lambda points: points @ matrix.T + shift, float(np.degrees(turn)))
    for add in (
        _holes, _edges, _bolts, _slot, _arcs, _tubes, _thread, _gravity, _pairs,
    ):  # fmt: skip
        add(part, rng)
    return part


def _xy(x: float, y: float) -> Array:
    return np.array([x, y], float)


def _holes(part: KindsPart, rng: np.random.Generator) -> None:
    """Origin, a hole on the x axis and three more, one on the side where y is positive."""
    reach = rng.uniform(60, 80)
    places = {
        "origin": _xy(-40, -30),
        "on x": _xy(-40 + reach, -30),
        "first": _xy(rng.uniform(-30, 10), rng.uniform(-10, 30)),
        "second": _xy(rng.uniform(-30, 10), rng.uniform(-20, 30)),
        "side": _xy(rng.uniform(20, 40), rng.uniform(0, 30)),
    }
    radii = {name: float(rng.uniform(2.0, 5.0)) for name in places}
    for name, at in places.items():
        part.hole(name, at, radii[name])
    first, origin = places["first"], places["origin"]
    axes = {"origin": ("origin",), "x_axis": ("on x",), "holes": ("first", "second")}
    x, y = first - origin
    part.ask("hole_pattern", axes, "hole_1_x", x)
    part.ask("hole_pattern", axes, "hole_1_y", y)
    part.ask("hole_pattern", {**axes, "y_side": ("side",)}, "hole_2_diameter", 2 * radii["second"])
    part.ask("distance", {"a": ("origin",), "b": ("first",)}, "distance", np.hypot(x, y))
    part.ask("diameter", {"circle": ("side",)}, "diameter", 2 * radii["side"])
    apart = float(np.linalg.norm(places["on x"] - origin))
    web = apart - radii["on x"] - radii["origin"]
    part.ask("web", {"holes": ("origin", "on x")}, "web", web)
    part.ask("web", {"holes": ("origin", "on x")}, "centre_distance", apart)
    sight = {"start": ("origin",), "towards": ("on x",), "feature": ("first",)}
    part.ask("handedness", sight, "left_by", y)
    clock = {"centre": ("origin",), "datum": ("on x",), "feature": ("first",)}
    part.ask("clock_position", clock, "clock_position", -np.degrees(np.arctan2(y, x)))


def _edges(part: KindsPart, rng: np.random.Generator) -> None:
    """A strip with two long sides that are not quite parallel and two square ends."""
    width, taper, length = rng.uniform(4, 20), rng.uniform(-0.6, 0.6), rng.uniform(40, 80)
    low, high = _xy(-length / 2, 0), _xy(length / 2, 0)
    up, slope = _xy(0, 1), length * np.tan(np.radians(taper))
    part.edge("lower", low, high)
    part.edge("upper", low + width * up, high + (width + slope) * up)
    part.edge("left", low - 8 * up, low + 30 * up)
    part.edge("right", high - 8 * up, high + 30 * up)
    part.edge("slanted", low, low + 40 * _xy(np.cos(0.9), np.sin(0.9)))
    at = _xy(rng.uniform(-20, 20), -rng.uniform(5, 25))
    radius = float(rng.uniform(1.5, 4))
    part.hole("by the edge", at, radius)
    sides = {"a": ("lower",), "b": ("upper",)}
    # Across the bisector, over the length that both share.
    half = np.radians(taper / 2)
    mean = (width + slope / 2) * np.cos(half)
    part.ask("width", sides, "mean_width", mean)
    part.ask("width", sides, "out_of_parallel", taper)
    part.ask("gap", sides, "gap", _gap(part, "lower", "upper"))
    part.ask("edge_length", {"edge": ("lower",), "ends": ("left", "right")}, "length", length)
    part.ask("edge_length", {"edge": ("lower",)}, "length", length)
    by = {"hole": ("by the edge",), "edge": ("lower",)}
    part.ask("hole_to_edge", by, "wall", -at[1] - radius)
    part.ask("hole_to_edge", by, "edge_distance", -at[1])
    of = {"point": ("by the edge",), "edge": ("upper",)}
    foot = -at[1] + width + slope * (at[0] + length / 2) / length
    part.ask("point_to_edge", of, "distance", foot * np.cos(np.radians(taper)))
    corner = {"edge_a": ("lower",), "edge_b": ("slanted",)}
    part.ask("angle", corner, "angle", np.degrees(0.9))


def _gap(part: KindsPart, a: str, b: str) -> float:
    """The smallest distance, by a library of its own."""
    lines = [shapely.LineString(part.shapes[name].numbers.reshape(-1, 2)) for name in (a, b)]
    return float(shapely.distance(*lines))


def _bolts(part: KindsPart, rng: np.random.Generator) -> None:
    """A bolt circle with four to six holes, one of which is missing now and then."""
    count, radius = int(rng.integers(4, 7)), float(rng.uniform(15, 32))
    start = float(rng.uniform(0, 360))
    kept = range(count - 1 if rng.random() < 0.3 else count)
    names = []
    for k in kept:
        turn = np.radians(start + 360 * k / count)
        names.append(f"bolt {k + 1}")
        part.hole(names[-1], radius * _xy(np.cos(turn), np.sin(turn)), float(rng.uniform(2, 4)))
    part.edge("datum", _xy(-30, 0), _xy(30, 0))
    part.ask("bolt_circle", {"holes": tuple(names)}, "diameter", 2 * radius)
    turned = {"holes": tuple(names), "datum": ("datum",)}
    part.ask("bolt_circle", turned, "hole_1_angle", start)
    part.ask("bolt_circle", turned, "hole_2_angle", 360 / count)


def _slot(part: KindsPart, rng: np.random.Generator) -> None:
    """A slot with round ends, its angle counted from the datum edge."""
    apart, radius, turn = rng.uniform(10, 40), float(rng.uniform(2.5, 7)), rng.uniform(5, 175)
    along = _xy(np.cos(np.radians(turn)), np.sin(np.radians(turn)))
    across = _xy(-along[1], along[0])
    ends = (-along * apart / 2, along * apart / 2)
    part.arc("near end", ends[0], radius, (turn + 100, turn + 260))
    part.arc("far end", ends[1], radius, (turn - 80, turn + 80))
    for name, side in (("one flank", 1.0), ("other flank", -1.0)):
        part.edge(name, ends[0] + side * radius * across, ends[1] + side * radius * across)
    of = {"ends": ("near end", "far end"), "sides": ("one flank", "other flank")}
    part.ask("slot", of, "length", apart + 2 * radius)
    part.ask("slot", of, "width", 2 * radius)
    part.ask("slot", of, "centre_distance", apart)
    part.ask("slot", {**of, "datum": ("datum",)}, "angle", turn)


def _arcs(part: KindsPart, rng: np.random.Generator) -> None:
    """A corner of 60° to 180°, and a bend with its outside."""
    radius, span = float(rng.uniform(4, 20)), rng.uniform(60, 180)
    start = rng.uniform(0, 360)
    part.arc("corner", _xy(0, 0), radius, (start, start + span))
    part.ask("radius", {"arc": ("corner",)}, "radius", radius)
    inside, thick, span = float(rng.uniform(8, 25)), float(rng.uniform(1, 8)), rng.uniform(80, 170)
    part.arc("inside", _xy(5, 5), inside, (start, start + span))
    part.arc("outside", _xy(5, 5), inside + thick, (start, start + span))
    bend = {"inside": ("inside",), "outside": ("outside",)}
    part.ask("bend_radius", bend, "inside_radius", inside)
    part.ask("bend_radius", bend, "thickness", thick)
    part.ask("bend_radius", bend, "centreline_radius", inside + thick / 2)


def _tubes(part: KindsPart, rng: np.random.Generator) -> None:
    """Two tubes at an angle."""
    turn = rng.uniform(20, 160)
    way = _xy(np.cos(np.radians(turn)), np.sin(np.radians(turn)))
    radii = rng.uniform(4, 20, 2)
    part.tube("first tube", _xy(-40, -20), _xy(20, -20), float(radii[0]))
    part.tube("second tube", _xy(-40, -20) + 10 * way, _xy(-40, -20) + 60 * way, float(radii[1]))
    part.ask("outside_diameter", {"tube": ("first tube",)}, "outside_diameter", 2 * radii[0])
    part.ask("angle", {"edge_a": ("first tube",), "edge_b": ("second tube",)}, "angle", turn)
    of = {"datum": ("first tube",), "feature": ("second tube",)}
    part.ask("clock_position", of, "clock_position", -turn)


def _thread(part: KindsPart, rng: np.random.Generator) -> None:
    """Ten to twenty crests of some standard pitch."""
    pitch, count = float(rng.choice(_PITCHES_MM)), int(rng.integers(10, 21))
    start = _xy(-20, 10)
    crests = start + np.outer(pitch * np.arange(count), _xy(1, 0))
    part.shapes["crests"] = Row(part.lay(crests))
    radius = float(rng.uniform(2.5, 8))
    part.tube("screw", _xy(-25, 10), _xy(25, 10), radius)
    of = {"crests": ("crests",), "body": ("screw",)}
    part.ask("thread_pitch", of, "pitch", pitch)
    part.ask("thread_pitch", of, "outside_diameter", 2 * radius)


def _gravity(part: KindsPart, rng: np.random.Generator) -> None:
    """An edge nearly along a string and a level."""
    lean = rng.uniform(-4, 4)
    clockwise = np.radians(-lean)
    part.edge("string", _xy(-45, 30), _xy(-45, -30))
    part.edge("post", _xy(-30, 30), _xy(-30, 30) - 60 * _xy(np.sin(-clockwise), np.cos(clockwise)))
    part.edge("level", _xy(-30, 34), _xy(30, 34))
    part.edge("sill", _xy(-30, 25), _xy(-30, 25) + 60 * _xy(np.cos(clockwise), np.sin(clockwise)))
    part.ask("plumb_angle", {"edge": ("post",), "plumb_line": ("string",)}, "from_plumb", lean)
    part.ask("level_angle", {"edge": ("sill",), "level": ("level",)}, "from_level", lean)


def _pairs(part: KindsPart, rng: np.random.Generator) -> None:
    """Two pairs of holes that miss symmetry about y = 0 by some tenths, and one between."""
    left = np.array([[-30.0, 20.0], [25.0, 28.0]])
    right = left * [1, -1] + rng.normal(0, 0.3, (2, 2))
    middle = _xy(5, float(rng.normal(0, 0.3)))
    for side, places in (("left", left), ("right", right)):
        for k, at in enumerate(places, start=1):
            part.hole(f"{side} {k}", at, 3.0)
    part.hole("between", middle, 4.0)
    of = {"left": ("left 1", "left 2"), "right": ("right 1", "right 2"), "centred": ("between",)}
    angle, across, along = _true_axis(left, right, middle)
    part.ask("symmetry_axis", of, "axis_angle", angle + part.turn_deg)
    part.ask("symmetry_axis", of, "pair_1_across", across)
    part.ask("symmetry_axis", of, "pair_1_along", along)


def _true_axis(left: Array, right: Array, middle: Array) -> tuple[float, float, float]:
    """The axis of least squares by brute force: its angle in degrees, and pair 1's misses."""

    def misses(numbers: Array) -> Array:
        """How far each image lies from its partner, and twice how far the middle one is off."""
        n = np.array([-np.sin(numbers[0]), np.cos(numbers[0])])
        images = left - 2 * ((left @ n) - numbers[1])[:, None] * n
        return np.append((images - right).ravel(), 2 * (middle @ n - numbers[1]))

    best = least_squares(misses, np.zeros(2), xtol=1e-14, ftol=1e-14).x
    angle, first = float(best[0]), misses(best)[:2]
    u = np.array([np.cos(angle), np.sin(angle)])
    return (
        float(np.degrees(angle)),
        float(u[1] * first[0] - u[0] * first[1]) / 2,
        -float(first @ u),
    )
