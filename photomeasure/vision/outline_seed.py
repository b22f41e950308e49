"""Which place in a window surely belongs to the part that lies there?"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from photomeasure.errors import GeometryError
from photomeasure.vision.outline_masks import opened
from photomeasure.vision.outline_window import Look

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Pixel = tuple[int, int]
"""Row and column."""

_UNLIKE, _SMOOTH_PX = 0.14, 2.0
_HARDLY_UNLIKE, _SMOOTHER_PX = 0.07, 6.0  # of a face nearly as bright as paper
_DEEPER, _STRIDE = 2.0, 4  # a mm
_STEP = 0.05  # of the paper's light, per px: there one surface meets another
_LEAST_DEPTH_MM = 1.0


def unlike_paper(
    look: Look, paper: float, unlike: float = _UNLIKE, smooth_px: float = _SMOOTH_PX
) -> Mask:
    """Where it is clearly darker, brighter than the paper; shadows are, too."""
    smooth = cv2.GaussianBlur(look.light, (0, 0), smooth_px)
    return np.asarray(np.abs(smooth / float(np.sqrt(paper)) - 1) > unlike)


def find_seed(look: Look, paper: float) -> Pixel:
    """The middle of what is no paper. Raises GeometryError where there is nothing else."""
    inside = _no_paper(look, paper)
    bright = float(np.sqrt(paper))
    unlike, ends = np.abs(look.light / bright - 1), look.gradient > _STEP * bright
    least = _LEAST_DEPTH_MM * look.scale
    for plain in (inside & ~ends, inside):  # a texture may be as coarse as edges
        depth = _depth(plain)
        if depth.max() >= least:
            labels, chosen = _chosen(plain, depth, least, unlike)
            row, column = ndimage.maximum_position(depth, labels, chosen)
            return int(row), int(column)
    raise GeometryError(
        "No part was found in the window: everything there is as bright as the paper. Lay "
        "the part in the window; if it is as white as the paper, lay dark paper under it "
        "or touch a point inside it."
    )


def _no_paper(look: Look, paper: float) -> Mask:
    """What is clearly no paper; but where what is hardly unlike it is far deeper, that: of a face
    nearly as bright as paper only walls and shadows stand out."""
    masks = [
        opened(unlike_paper(look, paper, *by) & look.seen & ~look.ring, 2)
        for by in ((_UNLIKE, _SMOOTH_PX), (_HARDLY_UNLIKE, _SMOOTHER_PX))
    ]
    for mask in masks:
        mask[[0, -1]], mask[:, [0, -1]] = False, False
    clearly, hardly = (float(_depth(mask[::_STRIDE, ::_STRIDE]).max()) for mask in masks)
    return masks[1] if hardly > _DEEPER * clearly else masks[0]


def _depth(inside: Mask) -> Array:
    """(H, W) how far in a place lies, px. What hangs on the window's edge is the ring, seen past
    a high face."""
    rows, columns = np.indices(inside.shape)
    height, width = inside.shape
    from_edge = np.minimum.reduce([rows, columns, height - 1 - rows, width - 1 - columns])
    return np.asarray(np.minimum(ndimage.distance_transform_edt(inside), from_edge))


def _chosen(
    plain: Mask, depth: Array, least: float, unlike: Array
) -> tuple[NDArray[np.int32], int]:
    """(H, W) labels of the plain places, and which is the part's: the deepest; but where another
    lies round it and is less like paper, the deepest was paper in the shadow of an opening."""
    labels, count = ndimage.label(plain)
    numbers = np.arange(1, count + 1)
    deepest = ndimage.maximum(depth, labels, numbers)
    usual = ndimage.mean(unlike, labels, numbers)
    first = int(np.argmax(deepest))
    row, column = ndimage.maximum_position(depth, labels, first + 1)
    for k in np.argsort(-usual):
        if usual[k] <= usual[first]:
            break
        if deepest[k] >= least and ndimage.binary_fill_holes(labels == k + 1)[row, column]:
            return labels, int(k) + 1
    return labels, first + 1
