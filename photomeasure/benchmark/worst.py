"""Which numbers were farthest from the truth, and what did those places look like?

Everything is rendered again from its seed; nothing is kept while measuring.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.benchmark.cases import OURS, Case, report_on, scene_of, used_by
from photomeasure.errors import PhotomeasureError
from photomeasure.records.photo import Photo
from photomeasure.records.shapes import Circle, Edge, Shape
from photomeasure.synthetic.scene import PointedFeature, Scene
from photomeasure.synthetic.taking import photo_of

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_SIDE_PX = 1000
_MARGIN_PX = 25.0
_GREEN, _YELLOW, _RED = (40, 220, 40), (250, 220, 40), (240, 40, 40)
_COLUMNS = (
    "way", "photo", "seed", "phone", "measurement", "unit", "truth", "value", "error", "U",
    "hit", "wrong_rim", "told", "reason",
)  # fmt: skip


def render_cases(cases: Sequence[Case]) -> bytes:
    """Every case as a line of CSV."""
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(_COLUMNS)
    for c in cases:
        numbers = ("", "") if c.value is None else (f"{c.value:.5f}", f"{c.error:.5f}")
        names = (c.way, c.shot.words, c.shot.seed, c.shot.phone, c.measurement, c.unit)
        said = (f"{c.expanded:.5f}", int(c.hit), int(c.wrong_rim), int(c.told), c.reason)
        lines.writerow([*names, f"{c.truth:.5f}", *numbers, *said])
    return text.getvalue().encode()


def worst_of(cases: Sequence[Case], count: int = 10) -> list[Case]:
    """The largest errors over U of what the program measured in pictures."""
    ours = [c for c in cases if c.way == OURS and c.value is not None]
    return sorted(ours, key=lambda c: -abs(c.error) / max(c.expanded, 1e-9))[:count]


def render_case(case: Case) -> bytes:
    """A PNG of the feature that lies farthest from its truth.

    On the left as photographed; on the right truth is yellow, located points are red,
    clicks are green.
    """
    scene = scene_of(case.shot)
    photo = photo_of(scene)
    asked = [a for a in scene.measurements if a.entry.name == case.measurement]
    pointed = [f for f in scene.features if f.entry.name in used_by(asked)]
    try:
        report = report_on(scene, photo, asked, case.record)
        located = {f.name: f.image.points_px for f in report.features.features}
    except PhotomeasureError:
        located = {}
    feature = max(pointed, key=lambda f: _astray(scene, f, located.get(f.entry.name)))
    return _drawn(scene, photo, feature, located.get(feature.entry.name, np.empty((0, 2))))


def _astray(scene: Scene, pointed: PointedFeature, points_px: Array | None) -> float:
    """The median distance of located points from the true rim, px."""
    if points_px is None:
        return np.inf
    true = _truth_px(scene, pointed.shape)
    apart = np.linalg.norm(points_px[:, None] - true[None], axis=2).min(axis=1)
    return float(np.median(apart))


def _truth_px(scene: Scene, shape: Shape) -> Array:
    """(N, 2) a dense chain along the true rim."""
    top = scene.parts[0].thickness_mm
    share = np.linspace(0, 1, 1500)
    if isinstance(shape, Circle):
        arms = np.column_stack([np.cos(2 * np.pi * share), np.sin(2 * np.pi * share)])
        return scene.image_from_plane(shape.centre + shape.radius * arms, top)
    if not isinstance(shape, Edge):
        raise TypeError(f"{shape!r} is neither a hole nor an edge.")
    start, end = shape.ends
    return scene.image_from_plane(start + share[:, None] * (end - start), top)


def _drawn(scene: Scene, photo: Photo, pointed: PointedFeature, located_px: Array) -> bytes:
    clicks, truth = np.array(pointed.entry.clicks_px), _truth_px(scene, pointed.shape)
    every = np.concatenate([clicks, truth, located_px])
    low = np.maximum(np.floor(every.min(axis=0) - _MARGIN_PX), 0).astype(int)
    high = np.ceil(every.max(axis=0) + _MARGIN_PX).astype(int)
    crop = photo.pixels[low[1] : high[1], low[0] : high[0]]
    zoom = max(1, _SIDE_PX // max(crop.shape[:2]))
    plain = cv2.resize(crop, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_NEAREST)
    picture = plain.copy()
    for points, radius, colour in (
        (truth, 1, _YELLOW),
        (located_px, 2, _RED),
        (clicks, 5, _GREEN),
    ):
        for x, y in np.rint((points - low + 0.5) * zoom).astype(int).tolist():
            cv2.circle(picture, (x, y), radius, colour, -1, cv2.LINE_AA)
    done, png = cv2.imencode(".png", cv2.cvtColor(np.hstack([plain, picture]), cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError(f"The crop of {pointed.entry.name} could not be coded as PNG.")
    return png.tobytes()
