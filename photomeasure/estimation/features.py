"""Where are the located features in millimetres, and what is their joint covariance?

Inputs are one vector: the numbers of all views, the heights of all planes, for each photo
its tone curve's doubt, for each feature its edge's doubt. The Jacobian of every feature's
numbers by that vector carries all sources at once, so two features that share a sheet, a
plane or a photo stay correlated. What an edge is and the noise along it are each feature's
own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.estimation.shapes import SHAPE_KINDS
from photomeasure.geometry.camera import (
    camera_centre,
    image_from_plane,
    leaned,
    plane_from_image,
)
from photomeasure.records.feature import Feature, Features, ImageFeature
from photomeasure.records.shapes import Shape
from photomeasure.records.view import VIEW_SIZE, Solution, View

Array = NDArray[np.float64]

HEIGHT, EDGE, TONE, NOISE = "plane height", "edge definition", "tone curve", "edge noise"
LEAN = "plane lean"
CARD_LEAN_U_DEG = 0.15  # of a plane against a card stuck on it by hand; a judgement

VIEW_STEPS = np.array([1.0, 0.5, 0.5, 1e-3, 1e-3, 1e-5, 1e-5, 1e-3] + [1e-5] * 3 + [1e-2] * 3)
_HEIGHT_STEP_MM = 0.05
_LEAN_STEP_RAD = 1e-4
_SHIFT_STEP_PX = 0.1
_POINTS_FOR_SLOPES = 64
CLICK_U_PX = 1.5  # how well a finger or mouse hits what is meant
LOCAL_SHARE = 0.5  # of an edge's doubt that differs from place to place


@dataclass(frozen=True)
class Height:
    """A plane's height above its sheet or card and its standard uncertainty, mm.

    depth_mm : how far down walls go from it, None where nobody said. lean_u_deg : standard
    uncertainty of its lean about either axis, None where nobody said.
    """

    mm: float
    u_mm: float
    depth_mm: float | None = None
    lean_u_deg: float | None = None


@dataclass(frozen=True, eq=False)
class _Placed:
    """One feature with the slopes of its numbers by what they depend on.

    view : that it was seen in. by_view : (k, 14); by_height, by_shift, by_tone : (k,);
    by_lean : (k, 2), for one standard uncertainty; noise : (k, k).
    """

    feature: Feature
    view: View
    by_view: Array
    by_height: Array
    by_lean: Array
    by_shift: Array
    by_tone: Array
    noise: Array


def place_features(
    located: Sequence[ImageFeature],
    solution: Solution,
    heights: Mapping[str, Height],
    targets: Mapping[tuple[str, str], str] | None = None,
) -> Features:
    """All features in millimetres, with covariance by source.

    targets : (photo, plane) → the sheet or card that the plane is measured from there; where
    nothing is said, the first view of the photo. Raises GeometryError, naming the feature,
    when its points do not define its shape.
    """
    placed, start = [], 0
    for image in located:
        view = view_on(solution, image.photo, (targets or {}).get((image.photo, image.plane)))
        one = _place(image, view, heights[image.plane])
        placed.append(replace(one, feature=replace(one.feature, start=start)))
        start += len(one.feature.shape.numbers)
    features = tuple(p.feature for p in placed)
    values = np.concatenate([f.shape.numbers for f in features] or [np.empty(0)])
    return Features(features, values, _covariances(placed, solution, heights, start))


def view_on(solution: Solution, photo: str, target: str | None) -> View:
    """The view of a photo from this sheet or card, or its first view."""
    return next(v for v in solution.views if v.photo == photo and target in (None, v.sheet))


def place_alone(image: ImageFeature, view: View, height_mm: float) -> Feature:
    """One feature in millimetres, without what it is uncertain by. Raises GeometryError."""
    try:
        shape = _shape(image, view.parameters, height_mm, 0.0)
    except GeometryError as error:
        raise GeometryError(f"{image.name} in {image.photo}: {error}") from None
    return Feature(
        image.name, image.kind, image.photo, image.plane, shape, image, target=view.sheet
    )


def _place(image: ImageFeature, view: View, height: Height) -> _Placed:
    kind, height_mm = SHAPE_KINDS[image.kind], height.mm
    few = image
    every = max(1, len(image.points_px) // _POINTS_FOR_SLOPES)
    if every > 1:
        few = replace(
            image, points_px=image.points_px[::every], normals_px=image.normals_px[::every]
        )
    numbers = view.parameters
    feature = place_alone(image, view, height_mm)
    points_mm = plane_from_image(image.points_px, numbers, height_mm)
    mm_per_px = _mm_per_px(points_mm, numbers, height_mm)
    return _Placed(
        feature=feature,
        view=view,
        by_view=_slopes_by_view(few, numbers, height_mm),
        by_height=_slope(
            lambda h: _shape(few, numbers, height_mm + h, 0.0).numbers, _HEIGHT_STEP_MM
        ),
        by_lean=_slopes_by_lean(few, view, height),
        by_shift=_slope(
            lambda s: _shape(_one_sided(few), numbers, height_mm, s).numbers, _SHIFT_STEP_PX
        ),
        by_tone=_slope(lambda s: _shape(few, numbers, height_mm, s).numbers, _SHIFT_STEP_PX),
        noise=kind.noise(
            feature.shape, points_mm, image.u_noise_px * mm_per_px, CLICK_U_PX * mm_per_px
        ),
    )


def _shape(image: ImageFeature, view: Array, height_mm: float, shift_px: float) -> Shape:
    moved = image.points_px + shift_px * image.normals_px
    points = plane_from_image(moved, view, height_mm)
    ends = image.extent_px
    extent = plane_from_image(ends, view, height_mm) if len(ends) else ends
    eye = camera_centre(view) - [0.0, 0.0, height_mm]
    return SHAPE_KINDS[image.kind].fit(points, extent, eye)


def _one_sided(image: ImageFeature) -> ImageFeature:
    """Normals all outwards round a circle or tube: what its edge is may be in doubt the same
    way all round, though it is dark against light here and light against dark there."""
    if not SHAPE_KINDS[image.kind].outwards:
        return image
    arms = image.points_px - image.points_px.mean(axis=0)
    outwards = np.sign(np.einsum("ij,ij->i", arms, image.normals_px))
    return replace(image, normals_px=image.normals_px * outwards[:, None])


def _slopes_by_view(image: ImageFeature, view: Array, height_mm: float) -> Array:
    def slope(unit: Array, step: float) -> Array:
        return _slope(lambda d: _shape(image, view + d * unit, height_mm, 0.0).numbers, step)

    steps = zip(np.eye(VIEW_SIZE), VIEW_STEPS, strict=True)
    return np.column_stack([slope(unit, step) for unit, step in steps])


def lean_u_rad(height: Height, *, beside_card: bool) -> float:
    """How far a plane may lean: a part lies flat on a sheet; a card is stuck on by hand."""
    usual = CARD_LEAN_U_DEG if beside_card else 0.0
    return float(np.radians(usual if height.lean_u_deg is None else height.lean_u_deg))


def _slopes_by_lean(image: ImageFeature, view: View, height: Height) -> Array:
    """(k, 2) by one standard uncertainty of its plane's lean about x and about y."""
    u_rad = lean_u_rad(height, beside_card=view.is_card)

    def slope(axis: Array) -> Array:
        at = view.parameters
        return _slope(
            lambda a: _shape(image, leaned(at, axis, a), height.mm, 0.0).numbers, _LEAN_STEP_RAD
        )

    numbers = len(_shape(image, view.parameters, height.mm, 0.0).numbers)
    if u_rad == 0.0:
        return np.zeros((numbers, 2))
    return np.column_stack([slope(axis) * u_rad for axis in np.eye(3)[:2]])


