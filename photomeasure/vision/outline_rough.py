"""Where, to about half a millimetre, do the face of a part and its openings lie?

The window is looked at on the plane of the face. The face is what can be reached from its
middle without crossing a clear change of light: shadows, walls and paper lie beyond such
changes. Hints of a person (inside, outside, a stroke along the edge) bend this where the
contrast is poor. Nothing here is measured; `outline` sharpens what is found.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure, segmentation

from photomeasure.errors import GeometryError
from photomeasure.vision.outline_look import with_alike, without_unlike
from photomeasure.vision.outline_masks import dilated, eroded, opened
from photomeasure.vision.outline_seed import Pixel, find_seed, unlike_paper
from photomeasure.vision.outline_window import Look, Window, look_at

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_BRIDGE_PX = 2.0  # gaps in an edge narrower than twice this do not leak
_AROUND_PX = 61  # 15 mm
_SPOT, _SPOT_AREA_PX = 0.03, 20
_NARROW_PX, _NARROW_AREA_PX = 0.9, 10
_EDGE_SIGMAS = 5.0
_FAINTER = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.35, 0.25)
"""Of what counts as an edge, tried where a face leaks out; much fainter, texture bounds it."""
_FAINTEST = 0.012  # of the square root of full light per px
_LEAST_FACE_MM2 = 60.0
_LEAST_HOLE_MM = 1.5
_SLIVER_PX = 3  # a land thinner than this is none
_ONE_HOLE_MM = 0.8  # a web thinner than this is a shadow across a hole
_SAME_MM = 0.4
_MOST_OF = 0.7
_MOSTLY_PAPER = 0.5
_SECOND_PART = 0.25  # of the first one's area


@dataclass(frozen=True, eq=False)
class HintsOnFace:
    """What a person pointed at, (N, 2) mm on the face: inside it, outside it, and along its
    edge, one chain each stroke."""

    inside: Array
    outside: Array
    strokes: tuple[Array, ...] = ()


@dataclass(frozen=True, eq=False)
class RoughFace:
    """The face's outer boundary and its openings: each the chains (N, 2) mm, anticlockwise,
    that it could be near, the likeliest first."""

    outer: tuple[Array, ...]
    openings: tuple[tuple[Array, ...], ...]


def load() -> None:
    """Import what is needed here and slow to import, as can be done beside other work."""
    _ = segmentation.watershed, measure.find_contours  # skimage imports what it is asked for


def find_face(window: Window, hints: HintsOnFace, alone: bool = True) -> RoughFace:
    """The one part that lies in a window, roughly.

    alone : whether nothing else may lie there. Raises GeometryError in words where there is no
    part, more than one, or none that lies clear of the window's edge.
    """
    paper = window.paper
    look = look_at(window)
    seed = _touched(look, hints.inside) if len(hints.inside) else find_seed(look, paper)
    for share in _FAINTER:
        plain = with_alike(regions(look, seed, hints, share) == 1, look.light)
        face = _without_walls(plain)
        if not _reaches_border(face):
            break
    _refuse_border(face, look, paper)
    if alone:
        _refuse_second(look, face, paper, window.height_mm)
    reached = plain & face
    alike = without_unlike(reached, look.light)
    whole = _without_walls(alike)
    outer = contour(face, look), contour(whole, look)
    bounded = _openings(reached, face, look)
    larger = _openings(alike & whole, whole, look)
    found = [_likely((chain, _around(chain, larger)), look) for chain in bounded]
    leaked = [(chain,) for chain in larger if not _meets(chain, bounded)]
    return RoughFace(_likely(outer, look), (*found, *leaked))


def _meets(chain: Array, others: list[Array]) -> bool:
    hull = shapely.MultiPoint(chain).convex_hull
    return any(hull.intersects(shapely.MultiPoint(other).convex_hull) for other in others)


def _likely(chains: tuple[Array, Array], look: Look) -> tuple[Array, ...]:
    """A chain as the light bounds it, and before it that of what looks like the face, where
    the two differ."""
    plain, alike = chains
    if np.array_equal(plain, alike):
        return (plain,)
    one, other = shapely.LinearRing(plain), shapely.LinearRing(alike)
    same = runs_along(plain, other) and runs_along(alike, one)
    return (plain,) if same else (alike, plain)


def runs_along(chain: Array, ring: shapely.LinearRing) -> bool:
    """Whether all points (N, 2) mm of a chain lie close to a ring."""
    shapely.prepare(ring)
    return bool(shapely.dwithin(ring, shapely.points(chain), _SAME_MM).all())


def _around(chain: Array, others: list[Array]) -> Array:
    """The smallest of the others that lies round most of a chain, else the chain itself."""
    hull = shapely.MultiPoint(chain).convex_hull
    hulls = [shapely.MultiPoint(c).convex_hull for c in others]
    larger = [k for k, h in enumerate(hulls) if h.intersection(hull).area > _MOST_OF * hull.area]
    return others[min(larger, key=lambda k: hulls[k].area)] if larger else chain


def _touched(look: Look, inside: Array) -> Pixel:
    """Where the first touch inside the part is."""
    column, row = np.rint(look.px(inside[0])).astype(int)
    height, width = look.light.shape
    if not (0 <= row < height and 0 <= column < width):
        raise GeometryError("The touch inside the part lies outside the window. Move it.")
    return int(row), int(column)


def regions(
    look: Look,
    seed: Pixel,
    hints: HintsOnFace,
    share: float,
    bridge_px: float = _BRIDGE_PX,
) -> NDArray[np.int32]:
    """(H, W) labels: 1 the face, others what lies beyond clear changes of light; share : of
    what counts as clear. bridge_px : half of how wide a gap in an edge may be."""
    gradient = look.gradient.copy()  # strokes are drawn into it
    barrier = gradient > max(_FAINTEST, share * _clear_change(gradient, seed))
    barrier |= ~look.seen
    for stroke in hints.strokes:
        line = np.rint(look.px(stroke)).astype(np.int32)
        drawn = cv2.polylines(np.zeros(barrier.shape, np.uint8), [line], False, 1, 2)
        barrier |= drawn > 0
        gradient[drawn > 0] = gradient.max()
    depth = ndimage.distance_transform_edt(~barrier)
    free = depth > bridge_px
    found, count = ndimage.label(free)
    markers = _with_small_ones(found, count, depth)
    markers = _with_spots(markers, look, seed)
    at_seed = _label_near(markers, seed)
    if at_seed == 0:
        raise GeometryError(
            "Around the middle of the part the light changes everywhere, so its face cannot be "
            "followed. Use softer light, or touch a plain place inside the part."
        )
    if at_seed != 1:
        swapped = markers.copy()
        swapped[markers == 1], swapped[markers == at_seed] = at_seed, 1
        markers = swapped
    for point in hints.outside:
        column, row = np.rint(look.px(point)).astype(int)
        if markers[row, column] == 1:
            raise GeometryError(
                "The touches inside and outside lie on one plain surface. Draw a stroke along "
                "the edge between them."
            )
    return _flooded(gradient, markers)


def _flooded(gradient: NDArray[np.float32], markers: NDArray[np.int32]) -> NDArray[np.int32]:
    """Every place without a marker gets that of the basin it lies in; only the rims of what has
    one are looked at."""
    beside = dilated(markers == 0)
    flooded = segmentation.watershed(gradient, markers, mask=beside)  # type: ignore[no-untyped-call]
    return np.where(beside, flooded, markers).astype(np.int32)


def _with_small_ones(markers: NDArray[np.int32], count: int, depth: Array) -> NDArray[np.int32]:
    """Also the narrow places (walls, small holes, shadows) in which no marker lies yet."""
    narrow, found = ndimage.label(depth > _NARROW_PX)
    sizes = np.bincount(narrow.ravel(), minlength=found + 1)
    has_one = np.zeros(found + 1, bool)
    has_one[np.unique(narrow[markers > 0])] = True
    new = (sizes >= _NARROW_AREA_PX) & ~has_one
    new[0] = False
    number = np.cumsum(new) + count
    return np.where(new[narrow], number[narrow], markers).astype(np.int32)


def _with_spots(markers: NDArray[np.int32], look: Look, seed: Pixel) -> NDArray[np.int32]:
    """Also the small spots that differ from the face around them: holes without a plain place."""
    coded = np.asarray(np.clip(255 * look.light, 0, 255), np.uint8)
    around = cv2.medianBlur(coded, _AROUND_PX).astype(np.float32) / 255
    off = np.abs(cv2.GaussianBlur(look.light, (0, 0), 1.0) - around)
    row, column = seed
    core = off[max(0, row - 12) : row + 13, max(0, column - 12) : column + 13]
    spots = off > max(_SPOT, _EDGE_SIGMAS * 1.4826 * float(np.median(core)))
    spots, found = ndimage.label(eroded(spots, 1))
    sizes = np.bincount(spots.ravel(), minlength=found + 1)
    has_one = np.zeros(found + 1, bool)
    has_one[np.unique(spots[markers > 0])] = True
    new = (sizes >= _SPOT_AREA_PX) & ~has_one
    new[0] = False
    number = np.cumsum(new) + int(markers.max())
    return np.where(new[spots], number[spots], markers).astype(np.int32)


def _clear_change(gradient: NDArray[np.float32], seed: Pixel) -> float:
    """What is more than the texture around the seed."""
    row, column = seed
    reach = 12
    rows = slice(max(0, row - reach), row + reach + 1)
    core = gradient[rows, max(0, column - reach) : column + reach + 1]
    usual = float(np.median(core))
    spread = 1.4826 * float(np.median(np.abs(core - usual)))
    return usual + _EDGE_SIGMAS * spread


def _label_near(markers: NDArray[np.int32], seed: Pixel) -> int:
    row, column = seed
    for reach in (0, 3, 8, 16):
        near = markers[
            max(0, row - reach) : row + reach + 1, max(0, column - reach) : column + reach + 1
        ]
        if near.any():
            return int(np.bincount(near[near > 0]).argmax())
    return 0


def _border_of(face: Mask) -> Mask:
    border = np.ones_like(face)
    border[2:-2, 2:-2] = False
    return border


def _reaches_border(face: Mask) -> bool:
    return bool((face & _border_of(face)).any())


def _refuse_border(face: Mask, look: Look, paper: float) -> None:
    if face.sum() < _LEAST_FACE_MM2 * look.scale**2:
        raise GeometryError(
            f"No part was found in the window: the largest plain thing there is only "
            f"{face.sum() / look.scale**2:.0f} mm² large. Lay the part in the window, or touch a "
            "plain place inside it."
        )
    grown = dilated(face, 3)
    if (grown & ~look.seen).any():
        raise GeometryError(
            "The part leaves the photo. Take one that shows the whole part and the whole ring."
        )
    if _reaches_border(face):
        at_border = face & _border_of(face)
        rows, columns = np.nonzero(at_border)
        x, y = look.mm(np.array([columns[0], rows[0]], float))
        if unlike_paper(look, paper)[at_border].mean() < _MOSTLY_PAPER:
            raise GeometryError(
                "No part was found whose edge shows all round. Lay one in the window; if one lies "
                "there, the paper is somewhere as bright as its face: lay darker paper under it, "
                "turn the light, or draw a stroke along its edge."
            )
        raise GeometryError(
            f"The part touches the ring of the sheet near ({x:.0f}, {y:.0f}) mm. Move it to the "
            "middle of the window, use a larger sheet, or draw a stroke along its edge there."
        )


def _refuse_second(look: Look, face: Mask, paper: float, height_mm: float) -> None:
    """Raise where something else as large as a part lies in the window, clear of the face."""
    near = dilated(face, int((2 + 2 * height_mm) * look.scale))
    rest = unlike_paper(look, paper) & look.seen & ~near
    rest = opened(rest, 3)
    labels, count = ndimage.label(rest)
    edge = set(np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])))
    for k in range(1, count + 1):
        size = int((labels == k).sum())
        if k not in edge and size > _SECOND_PART * face.sum():
            rows, columns = np.nonzero(labels == k)
            x, y = look.mm(np.array([columns.mean(), rows.mean()]))
            raise GeometryError(
                f"A second part lies in the window, near ({x:.0f}, {y:.0f}) mm. Leave one in "
                "it, and take a photo of each."
            )


def _without_walls(face: Mask) -> Mask:
    """The face, its openings filled, without walls and shadows that only a sliver of the
    face's own label divides from what lies outside."""
    filled = np.asarray(ndimage.binary_fill_holes(face))
    labels, count = ndimage.label(filled & ~face)
    near_outside = dilated(~filled, _SLIVER_PX)
    for k in np.unique(labels[near_outside & (labels > 0)]):
        filled &= ~dilated(labels == k, _SLIVER_PX)
    parts, count = ndimage.label(filled)
    if count > 1:
        filled = parts == int(np.bincount(parts.ravel())[1:].argmax()) + 1
    return np.asarray(filled)


