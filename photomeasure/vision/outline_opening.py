"""Where, to about half a millimetre, does an opening lie in a face on which a card is stuck?

Through an opening one sees walls, shadows and whatever lies below, near or far, light or dark;
only the face round it is one even surface. So the face is followed from around the card, and
the opening is what of it is missing round the touch. Nothing is measured here.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from photomeasure.errors import GeometryError
from photomeasure.vision.outline_follow import Line
from photomeasure.vision.outline_look import without_unlike
from photomeasure.vision.outline_rough import (
    HintsOnFace,
    contour,
    regions,
    runs_along,
)
from photomeasure.vision.outline_window import Look, Window, look_at

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Chains = tuple[Array, ...]

_BESIDE_CARD_MM = (2.5, 4.5)
_RIM_MM = 0.7
_ON_CARD_MM, _MOST_ON_CARD = 0.3, 6
_PLACES, _AROUND_PX = 48, 6
_BENT_IN_MM, _ON_MM = 0.5, 0.05
_FAINTER = (1.0, 0.5, 0.25)  # of what counts as an edge: all are tried
_BRIDGES_PX = (2.0, 6.0, 14.0)  # up to 7 mm: a shadow's soft edge passes the face's own light
_NOT_BOUNDED = (
    "Round the touch inside the opening no edge of the face on which the card is stuck was found, "
    "as what lies behind it is as light as the face. Draw a stroke along the edge of the opening, "
    "or hold something lighter or darker behind it."
)
_CARD_AWAY = (
    "The card lies too far from the touch inside the opening to follow its face that far. Stick "
    "it nearer, or take a photo that shows more around both."
)


def find_opening(window: Window, hints: HintsOnFace) -> Chains:
    """The chains (N, 2) mm, anticlockwise, that the edge of the opening round the first touch
    inside could be near, the likeliest first; window.beside holds the card on the face.

    Raises GeometryError where the face ends nowhere round the touch.
    """
    look = look_at(window)
    card = window.beside[0]
    seed, touch = _beside_card(look, card), _pixel(look, hints.inside[0])
    look = _without_card(look, card, seed)
    about = HintsOnFace(np.empty((0, 2)), np.empty((0, 2)), hints.strokes)
    for bridge in _BRIDGES_PX:
        faces = (regions(look, seed, about, share, bridge) == 1 for share in _FAINTER)
        alike = [(face, without_unlike(face, look.light)) for face in faces]
        holes = [_hole_at(face, touch) for both in alike for face in both]
        found = [contour(hole, look) for hole in holes if hole is not None]
        if found:
            return _distinct(found)
    raise GeometryError(_NOT_BOUNDED)


def refuse_bent_in(line: Line, outside: Array) -> None:
    """Raise where the edge of an opening bends more than a little into it: a lit wall or floor
    as light as the face looks just so, and ends in a clear edge. Along strokes it may, and round
    touches outside (N, 2) mm, which say that the face reaches in there."""
    points, seen = line.points_mm, line.sharp.good & ~line.by_hand
    opening = shapely.Polygon(points[seen | line.by_hand]).buffer(0)
    hull = opening.convex_hull
    for bay in shapely.get_parts(hull.difference(opening)):
        if shapely.contains_xy(bay, *outside.T).any():
            continue
        beside = shapely.dwithin(shapely.points(points), bay, _ON_MM)
        deep = shapely.distance(shapely.points(points), hull.exterior) > _BENT_IN_MM
        if (beside & deep & seen).any():
            x, y = points[beside & deep & seen].mean(axis=0)
            raise GeometryError(
                f"Near ({x:.0f}, {y:.0f}) mm the edge seen bends into the opening, as it does "
                "where a lit wall or floor in it is as light as the face. If the face does reach "
                "in there, touch it as outside; if not, draw a stroke along the true edge."
            )


def refuse_covered(edge: Array, card: Array) -> None:
    """Raise where the edge found of an opening (N, 2) mm runs along the card's (N, 2) mm, which
    then hides its own."""
    along = shapely.dwithin(shapely.points(edge), shapely.Polygon(card), _ON_CARD_MM)
    if along.sum() > _MOST_ON_CARD:
        raise GeometryError(
            "The card lies over the edge of the opening and hides a part of it. Stick it at least "
            "2 mm beside the edge."
        )


def _pixel(look: Look, place_mm: Array) -> tuple[int, int]:
    """(row, column) of a place. Raises GeometryError where the photo does not show it."""
    column, row = np.rint(look.px(place_mm)).astype(int)
    height, width = look.seen.shape
    if not (0 <= row < height and 0 <= column < width):
        raise GeometryError("The touch inside the opening lies outside the photo. Move it.")
    return int(row), int(column)


def _beside_card(look: Look, card: Array) -> tuple[int, int]:
    """(row, column) on the face: of all places close round the card (N, 2) mm one as light as
    most of them, as the card may lie at the face's edge."""
    places = [
        shapely.get_coordinates(
            shapely.line_interpolate_point(
                shapely.Polygon(card).buffer(away).exterior,
                np.arange(_PLACES) / _PLACES,
                normalized=True,
            )
        )
        for away in _BESIDE_CARD_MM
    ]
    columns, rows = np.rint(look.px(np.concatenate(places))).astype(int).T
    height, width = look.seen.shape
    shown = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
    rows, columns = rows[shown], columns[shown]
    shown = look.seen[rows, columns]
    if not shown.any():
        raise GeometryError(_CARD_AWAY)
    rows, columns = rows[shown], columns[shown]
    light = ndimage.uniform_filter(look.light, _AROUND_PX)[rows, columns]
    k = int(np.abs(light - np.median(light)).argmin())
    return int(rows[k]), int(columns[k])


def _without_card(look: Look, card: Array, seed: tuple[int, int]) -> Look:
    """The same as if the card (N, 2) mm were as light as the face beside it."""
    place = (slice(seed[0] - _AROUND_PX // 2, seed[0] + _AROUND_PX // 2),
             slice(seed[1] - _AROUND_PX // 2, seed[1] + _AROUND_PX // 2))  # fmt: skip
    rim = shapely.get_coordinates(shapely.Polygon(card).buffer(_RIM_MM).exterior)
    light = look.light.copy()
    pixels = np.rint(look.px(rim)).astype(np.int32)
    cv2.fillPoly(light, [pixels], float(np.median(light[place])))
    return replace(look, light=light)


def _hole_at(face: Mask, touch: tuple[int, int]) -> Mask | None:
    """What is missing of a face round a touch; None where nothing is or where it has no end."""
    labels, _ = ndimage.label(~face)
    mine = labels == labels[touch]
    ends = np.concatenate([mine[0], mine[-1], mine[:, 0], mine[:, -1]])
    if labels[touch] == 0 or ends.any():
        return None
    return np.asarray(ndimage.binary_fill_holes(mine))


def _distinct(chains: list[Array]) -> Chains:
    """Each chain once, of those that run along each other the first."""
    kept: list[Array] = []
    for chain in chains:
        if not any(_alike(chain, other) for other in kept):
            kept.append(chain)
    return tuple(kept)


def _alike(chain: Array, other: Array) -> bool:
    there, back = shapely.LinearRing(other), shapely.LinearRing(chain)
    return runs_along(chain, there) and runs_along(other, back)
