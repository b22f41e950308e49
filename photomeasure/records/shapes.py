"""The shapes a feature can have in millimetres, and the shapes a drawing is made of.

Every feature shape turns into a flat vector of numbers and back, so that uncertainty can
be carried through it by one Jacobian. Frame: the sheet frame, on the feature's plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pair = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Point:
    """A single position. position : (2,) mm."""

    position: Array

    @property
    def numbers(self) -> Array:
        """(2,) x, y."""
        return self.position

    def with_numbers(self, numbers: Array) -> Point:
        """The same kind of shape from (2,) numbers."""
        return Point(np.asarray(numbers, float))


@dataclass(frozen=True, eq=False)
class Edge:
    """A straight segment with extents. ends : (2, 2) mm."""

    ends: Array

    @property
    def numbers(self) -> Array:
        """(4,) x0, y0, x1, y1."""
        return self.ends.ravel()

    def with_numbers(self, numbers: Array) -> Edge:
        """The same kind of shape from (4,) numbers."""
        return Edge(np.asarray(numbers, float).reshape(2, 2))


@dataclass(frozen=True, eq=False)
class Circle:
    """A circle; `arc_deg` is how much of it was seen. centre : (2,) mm, radius in mm."""

    centre: Array
    radius: float
    arc_deg: float = 360.0

    @property
    def numbers(self) -> Array:
        """(3,) x, y, r."""
        return np.array([*self.centre, self.radius])

    def with_numbers(self, numbers: Array) -> Circle:
        """The same kind of shape from (3,) numbers."""
        return Circle(np.asarray(numbers[:2], float), float(numbers[2]), self.arc_deg)


@dataclass(frozen=True, eq=False)
class Curve:
    """A polyline, open or closed. points : (N, 2) mm."""

    points: Array
    closed: bool = False

    @property
    def numbers(self) -> Array:
        """(2N,)."""
        return self.points.ravel()

    def with_numbers(self, numbers: Array) -> Curve:
        """The same kind of shape from (2N,) numbers."""
        return Curve(np.asarray(numbers, float).reshape(-1, 2), self.closed)


@dataclass(frozen=True, eq=False)
class Tube:
    """A straight round body whose axis lies on the plane. axis : (2, 2) mm, radius in mm.

    taper_deg : by how much its two sides, as seen, run together along the axis; not 0 where
    the axis rises or falls against the plane, or the body is a cone.
    """

    axis: Array
    radius: float
    taper_deg: float = 0.0

    @property
    def numbers(self) -> Array:
        """(5,) x0, y0, x1, y1 of the axis, r."""
        return np.array([*self.axis.ravel(), self.radius])

    def with_numbers(self, numbers: Array) -> Tube:
        """The same kind of shape from (5,) numbers."""
        axis = np.asarray(numbers[:4], float).reshape(2, 2)
        return Tube(axis, float(numbers[4]), self.taper_deg)


@dataclass(frozen=True, eq=False)
class Row:
    """Points one after another, such as the crests of a thread. points : (N, 2) mm."""

    points: Array

    @property
    def numbers(self) -> Array:
        """(2N,)."""
        return self.points.ravel()

    def with_numbers(self, numbers: Array) -> Row:
        """The same kind of shape from (2N,) numbers."""
        return Row(np.asarray(numbers, float).reshape(-1, 2))


Shape = Point | Edge | Circle | Curve | Tube | Row


@dataclass(frozen=True)
class DrawnSegment:
    """A dimension line; `arrows` puts a head at both ends."""

    start_mm: Pair
    end_mm: Pair
    arrows: bool = False


@dataclass(frozen=True)
class DrawnCircle:
    """A full circle; `dashed` for a construction line such as a bolt circle."""

    centre_mm: Pair
    radius_mm: float
    dashed: bool = False


@dataclass(frozen=True)
class DrawnArc:
    """An arc, anticlockwise from start to end, angles from +x in degrees."""

    centre_mm: Pair
    radius_mm: float
    start_deg: float
    end_deg: float


@dataclass(frozen=True)
class DrawnPolyline:
    """A chain of straight lines."""

    points_mm: tuple[Pair, ...]
    closed: bool = False


@dataclass(frozen=True)
class DrawnLabel:
    """Where the measured value is written. `quantity` names the output shown."""

    at_mm: Pair
    quantity: str


DrawnShape = DrawnSegment | DrawnCircle | DrawnArc | DrawnPolyline | DrawnLabel
