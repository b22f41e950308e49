"""Shapes that tests of measurement kinds are given, and what moves or mirrors them."""

import numpy as np

from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Tube


def point(x, y):
    return Point(np.array([x, y], float))


def edge(*ends):
    return Edge(np.array(ends, float))


def hole(x, y, radius=3.0, arc=360.0):
    return Circle(np.array([x, y], float), radius, arc)


def holes(angles_deg, radius=40.0, at=(10.0, -5.0)):
    turns = np.radians(angles_deg)
    return tuple(hole(at[0] + radius * np.cos(t), at[1] + radius * np.sin(t)) for t in turns)


def arc(centre, radius, start_deg, end_deg, count=48):
    turns = np.radians(np.linspace(start_deg, end_deg, count))
    ring = np.column_stack([np.cos(turns), np.sin(turns)])
    return Curve(np.asarray(centre, float) + radius * ring)


def tube(start, end, radius, taper=0.0):
    return Tube(np.array([start, end], float), radius, taper)


def row(start, step, count):
    return Row(np.array(start, float) + np.outer(np.arange(count), np.array(step, float)))


def moved(features, turn_deg=0.0, shift=(0.0, 0.0)):
    """The same features lying elsewhere on the sheet."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return _carried(features, np.array([[c, -s], [s, c]]), np.array(shift, float))


def mirrored(features):
    """The same features as seen from the back."""
    return _carried(features, np.diag([-1.0, 1.0]), np.zeros(2))


def _carried(features, matrix, shift):
    def carried(shape):
        numbers = shape.numbers
        radius = numbers[-1:] if isinstance(shape, Circle | Tube) else numbers[:0]
        places = numbers[: len(numbers) - len(radius)].reshape(-1, 2) @ matrix.T + shift
        return shape.with_numbers(np.concatenate([places.ravel(), radius]))

    return {role: tuple(map(carried, shapes)) for role, shapes in features.items()}


_EDGES = (edge([0, 0], [10, 0]),)

EXAMPLES = {
    "distance": {"a": (point(0, 0),), "b": (hole(3, 4),)},
    "gap": {"a": _EDGES, "b": (edge([2, 3], [12, 4]),)},
    "point_to_edge": {"point": (point(4, 3),), "edge": _EDGES},
    "edge_length": {"edge": _EDGES, "ends": (edge([1, -2], [1, 5]), edge([9, -2], [9, 5]))},
    "width": {"a": _EDGES, "b": (edge([0, 6], [10, 6.2]),)},
    "diameter": {"circle": (hole(1, 2, 5.5),)},
    "hole_to_edge": {"hole": (hole(4, 7, 2.5),), "edge": _EDGES},
    "web": {"holes": (hole(0, 0, 2), hole(10, 0, 3), hole(30, 0, 3))},
    "bolt_circle": {"holes": holes([0, 90, 180, 270])},
    "hole_pattern": {
        "origin": (hole(0, 0),),
        "x_axis": (hole(60, 0),),
        "holes": (hole(10, 20, 4), hole(50, 25), point(5, 40)),
        "y_side": (hole(30, 35),),
    },
    "slot": {"ends": (arc((0, 0), 4, 90, 270), arc((20, 0), 4, -90, 90)), "datum": _EDGES},
    "radius": {"arc": (arc((3, 1), 12, 20, 140),)},
    "bend_radius": {"inside": (arc((0, 0), 12, 0, 90),), "outside": (arc((0, 0), 15, 0, 90),)},
    "outside_diameter": {"tube": (tube([0, 0], [50, 10], 9.0),)},
    "angle": {"edge_a": _EDGES, "edge_b": (edge([0, 1], [10, 11]),)},
    "clock_position": {"datum": (edge([0, 0], [0, 10]),), "feature": (tube([0, 0], [9, 3], 2),)},
    "plumb_angle": {"edge": (edge([0, 0], [1, 30]),), "plumb_line": (edge([9, 40], [9, 0]),)},
    "level_angle": {"edge": (edge([0, 0], [30, 1]),), "level": (edge([0, 9], [40, 9]),)},
    "symmetry_axis": {
        "left": (hole(0, 10), hole(20, 14)),
        "right": (hole(0, -10), hole(20, -14)),
        "centred": (hole(12, 0.1),),
    },
    "handedness": {
        "start": (hole(0, 0),),
        "towards": (hole(30, 0),),
        "feature": (hole(10, 6),),
        "other": (hole(100, 0), hole(130, 0), hole(110, -6)),
    },
    "thread_pitch": {
        "crests": (row((0, 0), (1.25, 0), 12),),
        "body": (tube([0, -4], [15, -4], 4),),
    },
}
