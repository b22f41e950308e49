"""What does every kind of measurement declare, and does a job give it what it needs?

A kind is a pure function from shapes in millimetres to named numbers. It holds no
uncertainty code: the covariance reaches its results by the numeric Jacobian of `evaluate`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import JobError
from photomeasure.records.feature import FEATURE_KINDS
from photomeasure.records.shapes import (
    Circle,
    Curve,
    DrawnShape,
    Edge,
    Pair,
    Point,
    Row,
    Shape,
    Tube,
)

Shapes = Mapping[str, tuple[Shape, ...]]
"""Role → the shapes given for it, in the job's order."""

S = TypeVar("S", Point, Edge, Circle, Curve, Tube, Row)

_KIND_OF: dict[type, str] = {
    Point: "point",
    Edge: "edge",
    Circle: "circle",
    Curve: "curve",
    Tube: "tube",
    Row: "row",
}


@dataclass(frozen=True)
class Need:
    """One role of a measurement: which feature kinds, how many, and what to ask for.

    minimum : 0 for a role that may be left out. maximum : None for as many as wanted.
    `prompt` is what the person is told to point at.
    """

    role: str
    kinds: tuple[str, ...]
    prompt: str
    minimum: int = 1
    maximum: int | None = 1


@dataclass(frozen=True)
class Output:
    """One number that comes out. unit : "mm" or "deg"; exactly one output is primary.

    period : after how much the number begins anew, as an angle does at 360°; 0 for never.
    """

    name: str
    unit: str
    words: str
    primary: bool = False
    period: float = 0.0


class MeasurementKind(Protocol):
    """A kind of measurement. Its class holds the facts, its methods are pure functions."""

    @property
    def name(self) -> str:
        """As written in the job."""

    @property
    def summary(self) -> str:
        """What it measures, in plain words."""

    @property
    def needs(self) -> tuple[Need, ...]:
        """The roles that features are given for."""

    @property
    def monte_carlo(self) -> bool:
        """Whether its distribution must be drawn."""

    @property
    def one_plane(self) -> bool:
        """Whether its features must share a plane."""

    def outputs(self, features: Shapes) -> tuple[Output, ...]:
        """What comes out for these features; the primary output always stands first."""

    def evaluate(self, features: Shapes) -> dict[str, float]:
        """Output name → value, for every output. Raises GeometryError."""

    def remarks(self, features: Shapes, values: Mapping[str, float]) -> tuple[str, ...]:
        """What a person should know beside the numbers, one sentence each."""

    def draw(self, features: Shapes, values: Mapping[str, float]) -> tuple[DrawnShape, ...]:
        """The dimension as it is drawn over the picture, sheet frame, mm."""


def check_needs(kind: MeasurementKind, measurement: str, given: Mapping[str, object]) -> None:
    """Raise JobError, listing every fault, unless the features given fit the needs.

    given : role → a sequence of feature kinds ("edge") or of shapes.
    """
    known = {need.role: need for need in kind.needs}
    problems = [
        f"Measurement {measurement!r} ({kind.name}) has no role {role!r}; "
        f"it has {', '.join(known)}. Rename or remove it."
        for role in given
        if role not in known
    ]
    for need in kind.needs:
        problems += _problems(need, f"Measurement {measurement!r} ({kind.name})", given)
    if problems:
        raise JobError(problems)


def check_planes(kind: MeasurementKind, measurement: str, planes: Mapping[str, str]) -> None:
    """Raise JobError where a kind wants one plane and its features lie on several.

    planes : feature name → the name of its plane.
    """
    if not kind.one_plane or len(set(planes.values())) <= 1:
        return
    where = ", ".join(f"{feature} on {plane!r}" for feature, plane in planes.items())
    raise JobError(
        f"Measurement {measurement!r} ({kind.name}) needs its features on one plane; they lie "
        f"{where}. Point at edges of the same height."
    )


def kind_of(shape: object) -> str:
    """The feature kind of a shape; a kind's name is passed through."""
    return shape if isinstance(shape, str) else _KIND_OF[type(shape)]


def only(features: Shapes, role: str, cls: type[S]) -> S:
    """The one shape of a role, of the class asked for. The needs have been checked."""
    (shape,) = features[role]
    if not isinstance(shape, cls):
        raise TypeError(f"Role {role!r} holds a {kind_of(shape)}, not a {_KIND_OF[cls]}.")
    return shape


def given(features: Shapes, role: str) -> tuple[Shape, ...]:
    """The shapes of a role; none for a role that was left out."""
    return features.get(role, ())


def pair(position: NDArray[np.float64]) -> Pair:
    """(2,) as the pair of numbers that drawn shapes take."""
    return float(position[0]), float(position[1])


def _problems(need: Need, who: str, given: Mapping[str, object]) -> list[str]:
    found = given.get(need.role, ())
    kinds = [kind_of(item) for item in found] if isinstance(found, list | tuple) else []
    problems = [
        f"{who}, role {need.role!r}: {_article(kind)} was given; it takes {_either(need.kinds)}. "
        "Choose another feature."
        for kind in kinds
        if kind in FEATURE_KINDS and kind not in need.kinds
    ]
    if len(kinds) < need.minimum:
        problems.append(
            f"{who}, role {need.role!r}: {_features(len(kinds))} given; at least {need.minimum} "
            f"needed. {need.prompt}"
        )
    if need.maximum is not None and len(kinds) > need.maximum:
        problems.append(
            f"{who}, role {need.role!r}: {_features(len(kinds))} given; at most {need.maximum} "
            "can be used. Remove the others."
        )
    return problems


def _features(count: int) -> str:
    return "1 feature was" if count == 1 else f"{count} features were"


def _either(kinds: tuple[str, ...]) -> str:
    return " or ".join(kinds)


def _article(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
