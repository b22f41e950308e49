"""Where on a picture does everything of a report go?

Features, located edge points and dimension lines in mm become strokes, dots and tags in
picture px, which the page (SVG) and the still (PNG) both draw. Frame of a picture here:
x right, y down, (0, 0) at the top left *corner*, as SVG has it; a pixel centre lies at .5.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.exporters.tags import POINT_STEP, Box, Tag, place_tags
from photomeasure.exporters.words import figure
from photomeasure.geometry.camera import image_from_plane
from photomeasure.records.feature import Feature
from photomeasure.records.report import Measurement, Picture, Report
from photomeasure.records.shapes import (
    Circle,
    DrawnArc,
    DrawnCircle,
    DrawnLabel,
    DrawnPolyline,
    DrawnSegment,
    DrawnShape,
    Edge,
    Point,
    Row,
    Shape,
    Tube,
)
from photomeasure.records.view import View

Array = NDArray[np.float64]
Placement = Callable[[Array], Array]
"""(N, 2) mm on a plane to (N, 2) picture px."""

_CIRCLE_STEPS = 96
_LINE_STEPS = 16
_MOST_DOTS = 36
_FEWEST_POINTS = 24  # of anything that a tag should not hide


@dataclass(frozen=True, eq=False)
class Stroke:
    """A chain of straight lines. points_px : (N, 2).

    role : "feature", "dimension", "construction", "alternative" or "grid".
    """

    points_px: Array
    role: str
    arrows: bool = False


@dataclass(frozen=True, eq=False)
class Overlay:
    """All that is drawn on one picture, in its px. dots_px : (N, 2) located edge points."""

    size_px: tuple[int, int]
    strokes: tuple[Stroke, ...]
    dots_px: Array
    tags: tuple[Tag, ...]


def letters(report: Report) -> dict[str, str]:
    """Feature name → the letter that stands for it in pictures: a … z, then aa, ab, …"""
    names = [feature.name for feature in report.features.features]
    return {name: _letter(k) for k, name in enumerate(names)}


def numbers(report: Report) -> dict[str, int]:
    """Measurement name → the number that stands for it in pictures."""
    return {m.name: k for k, m in enumerate(report.measurements, start=1)}


def overlay(
    report: Report,
    picture: Picture,
    text_px: float,
    only: Sequence[Measurement] | None = None,
    room: Box | None = None,
) -> Overlay:
    """Everything to draw on this picture.

    text_px : height of a tag's text; `only` keeps to some measurements, each with its
    number asked for, and drops the letters of features; `room` is where tags may stand.
    Raises GeometryError when a drawing goes behind the camera.
    """
    measurements = on_picture(report, picture, report.measurements if only is None else only)
    features = _features_on(report, picture, measurements, everything=only is None)
    height, width = picture.pixels.shape[:2]
    strokes = _strokes(report, picture, features, measurements)
    wanted = [] if only is not None else [_letter_tag(report, picture, f) for f in features]
    for measurement in measurements:
        place = _placement(report, picture, _first_of(report, measurement))
        wanted += _value_tags(report, measurement, place)
    if only is not None:
        wanted = [tag for tag in wanted if tag.role == "value"]
    shown = _obstacles(report, picture, strokes, POINT_STEP * text_px)
    tags = place_tags(wanted, room or (2.0, 2.0, width - 2.0, height - 2.0), text_px, shown)
    return Overlay((width, height), tuple(strokes), _dots(picture, features), tags)


def drawn_px(report: Report, picture: Picture) -> Array:
    """(N, 2) picture px of everything that is drawn on this picture but tags."""
    measurements = on_picture(report, picture, report.measurements)
    features = _features_on(report, picture, measurements, everything=True)
    strokes = _strokes(report, picture, features, measurements)
    return np.vstack([np.empty((0, 2)), *(s.points_px for s in strokes)])


def _obstacles(
    report: Report, picture: Picture, strokes: Sequence[Stroke], step_px: float
) -> Array:
    """(N, 2) px of what no tag should hide: all that is drawn, and every feature drawn or not."""
    features = _features_on(report, picture, (), everything=True)
    strokes = [
        *(s for s in strokes if s.role != "feature"),
        *(s for f in features for s in _feature_strokes(report, picture, f)),
    ]
    chains = [
        _even(s.points_px, step_px / (2 if s.role == "dimension" else 1))  # what a tag is about
        for s in strokes
        if s.role != "alternative"
    ]
    return np.vstack([np.empty((0, 2)), *chains])


def _even(chain: Array, step_px: float) -> Array:
    """A chain with points `step_px` apart at most, and some at least."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(chain, axis=0), axis=1))])
    at = np.linspace(0.0, along[-1], max(_FEWEST_POINTS, int(along[-1] / step_px)))
    return np.column_stack([np.interp(at, along, chain[:, k]) for k in (0, 1)])


