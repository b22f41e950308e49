"""How does each kind of measurement look? Drawn by the kind itself over a made-up example.

No kind is known by name here: its needs say what to lay down, its `draw` says what is
measured on it. A kind that cannot be drawn over the examples has no picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import PhotomeasureError
from photomeasure.exporters.overlay import drawn_strokes, shape_chains
from photomeasure.measurements.kind import MeasurementKind, Need, Shapes
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube

Array = NDArray[np.float64]
Strokes = list[tuple[Array, str]]
"""Chains of points in mm, each with the class that the page's style sheet knows."""

_REACH_MM = 26.0  # how far from the middle the examples lie
_MARGIN_MM = 6.0
_ARROW_MM = 3.2


def kind_picture(kind: MeasurementKind) -> str:
    """An SVG without colours of its own; "" where the kind cannot be drawn."""
    for shapes in _examples(kind):
        try:
            values = kind.evaluate(shapes)
            drawing = kind.draw(shapes, values)
        except (PhotomeasureError, TypeError, ValueError, KeyError):
            continue
        strokes = [s for shape in drawing for s in drawn_strokes(shape, lambda mm: mm)]
        things = [(c, "thing") for group in shapes.values() for s in group for c in _outline(s)]
        lines = [(s.points_px, s.role) for s in strokes]
        heads = [(h, "head") for s in strokes if s.arrows for h in _heads(s.points_px)]
        return _svg([*things, *lines, *heads])
    return ""


def _examples(kind: MeasurementKind) -> Iterator[Shapes]:
    """Every choice of feature kinds for the needs, the first named first."""
    for kinds in product(*(need.kinds for need in kind.needs)):
        if all(name in _EXAMPLES for name in kinds):
            yield _laid_down(kind.needs, kinds)


def _laid_down(needs: tuple[Need, ...], kinds: tuple[str, ...]) -> Shapes:
    counts = [max(need.minimum, 4 if need.minimum > 2 else 0) for need in needs]
    total, k, shapes = sum(counts), 0, {}
    for need, kind, count in zip(needs, kinds, counts, strict=True):
        shapes[need.role] = tuple(_EXAMPLES[kind](k + i, total) for i in range(count))
        k += count
    return shapes


def _place(k: int, total: int) -> Array:
    """The k-th of so many places around the middle; a single one is the middle."""
    if total == 1:
        return np.zeros(2)
    turn = np.pi * (1 - 2 * k / total) + (0.15 if total == 2 else np.pi / 4)
    return _REACH_MM * np.array([np.cos(turn), np.sin(turn)])


def _edge(k: int, total: int) -> Shape:
    lean = np.radians(80 if k % 2 else 102)
    half = 22 * np.array([np.cos(lean), np.sin(lean)])
    return Edge(np.array([_place(k, total) - half, _place(k, total) + half]))


def _curve(k: int, total: int) -> Shape:
    along = np.linspace(-22, 22, 24)
    bulge = (4 if k % 2 else -4) * np.cos(along / 14)
    return Curve(_place(k, total) + np.column_stack([bulge, along]))


def _circle(k: int, total: int) -> Shape:
    return Circle(_place(k, total), 22.0 if total == 1 else 8.0 if total == 2 else 5.0)


def _tube(k: int, total: int) -> Shape:
    half = 22 * np.array([np.cos(np.radians(80)), np.sin(np.radians(80))])
    return Tube(np.array([_place(k, total) - half, _place(k, total) + half]), 6.0)


def _row(k: int, total: int) -> Shape:
    along = np.linspace(-18, 18, 7)
    return Row(_place(k, total) + np.column_stack([0 * along, along]))


_EXAMPLES: dict[str, Callable[[int, int], Shape]] = {
    "point": lambda k, total: Point(_place(k, total)),
    "edge": _edge,
    "circle": _circle,
    "curve": _curve,
    "tube": _tube,
    "row": _row,
}


def _outline(shape: Shape) -> list[Array]:
    return [np.asarray(chain, float) for chain in shape_chains(shape)]


def _heads(chain: Array) -> Iterator[Array]:
    """Filled triangles at both ends."""
    for tip, back in ((chain[0], chain[1]), (chain[-1], chain[-2])):
        length = float(np.linalg.norm(back - tip)) or 1.0
        along = (back - tip) / length * _ARROW_MM
        across = 0.38 * np.array([-along[1], along[0]])
        yield np.array([tip, tip + along + across, tip + along - across, tip])


def _svg(strokes: Strokes) -> str:
    everything = np.vstack([chain for chain, _ in strokes])
    low, high = everything.min(axis=0) - _MARGIN_MM, everything.max(axis=0) + _MARGIN_MM
    side = float(max(high - low))
    left, top = (low + high) / 2 - side / 2
    paths = "".join(f'<path class="{role}" d="{_path(chain)}"/>' for chain, role in strokes)
    box = f"{left:.1f} {-top - side:.1f} {side:.1f} {side:.1f}"
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{paths}</svg>'


def _path(chain: Array) -> str:
    return "M" + "L".join(f"{x:.1f} {-y:.1f}" for x, y in chain)