def _openings(face: Mask, filled: Mask, look: Look) -> list[Array]:
    """The contour of every opening large enough to be one."""
    labels, _ = ndimage.label(filled & ~face)
    least = _LEAST_HOLE_MM * look.scale
    found = []
    for k, (rows, columns) in enumerate(ndimage.find_objects(labels), 1):
        if min(rows.stop - rows.start, columns.stop - columns.start) < least:
            continue
        one = np.pad(ndimage.binary_fill_holes(labels[rows, columns] == k), 1)
        if 2 * float(ndimage.distance_transform_edt(one).max()) > least:
            found.append(contour(one, look, (columns.start - 1, rows.start - 1)))
    return _whole(found)


def _whole(openings: list[Array]) -> list[Array]:
    """Openings, pieces of one joined: a shadow as light as the face may divide a hole."""
    hulls = [shapely.MultiPoint(chain).convex_hull for chain in openings]
    for k, hull in enumerate(hulls):
        for other in range(k):
            if hull.distance(hulls[other]) < _ONE_HOLE_MM:
                joined = hull.union(hulls[other]).convex_hull
                chain = shapely.get_coordinates(shapely.segmentize(joined.exterior, 0.2))[:-1]
                rest = [c for i, c in enumerate(openings) if i not in (k, other)]
                return _whole([*rest, chain])
    return openings


def contour(mask: Mask, look: Look, corner_px: tuple[int, int] = (0, 0)) -> Array:
    """(N, 2) mm, anticlockwise, smoothed by half a millimetre. corner_px : column and row of
    the mask's first pixel."""
    soft = ndimage.gaussian_filter(np.pad(mask, 2).astype(np.float32), 1.0)
    chains = measure.find_contours(soft, 0.5)  # type: ignore[no-untyped-call]
    chain = max(chains, key=len)[:-1] - 2
    points = look.mm(chain[:, ::-1] + np.array(corner_px))
    x, y = points.T
    area = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    return np.asarray(points if area > 0 else points[::-1])
