"""What does the place look like, seen from straight above, in which a part is looked for?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from photomeasure.geometry.camera import image_from_plane, plane_from_image

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Box = tuple[float, float, float, float]

_PX_PER_MM = 4.0
_MOST_PX = 1400
_GRID_PX = 16
_SMOOTH_PX = 0.8


@dataclass(frozen=True, eq=False)
class Window:
    """Where a part is looked for. light : of the photo. view : (14,). box_mm : on the plane at
    height_mm. paper : linear light of the white paper. beside : (N, 2) mm outlines of known
    things there, as cards, which are looked at as plain paper."""

    light: NDArray[np.float32]
    view: Array
    height_mm: float
    box_mm: Box
    paper: float
    beside: Sequence[Array] = ()


@dataclass(frozen=True, eq=False)
class Look:
    """The window on the face's plane. light : (H, W) square root of linear light, row 0 at the
    lowest y. box : mm. scale : px per mm. seen : what lies inside the photo. ring : where, past a
    high face, what lies on the ground beyond the window is seen, as its ring."""

    light: NDArray[np.float32]
    box: Box
    scale: float
    seen: Mask
    ring: Mask

    @cached_property
    def gradient(self) -> NDArray[np.float32]:
        """(H, W) how fast the light changes, per px."""
        return np.asarray(ndimage.gaussian_gradient_magnitude(self.light, _SMOOTH_PX))

    def px(self, point_mm: Array) -> Array:
        """(…, 2) column and row of places in mm."""
        return np.asarray((np.asarray(point_mm) - self.box[:2]) * self.scale - 0.5)

    def mm(self, point_px: Array) -> Array:
        """(…, 2) and back."""
        return np.asarray((np.asarray(point_px) + 0.5) / self.scale + np.array(self.box[:2]))


def look_at(window: Window) -> Look:
    """What a window shows, seen from straight above it."""
    light, view, height_mm, box = window.light, window.view, window.height_mm, window.box_mm
    x0, y0, x1, y1 = box
    scale = min(_PX_PER_MM, _MOST_PX / max(x1 - x0, y1 - y0))
    width, height = round((x1 - x0) * scale), round((y1 - y0) * scale)
    columns = np.linspace(x0 + 0.5 / scale, x1 - 0.5 / scale, max(2, width // _GRID_PX))
    rows = np.linspace(y0 + 0.5 / scale, y1 - 0.5 / scale, max(2, height // _GRID_PX))
    nodes = np.stack(np.meshgrid(columns, rows), axis=-1)
    px = image_from_plane(nodes.reshape(-1, 2), view, height_mm).reshape(nodes.shape)
    at_x = np.linspace(0, len(columns) - 1, width, dtype=np.float32)
    at_y = np.linspace(0, len(rows) - 1, height, dtype=np.float32)
    everywhere = np.meshgrid(at_x, at_y)
    places = cv2.remap(px.astype(np.float32), *everywhere, cv2.INTER_LINEAR)
    reduced = _reduced(light, view, height_mm, box, scale)
    at = (places + 0.5) * reduced[1] - 0.5
    seen = (places >= 1).all(axis=2) & (places < np.array(light.shape[::-1]) - 2).all(axis=2)
    shown = cv2.remap(
        reduced[0], at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    bright = np.sqrt(np.maximum(shown, 0)).astype(np.float32)
    below = plane_from_image(px.reshape(-1, 2), view, 0.0).reshape(px.shape)
    ground = cv2.remap(below.astype(np.float32), *everywhere, cv2.INTER_LINEAR)
    ring = ((ground < [x0, y0]) | (ground > [x1, y1])).any(axis=2)
    look = Look(bright, (x0, y0, x1, y1), scale, np.asarray(seen, bool), np.asarray(ring))
    return _with_paper(look, window.beside, window.paper)


def _with_paper(look: Look, outlines: Sequence[Array], paper: float) -> Look:
    light = look.light.copy()
    for outline in outlines:
        cv2.fillPoly(light, [np.rint(look.px(outline)).astype(np.int32)], float(np.sqrt(paper)))
    return replace(look, light=light)


def _reduced(
    light: NDArray[np.float32], view: Array, height_mm: float, box: Box, scale: float
) -> tuple[NDArray[np.float32], float]:
    """The photo made smaller first, so that no pixel is skipped."""
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    ends = image_from_plane(np.array([[x - 0.5, y], [x + 0.5, y]]), view, height_mm)
    px_per_mm = float(np.hypot(*(ends[1] - ends[0])))
    share = min(1.0, 1.2 * scale / px_per_mm)
    size = (round(light.shape[1] * share), round(light.shape[0] * share))
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32), share