def _strokes(
    report: Report,
    picture: Picture,
    features: Sequence[Feature],
    measurements: Sequence[Measurement],
) -> list[Stroke]:
    strokes = [s for f in features for s in _feature_strokes(report, picture, f)]
    for measurement in measurements:
        place = _placement(report, picture, _first_of(report, measurement))
        strokes += [s for shape in measurement.drawing for s in drawn_strokes(shape, place)]
    return strokes


def grid(picture: Picture) -> tuple[tuple[Stroke, ...], tuple[tuple[float, float, str], ...]]:
    """The mm grid of a rectified picture: lines every 10 mm and (x, y, text) every 50 mm."""
    if picture.plane_mm is None:
        raise GeometryError("A grid belongs on a rectified picture, not on a photo.")
    x0, y0, x1, y1 = picture.plane_mm
    place = _rectified(picture)
    lines, texts = [], []
    for x in _tens(x0, x1):
        lines.append(Stroke(place(np.array([[x, y0], [x, y1]])), _grid_role(x)))
        if x % 50 == 0:
            texts.append((float(place(np.array([[x, y0]]))[0, 0]), -1.0, f"{x}"))
    for y in _tens(y0, y1):
        lines.append(Stroke(place(np.array([[x0, y], [x1, y]])), _grid_role(y)))
        if y % 50 == 0:
            texts.append((-1.0, float(place(np.array([[x0, y]]))[0, 1]), f"{y}"))
    return tuple(lines), tuple(texts)


def picture_title(picture: Picture) -> str:
    """What the picture shows."""
    if picture.plane is None:
        return f"Photo {picture.photo}"
    return f"Plane {picture.plane}, rectified from photo {picture.photo}"


def view_of(report: Report, photo: str, target: str) -> View:
    """The view of a photo in the frame of a sheet or card; KeyError when the job has none."""
    return {(view.photo, view.sheet): view for view in report.solution.views}[photo, target]


def _tens(low: float, high: float) -> range:
    return range(int(np.ceil(low / 10)) * 10, int(np.floor(high / 10)) * 10 + 1, 10)


def _grid_role(at: int) -> str:
    return "grid-fifty" if at % 50 == 0 else "grid"


