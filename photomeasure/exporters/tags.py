"""Where do tags go so that they hide neither each other nor run out of the picture?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

Array = NDArray[np.float64]

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in picture px."""

_DIRECTIONS = tuple(
    np.radians([35, -35, 145, -145, 0, 180, 90, -90, 15, -15, 165, -165, 60, -60, 120, -120])
)
_STEPS = (1.6, 2.6, 3.8, 5.2, 7.0, 9.5, 12.5)
_WIDTHS = {"m": 0.98, " ": 0.32, ".": 0.32, "°": 0.5, "±": 0.84}  # em, of a wide sans serif
_ROLES = ("value", "detail", "feature")
_LETTER_STEPS = (0.9, 1.5, 2.4)

POINT_STEP = 0.25
"""The points of a drawing lie this far apart, of the text's height, for the costs to hold.

What is small has more of them: half of a long line may be hidden, a whole hole not.
"""

# All costs are of a square as high as the text.
_OVERLAP_COST = 4.0  # for each such square of another tag or anchor that is hidden
_POINT_COST = 0.5  # for each point of the drawing that is hidden
_CROSSING_COST = 30.0  # for each point of a leader that crosses a tag, whosever it is
_TOUCH_COST = 0.6  # for each point of a leader on a line of the drawing
_LENGTH_COST = 0.3  # for each height of the text that a leader is long
_LEADER_POINTS = 24
_TOUCH = 0.2  # a leader this near to a line is on it, of the text's height
_AIR = 0.2  # around a box, of the text's height
_OWN = 0.8  # but not this near to what it names
_TRIALS = 2  # values that may choose first
_ROUNDS = 3  # in which every value may move once the others stand


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
    """Give every tag its box in the room; what hides and crosses least wins.

    The tags come back values first. drawn_px : (N, 2) points of what a box should not hide
    and a leader not run along, POINT_STEP of the text apart.
    """
    ordered = sorted(tags, key=lambda t: _ROLES.index(t.role))
    spots = np.array([_spot(t.anchor_px, text_px) for t in tags]).reshape(-1, 4)
    choices = [_choice(tag, _Scene(spots, room, text_px, drawn_px)) for tag in ordered]
    values = [choice for choice in choices if choice.tag.role == "value"]
    trials = [_placed(values, first) for first in range(min(len(values), _TRIALS))]
    placed = min(trials, key=lambda trial: trial[1])[0] if trials else []
    for choice in choices[len(values) :]:
        placed.append(_best(choice, placed)[0])
    return tuple(placed)


@dataclass(frozen=True, eq=False)
class _Scene:
    """What stands before any tag does. spots : (T, 4) around what the tags name."""

    spots: Array
    room: Box
    text_px: float
    drawn_px: Array


@dataclass(frozen=True, eq=False)
class _Choice:
    """The boxes (C, 4) that a tag may stand in, with their leaders (C, N, 2), what each costs
    wherever the other tags stand, and how far from the drawing each leader's points are (C, N)."""

    tag: Tag
    boxes: Array
    leaders: Array
    costs: Array
    apart_px: Array
    text_px: float


def _choice(tag: Tag, scene: _Scene) -> _Choice:
    boxes = np.array(_candidates(tag, scene.room, scene.text_px))
    leaders = _leaders(tag, boxes)
    grown = boxes + _AIR * scene.text_px * np.array([-1.0, -1.0, 1.0, 1.0])
    costs = _POINT_COST * _count(scene.drawn_px, grown)
    costs += _overlap(boxes, scene.spots, scene.text_px)
    return _Choice(tag, boxes, leaders, costs, _apart(leaders, scene.drawn_px), scene.text_px)


def _placed(values: Sequence[_Choice], first: int) -> tuple[list[Tag], float]:
    """The values in their boxes when this one chooses first, and what they cost together."""
    turns = sorted(range(len(values)), key=lambda k: k != first)
    placed: dict[int, Tag] = {}
    costs: dict[int, float] = {}
    for _ in range(_ROUNDS):
        before = dict(placed)
        for k in turns:
            others = [p for j, p in placed.items() if j != k]
            placed[k], costs[k] = _best(values[k], others)
        if placed == before:
            break
    return [placed[k] for k in range(len(values))], sum(costs.values())


def _best(choice: _Choice, others: Sequence[Tag]) -> tuple[Tag, float]:
    """The tag in the box that costs least while the others stand where they stand."""
    taken = np.reshape([other.box for other in others], (-1, 4))
    theirs = np.vstack([np.empty((0, 2)), *(_leaders(o, np.array([o.box]))[0] for o in others)])
    crossed = _count(choice.leaders, taken).sum(axis=1) + _count(theirs, choice.boxes)
    costs = (
        choice.costs
        + _overlap(choice.boxes, taken, choice.text_px)
        + _CROSSING_COST * crossed
        + _touching(choice, theirs)
    )
    least = int(np.argmin(costs))
    x0, y0, x1, y1 = choice.boxes[least].tolist()
    return replace(choice.tag, box=(x0, y0, x1, y1)), float(costs[least])


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


def _overlap(boxes: Array, taken: Array, text_px: float) -> Array:
    """(C,) what each box (C, 4) costs by what it would hide of those that are taken (T, 4)."""
    low = np.maximum(boxes[:, None, :2], taken[:, :2])
    high = np.minimum(boxes[:, None, 2:], taken[:, 2:])
    common = np.prod(np.maximum(high - low, 0.0), axis=2).sum(axis=1)
    return np.asarray(_OVERLAP_COST * common / text_px**2)


def _leaders(tag: Tag, boxes: Array) -> Array:
    """(C, N, 2) points of the line from what a tag names to each of the boxes (C, 4)."""
    anchor = np.array(tag.anchor_px)
    reach = np.clip(anchor, boxes[:, :2], boxes[:, 2:]) - anchor
    return np.asarray(anchor + np.linspace(0.15, 1.0, _LEADER_POINTS)[:, None] * reach[:, None])


def _touching(choice: _Choice, theirs: Array) -> Array:
    """(C,) what each leader costs by its length and by the lines, of the drawing and of the
    other leaders (N, 2), that it crosses or follows."""
    away = np.linalg.norm(choice.leaders - np.array(choice.tag.anchor_px), axis=2)
    apart = np.minimum(choice.apart_px, _apart(choice.leaders, theirs))
    on_line = (apart < _TOUCH * choice.text_px) & (away > _OWN * choice.text_px)
    length = away[:, -1] / choice.text_px
    steps = length / (POINT_STEP * _LEADER_POINTS)  # so that a long leader's points count more
    return np.asarray(_LENGTH_COST * length + _TOUCH_COST * steps * on_line.sum(axis=1))


def _apart(leaders: Array, lines_px: Array) -> Array:
    """(C, N) how far each point of the leaders (C, N, 2) is from the nearest point of lines."""
    if len(lines_px) == 0:
        return np.full(leaders.shape[:2], np.inf)
    return np.asarray(KDTree(lines_px).query(leaders)[0])


def _count(points: Array, boxes: Array) -> Array:
    """(…, B) how many of the points (…, N, 2) lie in each of the boxes (B, 4)."""
    at = points[..., None, :]
    within = np.all((at > boxes[:, :2]) & (at < boxes[:, 2:]), axis=-1)
    return np.asarray(np.count_nonzero(within, axis=-2), float)


def _spot(at: tuple[float, float], text_px: float) -> Box:
    half = 0.4 * text_px
    return at[0] - half, at[1] - half, at[0] + half, at[1] + half
