"""Where do tags go so that they hide neither each other nor run out of the picture?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in picture px."""

_DIRECTIONS = tuple(np.radians([35, -35, 145, -145, 0, 180, 90, -90]))
_STEPS = (1.6, 2.6, 3.8, 5.2, 7.0)
_WIDTHS = {"m": 0.98, " ": 0.32, ".": 0.32, "°": 0.5, "±": 0.84}  # em, of a wide sans serif
_OVERLAP_COST = 4.0  # for each px² of another tag or anchor that is hidden
_POINT_COST = 0.05  # of a square text high, for each point of the drawing that is hidden
_CROSSING_COST = 8.0  # the same, for each point of a leader that crosses a tag
_LEADER_POINTS = 9
_LETTER_STEPS = (0.9, 1.5, 2.4)


@dataclass(frozen=True)
class Tag:
    """A badge and perhaps a text, standing near what it names.

    role : "feature" (a letter), "value" (a number and the measured value) or "detail" (a
    further value). anchor_px : what it points at; box : where it stands.
    """

    role: str
    badge: str
    text: str
    anchor_px: tuple[float, float]
    box: Box = (0.0, 0.0, 0.0, 0.0)


def place_tags(tags: Sequence[Tag], room: Box, text_px: float, drawn_px: Array) -> tuple[Tag, ...]:
    """Give every tag its box in the room, values first; the least overlap wins.

    drawn_px : (N, 2) points of the drawing, which a box should not hide.
    """
    placed: list[Tag] = []
    leaders = np.empty((0, 2))
    for tag in sorted(tags, key=lambda t: ("value", "detail", "feature").index(t.role)):
        candidates = _candidates(tag, room, text_px)
        taken = [p.box for p in placed] + [_spot(t.anchor_px, text_px) for t in tags]
        drawn = np.vstack([drawn_px, leaders])
        costs = [
            _hidden(box, taken, drawn, text_px) + _crossed(tag, box, placed, text_px)
            for box in candidates
        ]
        box = candidates[int(np.argmin(costs))]
        leaders = np.vstack([leaders, _leader(tag, box)])
        placed.append(replace(tag, box=box))
    return tuple(placed)


def tag_size(tag: Tag, text_px: float) -> tuple[float, float]:
    """(width, height) of a tag's box in px."""
    if not tag.text:
        return text_px * (0.75 + 0.55 * len(tag.badge)), text_px * 1.3
    return text_px * (2.35 + sum(_WIDTHS.get(c, 0.62) for c in tag.text)), text_px * 1.6


def _candidates(tag: Tag, room: Box, text_px: float) -> list[Box]:
    width, height = tag_size(tag, text_px)
    boxes = []
    for step in _STEPS if tag.text else _LETTER_STEPS:
        for angle in _DIRECTIONS:
            x = tag.anchor_px[0] + (step * text_px + width / 2) * np.cos(angle)
            y = tag.anchor_px[1] - (step * text_px + height / 2) * np.sin(angle)
            x = _held(float(x), room[0] + width / 2, room[2] - width / 2)
            y = _held(float(y), room[1] + height / 2, room[3] - height / 2)
            boxes.append((x - width / 2, y - height / 2, x + width / 2, y + height / 2))
    return boxes


def _held(value: float, low: float, high: float) -> float:
    return max(low, min(value, high))


def _hidden(box: Box, taken: Sequence[Box], drawn_px: Array, text_px: float) -> float:
    """How much a box would hide, as an area in px²; later candidates lie farther off."""
    inside = _inside(drawn_px, [box])
    common = sum(_common_area(box, other) for other in taken)
    return _OVERLAP_COST * common + _POINT_COST * text_px**2 * float(inside)


def _leader(tag: Tag, box: Box) -> Array:
    """(N, 2) points of the line from what a tag names to its box."""
    anchor = np.array(tag.anchor_px)
    near = np.clip(anchor, box[:2], box[2:])
    return np.asarray(anchor + np.linspace(0.15, 1.0, _LEADER_POINTS)[:, None] * (near - anchor))


def _crossed(tag: Tag, box: Box, placed: Sequence[Tag], text_px: float) -> float:
    """How much of other tags the leader of this one would cross out, as an area in px²."""
    inside = _inside(_leader(tag, box), [other.box for other in placed])
    return _CROSSING_COST * text_px**2 * float(inside)


def _inside(points: Array, boxes: Sequence[Box]) -> int:
    """How many times one of the points (N, 2) lies in one of the boxes."""
    x, y = points[:, :1], points[:, 1:]
    left, top, right, bottom = np.reshape(boxes, (-1, 4)).T
    return int(np.count_nonzero((x > left) & (y > top) & (x < right) & (y < bottom)))


def _spot(at: tuple[float, float], text_px: float) -> Box:
    half = 0.4 * text_px
    return at[0] - half, at[1] - half, at[0] + half, at[1] + half


def _common_area(a: Box, b: Box) -> float:
    width = min(a[2], b[2]) - max(a[0], b[0])
    height = min(a[3], b[3]) - max(a[1], b[1])
    return width * height if width > 0 and height > 0 else 0.0
