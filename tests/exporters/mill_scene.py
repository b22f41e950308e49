"""Synthetic photos of a motor flange and a bracket lying in the window of a sheet."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw
from scipy.spatial.transform import Rotation

from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.records.report import Picture
from photomeasure.records.shapes import Circle, Edge
from photomeasure.records.view import View
from photomeasure.vision.sheets import sheet

SIZE_PX = (3024, 4032)
HEIGHTS = {"sheet": 0.0, "flange face": 6.0, "bracket face": 3.0}
BORE = Circle(np.array([0.0, 25.0]), 20.01)
HOLES = [
    Circle(BORE.centre + 40.21 * np.array([np.cos(a), np.sin(a)]), 4.46)
    for a in np.radians([45, 135, 225, 315])
]
FLANGE_EDGE = Edge(np.array([[-50.0, -36.0], [50.0, -36.0]]))
BRACKET_EDGE = Edge(np.array([[-50.0, -47.13], [50.0, -50.80]]))
PIN_HOLE = Circle(np.array([-22.0, -78.0]), 6.03)
PX_PER_MM = 4


def camera_pose(tilt_deg: float, turn_deg: float, distance_mm: float) -> np.ndarray:
    """(6,) looking at the sheet's origin from this distance."""
    facing = Rotation.from_matrix(np.diag([1.0, -1.0, -1.0]))
    rotation = Rotation.from_euler("xz", [tilt_deg, turn_deg], degrees=True) * facing
    return np.array([*rotation.as_rotvec(), 2.0, -3.0, distance_mm])


def views() -> tuple[View, View]:
    camera = np.array([3180.0, 1508.0, 2023.0, 0.045, -0.11, 0.0004, -0.0003, 0.0])
    poses = camera_pose(19.0, 4.0, 330.0), camera_pose(-24.0, -9.0, 352.0)
    return tuple(
        View(name, "window-a4-A", SIZE_PX, camera, pose, residual, held_out, start)
        for name, pose, residual, held_out, start in zip(
            ("front", "left"), poses, (0.041, 0.052), (0.018, 0.023), (0, 14), strict=True
        )
    )  # type: ignore[return-value]


def _canvas(draw_on, page=(105.0, 148.5)) -> np.ndarray:
    size = tuple(int(2 * half * PX_PER_MM) for half in page)
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)

    def place(points):
        return [((x + page[0]) * PX_PER_MM, (page[1] - y) * PX_PER_MM) for x, y in points]

    draw_on(draw, place)
    return np.asarray(image, float)


def _sheet_texture() -> np.ndarray:
    design = sheet("window-a4-A")

    def paint(draw, place):
        draw.rectangle(place([(-105, 148.5), (105, -148.5)]), fill=(243, 241, 236, 255))
        for x0, y0, x1, y1 in design.squares:
            draw.rectangle(place([(x0, y1), (x1, y0)]), fill=(30, 30, 32, 255))
        for marker in design.markers:
            (x0, y1), (x1, y0) = marker.corners_mm[0], marker.corners_mm[2]
            step = (x1 - x0) / len(marker.cells)
            for (r, c), white in np.ndenumerate(marker.cells):
                if not white:
                    a, b = x0 + c * step, y1 - r * step
                    draw.rectangle(place([(a, b), (a + step, b - step)]), fill=(30, 30, 32, 255))

    return _canvas(paint)


def _round(draw, place, circle: Circle, fill) -> None:
    (x, y), r = circle.centre, circle.radius
    draw.ellipse(place([(x - r, y + r), (x + r, y - r)]), fill=fill)


def _flange(shade: tuple[int, int, int]) -> np.ndarray:
    def paint(draw, place):
        draw.rounded_rectangle(place([(-55, 84), (55, -36)]), 9 * PX_PER_MM, fill=(*shade, 255))
        draw.rectangle(place([(-50, -20), (50, -36)]), fill=(*shade, 255))
        for circle in (BORE, *HOLES):
            _round(draw, place, circle, (0, 0, 0, 0))

    return _canvas(paint)


def _bracket(shade: tuple[int, int, int]) -> np.ndarray:
    def paint(draw, place):
        (x0, y0), (x1, y1) = BRACKET_EDGE.ends
        draw.polygon(place([(x0, y0), (x1, y1), (x1, -94), (x0, -94)]), fill=(*shade, 255))
        _round(draw, place, PIN_HOLE, (0, 0, 0, 0))

    return _canvas(paint)


def _sample(texture: np.ndarray, points_mm: np.ndarray) -> np.ndarray:
    x = np.clip((points_mm[:, 0] + 105) * PX_PER_MM, 0, texture.shape[1] - 1).astype(int)
    y = np.clip((148.5 - points_mm[:, 1]) * PX_PER_MM, 0, texture.shape[0] - 1).astype(int)
    outside = (np.abs(points_mm) > [105, 148.5]).any(axis=1)
    return np.where(outside[:, None], 0.0, texture[y, x])


def photograph(view: View, scale: float) -> np.ndarray:
    """(H, W, 3) uint8: what this view sees, `scale` picture px per photo px."""
    width, height = (round(s * scale) for s in SIZE_PX)
    columns, rows = np.meshgrid(np.arange(width), np.arange(height))
    pixels = (np.column_stack([columns.ravel(), rows.ravel()]) + 0.5) / scale - 0.5
    seen = np.tile([108.0, 84.0, 62.0], (len(pixels), 1))
    layers = [
        (0.0, _sheet_texture()),
        (2.0, _flange((52, 55, 58))),
        (4.0, _flange((60, 63, 66))),
        (6.0, _bracket((84, 78, 70))),
        (6.0, _flange((112, 117, 120))),
    ]
    for level, texture in layers:
        sample = _sample(texture, plane_from_image(pixels, view.parameters, level))
        alpha = sample[:, 3:] / 255
        seen = seen * (1 - alpha) + sample[:, :3] * alpha
    radius2 = ((pixels / np.array(SIZE_PX) - 0.5) ** 2).sum(axis=1)
    seen = seen * (1.02 - 0.5 * radius2)[:, None] + np.random.default_rng(3).normal(
        0, 3, seen.shape
    )
    return np.clip(seen, 0, 255).astype(np.uint8).reshape(height, width, 3)


def rectify(picture: np.ndarray, scale: float, view: View, plane: str) -> Picture:
    x0, y0, x1, y1 = -68.0, -108.0, 68.0, 108.0
    columns, rows = np.meshgrid(
        np.arange(int((x1 - x0) * PX_PER_MM)), np.arange(int((y1 - y0) * PX_PER_MM))
    )
    points = np.column_stack(
        [x0 + (columns.ravel() + 0.5) / PX_PER_MM, y1 - (rows.ravel() + 0.5) / PX_PER_MM]
    )
    px = (image_from_plane(points, view.parameters, HEIGHTS[plane]) + 0.5) * scale - 0.5
    x = np.clip(np.rint(px[:, 0]), 0, picture.shape[1] - 1).astype(int)
    y = np.clip(np.rint(px[:, 1]), 0, picture.shape[0] - 1).astype(int)
    pixels = picture[y, x].reshape(*rows.shape, 3)
    return Picture(view.photo, pixels, float(PX_PER_MM), plane, (x0, y0, x1, y1))
