"""What would an evening's script measure in the same photo?

Markers, one homography from their corners, a warp to millimetres, a threshold, contours.
It knows nothing of lens, height, tone curve or print scale; its shapes go through the same
formulas. It is here to be compared with, so it is done with care within those limits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.benchmark.cases import Case, Shot, question
from photomeasure.errors import GeometryError, PhotoError, PhotomeasureError
from photomeasure.geometry.circles import fit_circle
from photomeasure.geometry.lines import fit_line, project_on_line
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.job import FeatureEntry
from photomeasure.records.photo import Photo
from photomeasure.records.shapes import Circle, Edge, Shape
from photomeasure.records.sheet import Sheet
from photomeasure.synthetic.scene import Scene, TrueMeasurement
from photomeasure.vision.detection import grey_of
from photomeasure.vision.sheets import sheet
from photomeasure.vision.sheets.layout import DICTIONARY

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

PLAIN = "plain recipe"
_PX_PER_MM = 10.0
_REACH_MM = 2.0  # a contour farther from the clicks than this is another edge
_LEAST_AREA_MM2 = 3.0


@dataclass(frozen=True, eq=False)
class _Warped:
    """Contours (N, 2) in mm on the paper's plane, and the homography to it from the photo."""

    contours_mm: list[Array]
    H_sheet_image: Array

    def places_mm(self, points_px: Array) -> Array:
        """(N, 2) px to (N, 2) mm on the paper."""
        return _apply(self.H_sheet_image, points_px)


def ask_plainly(shot: Shot, scene: Scene, photo: Photo) -> list[Case]:
    """One case for each measurement of a photo, by the plain recipe."""
    cases = [replace(question(shot, scene, asked), way=PLAIN) for asked in scene.measurements]
    entries = {f.entry.name: f.entry for f in scene.features}
    try:
        warped = _warp(grey_of(photo), sheet(scene.print.sheet))
    except PhotoError as error:
        return [replace(case, reason=str(error)) for case in cases]
    return [
        _answer(case, asked, entries, warped)
        for case, asked in zip(cases, scene.measurements, strict=True)
    ]


def _answer(
    case: Case, asked: TrueMeasurement, entries: Mapping[str, FeatureEntry], warped: _Warped
) -> Case:
    try:
        shapes = {
            role: tuple(_shape(entries[name], warped) for name in names)
            for role, names in asked.entry.of
        }
        values = MEASUREMENTS[asked.entry.kind].evaluate(shapes)
    except PhotomeasureError as error:
        return replace(case, reason=str(error))
    return replace(case, value=values[asked.quantity])


def _warp(grey: Grey, design: Sheet) -> _Warped:
    """The window of the sheet from above, split into dark and light."""
    corners_px, corners_mm = _markers(grey, design)
    to_sheet, _ = cv2.findHomography(corners_px, corners_mm, cv2.RANSAC, 0.5)
    x0, y0, x1, y1 = design.window or design.page
    s = _PX_PER_MM
    to_picture = np.array([[s, 0, -s * x0], [0, -s, s * y1], [0, 0, 1]])
    size = round((x1 - x0) * s), round((y1 - y0) * s)
    flat = cv2.warpPerspective(grey, to_picture @ to_sheet, size, flags=cv2.INTER_LINEAR)
    flat = cv2.GaussianBlur(flat, (5, 5), 0)
    _, split = cv2.threshold(flat, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    found, _ = cv2.findContours(split, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    back = np.linalg.inv(to_picture)
    contours = [_apply(back, c.reshape(-1, 2).astype(float)) for c in found if len(c) >= 20]
    return _Warped(contours, np.asarray(to_sheet))


def _markers(grey: Grey, design: Sheet) -> tuple[Array, Array]:
    """(N, 2) corners of the markers in px and in mm."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(grey)
    places = {m.id: m.corners_mm for m in design.markers}
    numbers = [] if ids is None else [int(i) for i in ids.ravel()]
    known = [
        (np.asarray(c), places[i]) for c, i in zip(corners, numbers, strict=True) if i in places
    ]
    if len(known) < 4:
        raise PhotoError(f"{len(known)} markers were found; 4 are needed. Move closer.")
    px, mm = (np.concatenate([np.reshape(k[side], (4, 2)) for k in known]) for side in (0, 1))
    return px.astype(float), mm


def _shape(entry: FeatureEntry, warped: _Warped) -> Shape:
    clicks = warped.places_mm(np.array(entry.clicks_px, float))
    return _circle(clicks, warped) if entry.kind == "circle" else _edge(clicks, warped)


def _circle(clicks: Array, warped: _Warped) -> Circle:
    """The contour through the clicks, or the smallest one round a single click."""
    if len(clicks) == 1:
        fitting = [c for c in warped.contours_mm if _signed_mm(c, clicks).min() > 0]
        areas = [_area_mm2(c) for c in fitting]
        ranked = [(a, k) for k, a in enumerate(areas) if a > _LEAST_AREA_MM2]
    else:
        fitting = warped.contours_mm
        away = [float(np.abs(_signed_mm(c, clicks)).mean()) for c in fitting]
        ranked = [(d, k) for k, d in enumerate(away) if d < _REACH_MM]
    if not ranked:
        raise GeometryError("No contour runs near the clicks. Click nearer to the rim.")
    centre, radius = fit_circle(fitting[min(ranked)[1]])
    return Circle(centre, radius)


def _edge(clicks: Array, warped: _Warped) -> Edge:
    """The line through all points of contours beside the line between the clicks."""
    way = clicks[-1] - clicks[0]
    length = float(np.linalg.norm(way))
    along, across = way / length, np.array([-way[1], way[0]]) / length
    points = np.concatenate([*warped.contours_mm, np.empty((0, 2))]) - clicks[0]
    beside = np.abs(points @ across) < _REACH_MM
    between = np.abs(points @ along / length - 0.5) < 0.46
    point, direction = fit_line(points[beside & between] + clicks[0])
    return Edge(project_on_line(clicks[[0, -1]], point, direction))


def _signed_mm(contour: Array, points: Array) -> Array:
    """(N,) distance of points from a contour, positive inside."""
    chain = contour.astype(np.float32)
    return np.array([cv2.pointPolygonTest(chain, (float(x), float(y)), True) for x, y in points])


def _area_mm2(contour: Array) -> float:
    return float(cv2.contourArea(contour.astype(np.float32)))


def _apply(homography: Array, points: Array) -> Array:
    return np.asarray(cv2.perspectiveTransform(points[None].astype(float), homography)[0])
