"""Which printed sheets are in the photo, and where are their saddle corners?

Refuses a photo without a sheet, and a sheet of which too little is seen to say where the
camera stood.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import PhotoError
from photomeasure.records.photo import Photo
from photomeasure.records.view import MarkerObservation
from photomeasure.vision.markers import IdentifiedSheet, detect_markers, identify_sheets
from photomeasure.vision.saddles import MIN_SQUARE_PX, refine_saddles

Array = NDArray[np.float64]

LEAST_SADDLES = 16
_NEIGHBOURS = 4
_REACH_SQUARES = 3.0  # a saddle farther from any marker found is not guessed
_FLOOR_PX = 0.01  # no corner is believed better than this


def grey_of(photo: Photo) -> NDArray[np.uint8]:
    """(H, W) coded luma."""
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def detect_sheets(photo: Photo) -> tuple[MarkerObservation, ...]:
    """Every sheet seen in the photo, the best seen first.

    Raises PhotoError when there is none, or none with enough corners.
    """
    grey = grey_of(photo)
    found = detect_markers(grey)
    identified = identify_sheets(found)
    if not identified:
        raise PhotoError(
            f"{photo.name}: no scale sheet was found ({len(found.ids)} markers seen, at least 4 "
            "of one sheet are needed). Put the printed sheet fully into the picture, in focus."
        )
    observed = [_observe(photo, grey, s) for s in identified]
    enough = [o for o in observed if len(o.saddles_px) >= LEAST_SADDLES]
    if not enough:
        best = max(observed, key=lambda o: len(o.saddles_px))
        raise PhotoError(_too_few(photo, best))
    return tuple(enough)


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


def _too_few(photo: Photo, best: MarkerObservation) -> str:
    if best.square_px < MIN_SQUARE_PX:
        return (
            f"{photo.name}: a square of sheet {best.sheet} spans {best.square_px:.0f} px; at "
            f"least {MIN_SQUARE_PX:.0f} px are needed. Move closer or use the full resolution."
        )
    return (
        f"{photo.name}: only {len(best.saddles_px)} corners of sheet {best.sheet} are sharp and "
        f"free; at least {LEAST_SADDLES} are needed. Show more of the ring, in focus and "
        "evenly lit."
    )