def _slope(numbers_at: Callable[[float], Array], step: float) -> Array:
    return np.asarray((numbers_at(step) - numbers_at(-step)) / (2 * step))


def _mm_per_px(points_mm: Array, view: Array, height_mm: float) -> float:
    centre = points_mm.mean(axis=0)
    cross = centre + np.array([[0.5, 0], [-0.5, 0], [0, 0.5], [0, -0.5]])
    px = image_from_plane(cross, view, height_mm)
    return 2 / float(np.linalg.norm(px[0] - px[1]) + np.linalg.norm(px[2] - px[3]))


def _edge_doubt(placed: _Placed) -> Array:
    """(k, k) covariance of a feature's numbers for a doubt of 1 px where its edge runs.

    Most of the doubt is common to the whole edge, some differs from place to place.
    """
    local = SHAPE_KINDS[placed.feature.kind].local(LOCAL_SHARE * placed.by_shift)
    return np.outer(placed.by_shift, placed.by_shift) + local


def _covariances(
    placed: Sequence[_Placed],
    solution: Solution,
    heights: Mapping[str, Height],
    size: int,
) -> dict[str, Array]:
    by_views = np.zeros((size, len(solution.values)))
    by_plane = {name: np.zeros(size) for name in heights}
    by_lean = {name: np.zeros((size, 2)) for name in heights}
    by_photo = {view.photo: np.zeros(size) for view in solution.views}
    edge, noise = np.zeros((size, size)), np.zeros((size, size))
    for p in placed:
        rows, image = p.feature.indices, p.feature.image
        by_views[rows, p.view.start : p.view.start + VIEW_SIZE] = p.by_view
        by_plane[image.plane][rows] = p.by_height * heights[image.plane].u_mm
        by_lean[image.plane][rows] = p.by_lean
        by_photo[image.photo][rows] = p.by_tone * image.u_tone_px
        block = np.ix_(rows, rows)
        edge[block] = _edge_doubt(p) * image.u_shift_px**2
        noise[block] = p.noise
    parts = {s: by_views @ c @ by_views.T for s, c in solution.covariances.items()}
    parts[HEIGHT] = sum((np.outer(c, c) for c in by_plane.values()), np.zeros((size, size)))
    parts[TONE] = sum((np.outer(c, c) for c in by_photo.values()), np.zeros((size, size)))
    parts[EDGE], parts[NOISE] = edge, noise
    if any(c.any() for c in by_lean.values()):
        parts[LEAN] = sum((c @ c.T for c in by_lean.values()), np.zeros((size, size)))
    return parts
