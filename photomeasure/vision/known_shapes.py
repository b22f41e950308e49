"""Where are the corners of a thing of known size that somebody pointed at?

Its four edges are located like any feature's, and their straight lines meet in the corners,
which may be rounded. Of a distance the two ends are located.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError, PhotoError
from photomeasure.estimation.joint import ScalePrior
from photomeasure.geometry.camera import distort, image_from_plane, plane_from_image, undistort
from photomeasure.geometry.circles import fit_circle
from photomeasure.geometry.pose import pose_from_plane
from photomeasure.records.feature import ImageFeature
from photomeasure.records.job import FeatureEntry, ScaleEntry
from photomeasure.records.photo import Photo
from photomeasure.records.view import MarkerObservation
from photomeasure.vision.detection import grey_of
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.sheets.known import (
    DISTANCE,
    corners_mm,
    identity_of,
    known_sheet,
    sides_mm,
    sides_u_mm,
)
from photomeasure.vision.tone import estimate_tone

Array = NDArray[np.float64]

_PART_OF_SIDE = (0.2, 0.8)  # of a side, away from its rounded corners
_EDGE_U_MM = 0.08  # the edge of a card or sheet is rounded, cut slanting, or lifts a little
_NEARLY_SQUARE = 1.08


def observe_known(photo: Photo, entry: ScaleEntry, camera: Array) -> MarkerObservation:
    """Its corners, or ends, as a target of one photo. camera : (8,) as believed.

    Raises PhotoError where its edges cannot be found.
    """
    try:
        if entry.kind == DISTANCE:
            return _ends(photo, entry, camera)
        return _corners(photo, entry, camera)
    except GeometryError as error:
        raise PhotoError(
            f"{photo.name}: the {entry.kind} that gives the scale was not found ({error}) "
            "Point at its corners in turn, where its straight edges meet."
        ) from None


def known_scale(entry: ScaleEntry, identity: str) -> ScalePrior:
    """How far its sides may be off, as the scale of a print. identity : as observed."""
    thing = known_sheet(identity)
    assert thing is not None  # it was observed under this identity
    x0, y0, x1, y1 = thing.page
    long_u, short_u = sides_u_mm(entry)
    u = (long_u, short_u) if x1 - x0 >= y1 - y0 else (short_u, long_u)
    least = 1e-5  # no size is believed better than this
    return ScalePrior(np.ones(2), np.maximum(np.array(u) / [x1 - x0, y1 - y0], least))


def _corners(photo: Photo, entry: ScaleEntry, camera: Array) -> MarkerObservation:
    clicks = _in_turn(np.array(entry.clicks_px, float))
    x_mm, y_mm = _sides(entry, clicks)
    places = corners_mm(x_mm, y_mm)
    identity = identity_of(entry.kind, x_mm, y_mm)
    view = np.concatenate([camera, pose_from_plane(places, clicks, camera)])
    scenery = _scenery(photo, identity, view)
    sides = [
        locate(_side(photo, k, clicks[k], clicks[(k + 1) % 4]), scenery, 0.0) for k in range(4)
    ]
    lines = [_line(s.points_px, camera) for s in sides]
    meet = np.array([np.cross(lines[k - 1], lines[k]) for k in range(4)])
    corners = distort(meet[:, :2] / meet[:, 2:], camera) * camera[0] + camera[1:3]
    doubt = np.array([np.hypot(s.u_shift_px, s.u_tone_px) for s in sides])
    px_per_mm = float(np.linalg.norm(corners[1] - corners[0])) / x_mm
    u_px = float(np.hypot(np.sqrt(np.mean(doubt**2)), _EDGE_U_MM * px_per_mm))
    return _observation(photo, identity, places, corners, u_px)


def _ends(photo: Photo, entry: ScaleEntry, camera: Array) -> MarkerObservation:
    clicks = np.array(entry.clicks_px, float)
    length = entry.length_mm or 0.0
    identity = identity_of(entry.kind, length)
    # Square-on, at the distance that the clicks tell.
    away = camera[0] * length / float(np.linalg.norm(clicks[1] - clicks[0]))
    middle = (clicks.mean(axis=0) - camera[1:3]) / camera[0] * away
    view = np.concatenate([camera, [np.pi, 0, 0], middle, [away]])
    scenery = _scenery(photo, identity, view)
    ends = [
        locate(_entry(photo, entry.ends, k, click[None]), scenery, 0.0)
        for k, click in enumerate(clicks)
    ]
    places = np.array([[-0.5, 0.0], [0.5, 0.0]]) * length
    px = np.array([_centre(end, view) for end in ends])
    u_px = max(_END_U_PX, *(end.u_noise_px for end in ends if end.kind == "point"), _END_U_PX)
    return _observation(photo, identity, places, px, u_px)


_END_U_PX = 0.3  # of a hole's middle: its edge may be broken on one side


def _centre(end: ImageFeature, view: Array) -> Array:
    if end.kind != "circle":
        return np.asarray(end.points_px[0])
    centre, _ = fit_circle(plane_from_image(end.points_px, view, 0.0))
    return np.asarray(image_from_plane(np.asarray(centre)[None], view, 0.0)[0])


def _in_turn(clicks: Array) -> Array:
    """Clockwise as seen, from the first."""
    following = np.roll(clicks, -1, axis=0)
    area = float(np.sum(clicks[:, 0] * following[:, 1] - clicks[:, 1] * following[:, 0]))
    return clicks if area > 0 else clicks[[0, 3, 2, 1]]


def _sides(entry: ScaleEntry, clicks: Array) -> tuple[float, float]:
    """Length from the first corner to the second, and to the next; the longer looks longer.

    Raises GeometryError where they look alike and are not.
    """
    long_mm, short_mm = sides_mm(entry)
    seen = np.linalg.norm(np.roll(clicks, -1, axis=0) - clicks, axis=1)
    ratio = float((seen[0] + seen[2]) / (seen[1] + seen[3]))
    if max(ratio, 1 / ratio) < _NEARLY_SQUARE < long_mm / short_mm:
        raise GeometryError("its sides look alike. Take the photo more from above.")
    return (long_mm, short_mm) if ratio > 1 else (short_mm, long_mm)


def _scenery(photo: Photo, identity: str, view: Array) -> Scenery:
    """Light by what is believed of phones, as nothing printed is there to tell more."""
    thing = known_sheet(identity)
    assert thing is not None  # the identity was made for it
    grey = grey_of(photo)
    nothing = _observation(photo, identity, np.empty((0, 2)), np.empty((0, 2)), 1.0)
    tone = estimate_tone(grey, thing, nothing)
    return Scenery(tone.light(grey), tone, view)


def _side(photo: Photo, k: int, start: Array, end: Array) -> FeatureEntry:
    return _entry(photo, "edge", k, np.array([start + s * (end - start) for s in _PART_OF_SIDE]))


def _entry(photo: Photo, kind: str, k: int, clicks: Array) -> FeatureEntry:
    pairs = tuple((float(x), float(y)) for x, y in clicks)
    return FeatureEntry(f"{kind} {k + 1}", kind, photo.name, "", pairs)


def _line(points_px: Array, camera: Array) -> Array:
    """(3,) homogeneous line through points, in undistorted normalised coordinates."""
    normal = undistort((points_px - camera[1:3]) / camera[0], camera)
    middle = normal.mean(axis=0)
    across = np.linalg.svd(normal - middle, full_matrices=False)[2][1]
    return np.array([across[0], across[1], -float(across @ middle)])


def _observation(
    photo: Photo, identity: str, places: Array, px: Array, u_px: float
) -> MarkerObservation:
    return MarkerObservation(
        photo=photo.name,
        sheet=identity,
        saddles_mm=places,
        saddles_px=px,
        u_px=u_px,
        expected=len(places),
        square_px=float(np.linalg.norm(px[1] - px[0])) if len(px) > 1 else 0.0,
    )