def _letter(k: int) -> str:
    return (chr(96 + k // 26) if k >= 26 else "") + chr(97 + k % 26)


def _placement(report: Report, picture: Picture, feature: Feature) -> Placement:
    """From mm on the plane of a feature."""
    if picture.plane is not None:
        return _rectified(picture)
    view = view_of(report, picture.photo, feature.target).parameters
    height = report.heights_mm[feature.plane]
    return lambda points: (image_from_plane(points, view, height) + 0.5) * picture.scale


def _rectified(picture: Picture) -> Placement:
    x0, _, _, y1 = picture.plane_mm or (0.0, 0.0, 0.0, 0.0)
    return lambda points: (points - [x0, y1]) * [1.0, -1.0] * picture.scale


def _first_of(report: Report, measurement: Measurement) -> Feature:
    return report.features[measurement.features[0]]


def _shows(picture: Picture, feature: Feature) -> bool:
    same_plane = picture.plane in (None, feature.plane)
    return feature.photo == picture.photo and same_plane


def on_picture(
    report: Report, picture: Picture, measurements: Sequence[Measurement]
) -> list[Measurement]:
    """The measurements with a feature that this picture shows.

    A rectified picture shows only what is drawn on its own plane, that of the first feature.
    """
    return [
        m
        for m in measurements
        if any(
            _shows(picture, report.features[f])
            for f in (m.features if picture.plane is None else m.features[:1])
        )
    ]


def _features_on(
    report: Report, picture: Picture, measurements: Sequence[Measurement], everything: bool
) -> list[Feature]:
    used = {name for m in measurements for name in m.features}
    features = [f for f in report.features.features if everything or f.name in used]
    return [f for f in features if _shows(picture, f)]


def _feature_strokes(report: Report, picture: Picture, feature: Feature) -> list[Stroke]:
    place = _placement(report, picture, feature)
    strokes = [Stroke(place(chain), "feature") for chain in shape_chains(feature.shape)]
    if picture.plane is None:
        strokes += [
            Stroke((a.points_px + 0.5) * picture.scale, "alternative")
            for a in feature.image.alternatives
            if a.number != feature.image.chosen and len(a.points_px)
        ]
    return strokes


def shape_chains(shape: Shape) -> list[Array]:
    """A feature's shape as chains of points in mm; a point becomes a small cross."""
    if isinstance(shape, Point):
        return _cross(shape.position)
    if isinstance(shape, Edge):
        return [_line(shape.ends[0], shape.ends[1])]
    if isinstance(shape, Circle):
        return [_arc(shape.centre, shape.radius, 0.0, 360.0)]
    if isinstance(shape, Tube):
        way = shape.axis[1] - shape.axis[0]
        arm = shape.radius * np.array([-way[1], way[0]]) / np.linalg.norm(way)
        return [_line(*(shape.axis + side * arm)) for side in (1.0, -1.0)]
    if isinstance(shape, Row):
        return [chain for place in shape.points for chain in _cross(place)]
    return [np.vstack([shape.points, shape.points[:1]]) if shape.closed else shape.points]


def _cross(place: Array) -> list[Array]:
    arms = np.array([[1.5, 0.0], [0.0, 1.5]])
    return [np.array([place - arm, place + arm]) for arm in arms]


def drawn_strokes(shape: DrawnShape, place: Placement) -> list[Stroke]:
    """One shape of a drawing as strokes where `place` puts them; a label has none."""
    if isinstance(shape, DrawnSegment):
        chain = _line(np.array(shape.start_mm), np.array(shape.end_mm))
        return [Stroke(place(chain), "dimension", shape.arrows)]
    if isinstance(shape, DrawnCircle):
        chain = _arc(np.array(shape.centre_mm), shape.radius_mm, 0.0, 360.0)
        return [Stroke(place(chain), "construction" if shape.dashed else "dimension")]
    if isinstance(shape, DrawnArc):
        chain = _arc(np.array(shape.centre_mm), shape.radius_mm, shape.start_deg, shape.end_deg)
        return [Stroke(place(chain), "dimension")]
    if isinstance(shape, DrawnPolyline):
        points = np.array(shape.points_mm, float).reshape(-1, 2)
        chain = np.vstack([points, points[:1]]) if shape.closed else points
        return [Stroke(place(chain), "dimension")]
    return []


def _line(start: Array, end: Array) -> Array:
    return start + np.linspace(0.0, 1.0, _LINE_STEPS)[:, None] * (end - start)


def _arc(centre: Array, radius: float, start_deg: float, end_deg: float) -> Array:
    span = end_deg - start_deg if end_deg > start_deg else end_deg - start_deg + 360.0
    angles = np.radians(start_deg + np.linspace(0.0, span, _CIRCLE_STEPS))
    return centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])


def _dots(picture: Picture, features: Sequence[Feature]) -> Array:
    if picture.plane is not None:
        return np.empty((0, 2))
    chains = [f.image.points_px for f in features]
    thinned = [c[:: max(1, len(c) // _MOST_DOTS)] for c in chains]
    return (np.vstack([np.empty((0, 2)), *thinned]) + 0.5) * picture.scale


def _letter_tag(report: Report, picture: Picture, feature: Feature) -> Tag:
    place = _placement(report, picture, feature)
    at = place(_letter_anchor(feature.shape)[None])[0]
    return Tag("feature", letters(report)[feature.name], "", (float(at[0]), float(at[1])))


def _letter_anchor(shape: Shape) -> Array:
    if isinstance(shape, Point):
        return shape.position
    if isinstance(shape, Edge):
        return np.asarray(shape.ends[0] + 0.2 * (shape.ends[1] - shape.ends[0]))
    if isinstance(shape, Circle):
        return np.asarray(shape.centre + shape.radius * np.array([0.6, 0.8]))
    if isinstance(shape, Tube):
        return np.asarray(shape.axis[0] + 0.2 * (shape.axis[1] - shape.axis[0]))
    return np.asarray(shape.points[len(shape.points) // 5])


def _value_tags(report: Report, measurement: Measurement, place: Placement) -> list[Tag]:
    """One tag a label that names a quantity, at most one a quantity."""
    quantities = {q.name: q for q in measurement.quantities}
    labels = [s for s in measurement.drawing if isinstance(s, DrawnLabel)]
    badge = str(numbers(report)[measurement.name])
    tags = []
    for label in labels:
        quantity = quantities.get(label.quantity)
        at = place(np.array([label.at_mm], float))[0]
        text = figure(quantity, report.job.unit) if quantity else label.quantity
        role = "value" if quantity is None or quantity.primary else "detail"
        tags.append(Tag(role, badge, text, (float(at[0]), float(at[1]))))
    return tags
