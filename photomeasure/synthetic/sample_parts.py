"""Which parts lie on the bench in the sample photos?

The invented job: a geared motor is fitted to a hand-cranked apple mill. Sizes are as made,
a few hundredths off the drawing, as real parts are; true mm in the sheet frame.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.shapes import Circle, Curve, Edge
from photomeasure.synthetic.scene import Hole, Pair, Part, Profile

Array = NDArray[np.float64]


def turned(points: Sequence[Pair] | Array, deg: float, at: Pair) -> tuple[Pair, ...]:
    """Points turned about the origin, then moved."""
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    moved = np.asarray(points, float) @ np.array([[c, s], [-s, c]]) + np.asarray(at)
    return tuple((float(x), float(y)) for x, y in moved)


def rounded(corners: Sequence[Pair], radius_mm: float) -> Profile:
    """A polygon, anticlockwise, with filleted corners; side i is `edge(2 * i + 1)`."""
    points, bulges = [], []
    for i, corner in enumerate(np.asarray(corners, float)):
        into = _unit(corner - np.asarray(corners[i - 1], float))
        out = _unit(np.asarray(corners[(i + 1) % len(corners)], float) - corner)
        turn = float(np.arctan2(into[0] * out[1] - into[1] * out[0], into @ out))
        reach = radius_mm * np.tan(abs(turn) / 2)
        points += [_pair(corner - reach * into), _pair(corner + reach * out)]
        bulges += [float(np.tan(turn / 4)), 0.0]
    return Profile(tuple(points), tuple(bulges))


def disc(centre: Pair, radius_mm: float) -> Profile:
    """A full circle as two half arcs."""
    x, y = centre
    return Profile(((x - radius_mm, y), (x + radius_mm, y)), (1.0, 1.0))


def arc(centre: Pair, radius_mm: float, between_deg: Pair) -> Curve:
    """The arc of a circle between two directions from +x, anticlockwise, every half degree."""
    angle = np.radians(np.linspace(*between_deg, round(2 * np.ptp(between_deg)) + 1))
    points = np.asarray(centre) + radius_mm * np.column_stack([np.cos(angle), np.sin(angle)])
    return Curve(points)


def side(part: Part, index: int) -> Edge:
    """Straight side `index` of a rounded outline, on the upper face."""
    ends = part.outline.edge(2 * index + 1)
    along = _unit(ends[1] - ends[0])
    return Edge(ends + part.edge_chamfer_mm * np.array([-along[1], along[0]]))


def rim(part: Part, hole: str) -> Circle:
    """The rim of a hole on the upper face."""
    found = part.hole(hole)
    return Circle(np.array(found.centre_mm), found.rim_radius_mm)


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))


def _pair(position: Array) -> Pair:
    return float(position[0]), float(position[1])


def _ring_of_holes(
    name: str, circle_mm: float, radius_mm: float, angles_deg: Sequence[float], errors: Array
) -> list[Hole]:
    """Holes on a bolt circle about the origin, each with its error of place (mm)."""
    angle = np.radians(np.asarray(angles_deg, float))
    places = circle_mm / 2 * np.column_stack([np.cos(angle), np.sin(angle)]) + errors
    return [Hole(f"{name} {k + 1}", _pair(p), radius_mm) for k, p in enumerate(places)]


def _placed(holes: Sequence[Hole], deg: float, at: Pair) -> tuple[Hole, ...]:
    centres = turned([h.centre_mm for h in holes], deg, at)
    return tuple(
        Hole(h.name, centre, h.radius_mm, h.chamfer_mm)
        for h, centre in zip(holes, centres, strict=True)
    )


def flange(deg: float = 7.0, at: Pair = (2.0, 6.0)) -> Part:
    """The motor's mounting flange: 110 mm square, a bore and four holes."""
    errors = np.array([[0.05, -0.03], [-0.04, 0.02], [0.03, 0.06], [-0.06, -0.02]])
    holes = [
        Hole("bore", (0.0, 0.0), 22.02),
        *_ring_of_holes("hole", 82.0, 4.52, (45, 135, 225, 315), errors),
    ]
    corners = [(-55, -55), (55, -55), (55, 55), (-55, 55)]
    outline = rounded(turned(corners, deg, at), 12.0)
    return Part("flange", outline, 6.03, _placed(holes, deg, at), texture=0.02)


