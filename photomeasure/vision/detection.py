"""Which printed sheets and cards are in the photo, and where are their saddle corners?

Refuses a photo without any, and one in which too little of each is seen to say where the
camera stood.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import PhotoError
from photomeasure.estimation.priors import lens_from_exif
from photomeasure.records.photo import Photo
from photomeasure.records.view import MarkerObservation
from photomeasure.vision.markers import (
    IdentifiedSheet,
    detect_markers,
    glimpsed_cards,
    identify_sheets,
)
from photomeasure.vision.quality_picture import BLUR_BORNE_PX, WANTED_PX, picture_blur_px
from photomeasure.vision.saddles import MIN_SQUARE_PX, refine_saddles
from photomeasure.vision.sheets import prints_of, sheet

Array = NDArray[np.float64]

LEAST_SADDLES = 16
LEAST_SHARE = 0.5  # of a small card's corners, which has hardly more in all
WANTED_SQUARE_PX = 30.0  # below this markers begin to be missed, tried on all cards
_NEIGHBOURS = 4
_REACH_SQUARES = 3.0  # a saddle farther from any marker found is not guessed
_FLOOR_PX = 0.01  # no corner is believed better than this


@dataclass(frozen=True, eq=False)
class Detection:
    """Sheets and cards of one photo.

    sheets : those that can be used, the best seen first. missed : identity → why it cannot
    be used, in a sentence, though something of it was seen.
    """

    sheets: tuple[MarkerObservation, ...]
    missed: dict[str, str] = field(default_factory=dict)


def grey_of(photo: Photo) -> NDArray[np.uint8]:
    """(H, W) coded luma."""
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def least_saddles(expected: int) -> int:
    """How many corners must be seen of a sheet or card that has so many."""
    return min(LEAST_SADDLES, ceil(LEAST_SHARE * expected))


def detect_sheets(photo: Photo) -> tuple[MarkerObservation, ...]:
    """Every sheet and card that can be used, the best seen first.

    Raises PhotoError when there is none, or none with enough corners.
    """
    return detect_targets(photo).sheets


def detect_targets(photo: Photo, *, needed: bool = True, size_told: bool = False) -> Detection:
    """Every sheet and card, those that cannot be used with the reason.

    size_told : whether it is said elsewhere that the picture is small. Raises PhotoError when
    none can be used, unless none is needed.
    """
    grey = grey_of(photo)
    found = detect_markers(grey)
    identified = identify_sheets(found)
    missed = dict(_glimpsed(photo, glimpsed_cards(found)))
    observed = [_observe(photo, grey, s) for s in identified]
    times = Counter(o.sheet for o in observed)
    usable = []
    for seen in observed:
        missed.pop(seen.sheet, None)
        if times[seen.sheet] > 1:
            missed[seen.sheet] = _seen_twice(seen)
        elif len(seen.saddles_px) < least_saddles(seen.expected):
            missed[seen.sheet] = _too_few(photo, seen)
        else:
            usable.append(seen)
    if not usable and needed:
        raise PhotoError(
            _none_usable(photo, grey, len(found.ids), list(missed.values()), size_told)
        )
    return Detection(tuple(usable), missed)


def near_enough(photo: Photo, identity: str) -> str:
    """From where the squares of a sheet or card would span enough px: "about 0.45 m"."""
    focal_px = float(lens_from_exif(photo.exif, photo.size_px).mean[0])
    distance_mm = focal_px * sheet(identity).square_mm / WANTED_SQUARE_PX
    return f"about {distance_mm / 1000:.2g} m"


def _glimpsed(photo: Photo, sides_px: dict[str, float]) -> Iterator[tuple[str, str]]:
    for identity, side_px in sides_px.items():
        yield (
            identity,
            f"{photo.name}: too few markers of {identity} can be read; a square spans "
            f"{side_px:.0f} px, {WANTED_SQUARE_PX:.0f} px are read well, which is from "
            f"{near_enough(photo, identity)}. Come closer, or show more of it in focus.",
        )


def _none_usable(
    photo: Photo, grey: NDArray[np.uint8], markers: int, missed: Sequence[str], size_told: bool
) -> str:
    seen = list(missed) or [
        f"{photo.name}: no scale sheet or card was found ({markers} markers seen; at least 4 of "
        "one sheet or 3 of one card are needed)."
    ]
    blurred, tiny = list(_blurred(grey)), list(_tiny(photo))
    known = missed or blurred or tiny
    remedy = [] if known else ["Put the print fully into the picture, in focus."]
    return " ".join([*seen, *blurred, *([] if size_told else tiny), *remedy])


def _blurred(grey: NDArray[np.uint8]) -> Iterator[str]:
    blur_px = picture_blur_px(grey)
    if blur_px is not None and blur_px > BLUR_BORNE_PX:
        yield (
            f"The picture is blurred, its edges by {blur_px:.0f} px or more; "
            f"{BLUR_BORNE_PX:.0f} px can be borne. Wipe the lens, tap on the sheet to focus, prop "
            "the phone or bring more light, and take it again."
        )


def _tiny(photo: Photo) -> Iterator[str]:
    width, height = photo.size_px
    if width * height < WANTED_PX:
        yield (
            f"The picture has only {width} × {height} px, as copies from a chat have; "
            f"{WANTED_PX / 1e6:.0f} megapixels or more are wanted. Use the original file."
        )


def _observe(photo: Photo, grey: NDArray[np.uint8], found: IdentifiedSheet) -> MarkerObservation:
    saddles_mm, guess_px, axes_px = _predict(found)
    inside = _well_inside(guess_px, axes_px, grey.shape)
    saddles_mm, guess_px, axes_px = saddles_mm[inside], guess_px[inside], axes_px[inside]
    square_px = float(np.median(np.linalg.norm(axes_px, axis=2))) if len(axes_px) else 0.0
    if len(guess_px) == 0:
        empty = np.empty((0, 2))
        return _observation(photo, found, empty, empty, _FLOOR_PX, square_px)
    saddles = refine_saddles(grey, guess_px, axes_px)
    good = saddles.good
    u_px = max(_FLOOR_PX, float(np.median(saddles.u_px[good]))) if good.any() else _FLOOR_PX
    return _observation(photo, found, saddles_mm[good], saddles.points_px[good], u_px, square_px)


def _observation(
    photo: Photo,
    found: IdentifiedSheet,
    saddles_mm: Array,
    saddles_px: Array,
    u_px: float,
    square_px: float,
) -> MarkerObservation:
    return MarkerObservation(
        photo=photo.name,
        sheet=found.sheet.identity,
        saddles_mm=saddles_mm,
        saddles_px=saddles_px,
        u_px=u_px,
        expected=len(found.sheet.saddles_mm),
        square_px=square_px,
        prints=prints_of(found.sheet.identity),
    )


def _predict(found: IdentifiedSheet) -> tuple[Array, Array, Array]:
    """Saddles near found markers: mm, px guesses and the sides of a square in px."""
    square = found.sheet.square_mm
    centres = found.corners_mm.mean(axis=1)
    kept, guesses, axes = [], [], []
    for saddle in found.sheet.saddles_mm:
        distance = np.linalg.norm(centres - saddle, axis=1)
        near = np.argsort(distance)[:_NEIGHBOURS]
        if distance[near[0]] > _REACH_SQUARES * square:
            continue
        found_at = found.corners_px[near].reshape(-1, 2)
        fitted, _ = cv2.findHomography(found.corners_mm[near].reshape(-1, 2) - saddle, found_at)
        if fitted is None:
            continue
        homography = np.asarray(fitted, float)
        kept.append(saddle)
        guesses.append(_apply(homography, 0.0, 0.0))
        half = square / 2
        axes.append(
            [
                _apply(homography, half, 0.0) - _apply(homography, -half, 0.0),
                _apply(homography, 0.0, half) - _apply(homography, 0.0, -half),
            ]
        )
    sides = np.array(axes).reshape(-1, 2, 2)
    return np.array(kept).reshape(-1, 2), np.array(guesses).reshape(-1, 2), sides


def _apply(homography: Array, x: float, y: float) -> Array:
    u, v, w = homography @ (x, y, 1.0)
    return np.array([u / w, v / w])


def _well_inside(guess_px: Array, axes_px: Array, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    if len(guess_px) == 0:
        return np.zeros(0, bool)
    margin = 0.2 * np.linalg.norm(axes_px, axis=2).max(axis=1) + 2
    low = guess_px.min(axis=1) > margin
    high = (np.array([shape[1], shape[0]]) - 1 - guess_px).min(axis=1) > margin
    return np.asarray(low & high & (np.abs(np.linalg.det(axes_px)) > 1.0))


def _too_few(photo: Photo, seen: MarkerObservation) -> str:
    if seen.square_px < MIN_SQUARE_PX:
        closer = f" Come to {near_enough(photo, seen.sheet)} or use the full resolution."
        return (
            f"{photo.name}: a square of {seen.sheet} spans {seen.square_px:.0f} px; at least "
            f"{MIN_SQUARE_PX:.0f} px are needed, {WANTED_SQUARE_PX:.0f} px are read well."
            f"{'' if any(_tiny(photo)) else closer}"
        )
    return (
        f"{photo.name}: only {len(seen.saddles_px)} corners of {seen.sheet} are sharp and free; "
        f"at least {least_saddles(seen.expected)} are needed. Show more of it, in focus and "
        "evenly lit."
    )


def _seen_twice(seen: MarkerObservation) -> str:
    return (
        f"{seen.photo}: two prints of {seen.sheet} are in the picture, and which is meant cannot "
        "be known. Cover one, or use one with another letter."
    )
