"""Which straight round body do two silhouette edges show?

From a finite distance the two edges of a tube are not a diameter apart: each is where a sight
line grazes it. Both tangent planes hold the camera and the direction of the axis, so on the
level plane through the axis they leave two lines parallel to it. In the section across the
axis these are two tangents from a point to a circle (`tangent_circle`), which is a closed
form. Refuses sides that are one, and what lies level with the camera.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.lines import fit_line

Array = NDArray[np.float64]

_LEAST_APART = 1e-3  # of the camera's height: less is one edge pointed at twice


def tangent_circle(first_mm: float, second_mm: float, height_mm: float) -> tuple[float, float]:
    """(offset, radius) of the circle on a level line that two sight lines graze.

    The eye stands `height_mm` above the line, over its zero; the sight lines cross the line
    at the first and the second place. With a, b their angles from straight down, the centre
    lies on their bisector: offset = h tan((a + b)/2), radius = h sin(|a − b|/2)/cos((a + b)/2).
    """
    a, b = np.arctan2([first_mm, second_mm], height_mm)
    middle, half = (a + b) / 2, abs(a - b) / 2
    return float(height_mm * np.tan(middle)), float(height_mm * np.sin(half) / np.cos(middle))


def silhouette(offset_mm: float, radius_mm: float, height_mm: float) -> tuple[float, float]:
    """Where the sight lines that graze a circle cross its level line: the way back."""
    middle = np.arctan2(offset_mm, height_mm)
    half = np.arcsin(radius_mm / np.hypot(offset_mm, height_mm))
    first, second = height_mm * np.tan([middle - half, middle + half])
    return float(first), float(second)


def fit_tube(points_mm: Array, ends_mm: Array, eye_mm: Array) -> tuple[Array, float, float]:
    """Axis (2, 2) mm, radius mm and taper in degrees of the tube between two sides.

    points_mm : (N, 2) of both sides, where their sight lines meet the level plane through the
    axis. ends_mm : (4, 2) on it, two along the one side, then two along the other; they say
    which point is of which side and how far the axis reaches. eye_mm : (3,) the camera, its z
    above that plane. The axis runs as the first side was pointed at.

    Raises GeometryError where the sides are one, or the camera is not above the plane.
    """
    if eye_mm[2] <= 0:
        raise GeometryError(
            f"The camera stands {-eye_mm[2]:.0f} mm below the axis; it must look down on it. "
            "Check the height of the axis."
        )
    sides = _sides(points_mm, ends_mm)
    along, taper = _common_direction(sides, ends_mm)
    across = np.array([-along[1], along[0]])
    places = [float((side.mean(axis=0) - eye_mm[:2]) @ across) for side in sides]
    apart = abs(places[1] - places[0])
    if apart < _LEAST_APART * eye_mm[2]:
        raise GeometryError(
            f"The two sides of the tube lie {apart:.2f} mm apart. Point along one side first, "
            "then along the other."
        )
    offset, radius = tangent_circle(places[0], places[1], float(eye_mm[2]))
    reach = np.sort((ends_mm - eye_mm[:2]).reshape(2, 2, 2) @ along, axis=1).mean(axis=0)
    axis = eye_mm[:2] + offset * across + reach[:, None] * along
    return axis, radius, taper


def _sides(points_mm: Array, ends_mm: Array) -> tuple[Array, Array]:
    """The points nearer the line through the first two ends, and the others."""
    away = [_off_line(points_mm, ends) for ends in (ends_mm[:2], ends_mm[2:])]
    first = away[0] <= away[1]
    if min(first.sum(), (~first).sum()) < 2:
        raise GeometryError(
            "All that was found lies along one side of the tube. Point along one side first, "
            "then along the other."
        )
    return points_mm[first], points_mm[~first]


def _off_line(points_mm: Array, ends_mm: Array) -> Array:
    way = ends_mm[1] - ends_mm[0]
    length = float(np.linalg.norm(way))
    if length == 0:
        raise GeometryError("Two clicks along one side of the tube coincide. Move them apart.")
    offsets = points_mm - ends_mm[0]
    return np.asarray(np.abs(offsets[:, 0] * way[1] - offsets[:, 1] * way[0]) / length)


def _common_direction(sides: tuple[Array, Array], ends_mm: Array) -> tuple[Array, float]:
    """The unit direction that fits both sides, and the angle between them alone."""
    centred = np.vstack([side - side.mean(axis=0) for side in sides])
    along = np.linalg.svd(centred, full_matrices=False)[2][0]
    along = along if float(along @ (ends_mm[1] - ends_mm[0])) >= 0 else -along
    alone = [fit_line(side)[1] for side in sides]
    cross = alone[0][0] * alone[1][1] - alone[0][1] * alone[1][0]
    return along, float(np.degrees(np.arcsin(min(1.0, abs(float(cross))))))