def cover(deg: float = 12.0, at: Pair = (-1.0, -4.0)) -> Part:
    """The bearing cover: a painted disc with a chamfered bore and six holes."""
    errors = 0.04 * np.random.default_rng(6).standard_normal((6, 2))
    holes = [
        Hole("bore", (0.0, 0.0), 20.01, 1.0),
        *_ring_of_holes("hole", 88.0, 3.31, range(0, 360, 60), errors),
    ]
    return Part("cover", disc(at, 52.0), 3.02, _placed(holes, deg, at))


def bracket() -> Part:
    """The bracket that carries the motor: 4 mm plate with two slots' worth of holes."""
    corners = [(-58, -42), (58, -42), (58, 30), (-58, 30)]
    holes = [Hole("hole 1", (-36.0, -12.0), 5.5), Hole("hole 2", (36.05, -11.96), 5.5)]
    place = (-1.5, -52.0)
    outline = rounded(turned(corners, 2.5, place), 5.0)
    return Part("bracket", outline, 4.04, _placed(holes, 2.5, place))


def guard() -> Part:
    """The guard over the gears, on the same plane as the bracket, a finger's gap away."""
    corners = [(-54.0, -15.6), (52.0, -9.2), (52.0, 62.0), (-12.0, 70.0)]
    return Part("guard", rounded(corners, 5.0), 4.04, (Hole("hole 1", (26.0, 36.0), 4.2),))


def drive_disc() -> Part:
    """The rubber disc that drives the crank."""
    centre = (-46.0, 3.0)
    return Part("drive disc", disc(centre, 41.1), 5.05, (Hole("bore", centre, 10.03),))


def stand() -> Part:
    """The steel stand beside the drive disc."""
    corners = [(4.5, -58.0), (92.0, -55.0), (90.0, 56.0), (2.0, 50.0)]
    holes = tuple(Hole(f"hole {i + 1}", (72.0, y), 3.3) for i, y in enumerate((-36.0, 0.0, 37.0)))
    return Part("stand", rounded(corners, 4.0), 5.05, holes)


def pulley() -> Part:
    """The mill's belt pulley, up on its frame; seen from its end it is a disc with a bore."""
    centre = (-38.0, 8.0)
    return Part("pulley", disc(centre, 38.12), 26.05, (Hole("bore", centre, 9.02),))


def belt_guard() -> Part:
    """The plate of the belt guard beside the pulley, its face level with the pulley's."""
    corners = [(9.6, -60.0), (96.0, -58.0), (95.0, 62.0), (7.1, 64.0)]
    return Part("belt guard", rounded(corners, 4.0), 26.05)


def frame_plate() -> Part:
    """The plate of the mill's frame behind both."""
    corners = [(-125.0, -95.0), (135.0, -95.0), (135.0, 98.0), (-125.0, 98.0)]
    return Part("frame", rounded(corners, 6.0), 6.0)


def shim(deg: float = -4.0, at: Pair = (1.0, 3.0)) -> Part:
    """A brass shim, 1 mm, with two open slots and three holes."""
    points = [(-48, -32), (-31.05, -32), (-31.05, -6), (-19.95, -6), (-19.95, -32)]
    points += [
        (19.94, -32),
        (19.94, -6),
        (31.06, -6),
        (31.06, -32),
        (48, -32),
        (48, 32),
        (-48, 32),
    ]
    bulges = tuple(-1.0 if i in (2, 6) else 0.0 for i in range(len(points)))
    holes = [Hole(f"hole {i + 1}", (x, 19.0), 3.22) for i, x in enumerate((-33.0, 0.04, 33.02))]
    outline = Profile(turned(points, deg, at), bulges)
    return Part("shim", outline, 1.01, _placed(holes, deg, at))


def nut(at: Pair, across_mm: float = 13.0, deg: float = 10.0) -> Part:
    """A hexagon nut lying about."""
    angle = np.radians(np.arange(6) * 60.0)
    corners = across_mm / np.sqrt(3) * np.column_stack([np.cos(angle), np.sin(angle)])
    outline = Profile(turned(corners, deg, at))
    hole = Hole("thread", at, across_mm * 0.27, 0.6)
    return Part("nut", outline, across_mm * 0.5, (hole,), edge_chamfer_mm=0.7)


def washer(at: Pair, radius_mm: float = 8.0) -> Part:
    """A plain washer lying about."""
    return Part("washer", disc(at, radius_mm), 1.6, (Hole("hole", at, radius_mm * 0.53),))
