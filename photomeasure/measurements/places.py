"""Where, in which direction and how round is what a kind was given?

Kinds take a circle by its centre, a tube by its axis and a curve along an arc by its circle.
Left is meant as seen from this side, the side that the photo shows.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import arc_seen_deg, fit_circle
from photomeasure.geometry.lines import line_intersection
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube

Array = NDArray[np.float64]

_FAR = 4.0  # times the extent of what was pointed at: nothing is drawn so far away

PLACES = ("point", "circle")
STRAIGHT = ("edge", "tube")
ROUND = ("circle", "curve")


def position(shape: Shape) -> Array:
    """(2,) a point, or the centre of a circle."""
    if isinstance(shape, Point):
        return shape.position
    if isinstance(shape, Circle):
        return shape.centre
    raise TypeError(f"{shape!r} is neither a point nor a circle.")


def positions(shapes: Sequence[Shape]) -> Array:
    """(N, 2) of points, centres of circles and the points of rows."""
    places = [s.points if isinstance(s, Row) else position(s)[None] for s in shapes]
    return np.vstack([np.empty((0, 2)), *places])


def ends_of(shape: Shape) -> Array:
    """(2, 2) ends of an edge or of a tube's axis."""
    if isinstance(shape, Edge):
        return shape.ends
    if isinstance(shape, Tube):
        return shape.axis
    raise TypeError(f"{shape!r} is not straight.")


def direction(shape: Shape, role: str) -> Array:
    """(2,) unit vector from the first click to the last. Raises GeometryError for no length."""
    ends = ends_of(shape)
    length = float(np.linalg.norm(ends[1] - ends[0]))
    if length == 0:
        raise GeometryError(f"{role!r} has no length, so no direction. Point at more of it.")
    return np.asarray((ends[1] - ends[0]) / length)


def between(start: Array, end: Array, words: str) -> Array:
    """(2,) unit vector. Raises GeometryError, with these words, where both places are one."""
    length = float(np.linalg.norm(end - start))
    if length == 0:
        raise GeometryError(f"{words} lie on one spot, so they give no direction. Move one.")
    return np.asarray((end - start) / length)


def crossing(a: Array, b: Array) -> Array | None:
    """(2,) where the lines through two pairs of ends (2, 2) meet, if not far from them."""
    try:
        found = line_intersection(a[0], a[1] - a[0], b[0], b[1] - b[0])
    except GeometryError:
        return None
    middle = (a + b).mean(axis=0) / 2
    reach = float(np.max(np.linalg.norm(np.vstack([a, b]) - middle, axis=1)))
    return found if float(np.linalg.norm(found - middle)) < _FAR * reach else None


def left_of(along: Array) -> Array:
    """(2,) a quarter turn anticlockwise."""
    return np.array([-along[1], along[0]])


def turn_deg(along: Array, since: Array) -> float:
    """The anticlockwise angle from one direction to another, 0° to 360°."""
    cross = float(since[0] * along[1] - since[1] * along[0])
    return float(np.degrees(np.arctan2(cross, float(since @ along)))) % 360.0


def side_words(left_by: float) -> str:
    """On which side something lies that is so far to the left."""
    return "left" if left_by >= 0 else "right"


def outline(shape: Shape) -> Array:
    """(N, 2) chain of points; a closed curve comes back to its first."""
    if isinstance(shape, Edge):
        return shape.ends
    if isinstance(shape, Curve):
        return np.vstack([shape.points, shape.points[:1]]) if shape.closed else shape.points
    if isinstance(shape, Point):
        return shape.position[None]
    raise TypeError(f"{shape!r} has no outline of straight pieces.")


def circle_of(shape: Shape) -> Circle:
    """A circle, or the one that fits a curve along an arc best.

    Raises GeometryError for a curve that is straight.
    """
    if isinstance(shape, Circle):
        return shape
    if isinstance(shape, Curve):
        centre, radius = fit_circle(shape.points)
        return Circle(centre, radius, arc_seen_deg(shape.points, centre))
    raise TypeError(f"{shape!r} is not round.")


def circle_ends_deg(shape: Shape) -> tuple[float, float]:
    """Where an arc begins and ends, anticlockwise from +x; all round for a circle."""
    if not isinstance(shape, Curve):
        return 0.0, 360.0
    circle = circle_of(shape)
    arms = shape.points - circle.centre
    turns = np.degrees(np.unwrap(np.arctan2(arms[:, 1], arms[:, 0])))
    return float(turns.min()), float(turns.max())
