"""How sure would a length be from here, and how much surer if something were changed?

Nothing is guessed: the corners that another stand, tilt, record or reading would show are
laid out where the lens of this photo puts them, and the covariance is propagated again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.estimation.features import VIEW_STEPS, Height
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.levenberg import jacobian_of
from photomeasure.estimation.priors import LensPrior
from photomeasure.estimation.views import MODEL_U_PX, foresee_views
from photomeasure.geometry.camera import (
    image_from_plane,
    plane_from_image,
    rotation_matrix,
    rotation_vector,
)
from photomeasure.geometry.orientation import turned_camera
from photomeasure.records.view import VIEW_SIZE, Solution, View

Array = NDArray[np.float64]

LENGTH_MM = 100.0
FACE = Height(5.0, 0.05)
"""The length is thought on a face 5 ± 0.1 mm above the sheet: a plate read with a caliper."""

BAR_MM = 150.0  # of the check bars
EDGE_U_PX = 0.15  # of each end: what an edge is, and the tone curve
RECORD_U = (1.3e-3, 2.4e-4, 2.4e-4, 2e-4, 2e-3, 1e-5, 1e-5, 5e-3)
"""Of a record from six board photos, as the sample one: f and centre in long sides."""

_STEPS = np.concatenate([VIEW_STEPS, [0.05], np.full(8, 0.1)])
_ENDS_MM = np.array([[-0.5, 0.0], [0.5, 0.0], [0.0, -0.5], [0.0, 0.5]]) * LENGTH_MM


@dataclass(frozen=True, eq=False)
class Stand:
    """One photo of one target as found: what foresight starts from.

    view : as estimated. u_px : of its corners, what the fit misses included.
    prior : of its lens. scale : of its print.
    """

    sighting: Sighting
    view: View
    prior: LensPrior
    scale: ScalePrior
    u_px: float


def expected_length(solution: Solution, view: View) -> tuple[float, dict[str, float]]:
    """U (95 %) of a 100 mm length about the target's middle, mm, and u by source.

    The worse of one along x and one along y. Raises GeometryError where it is out of sight.
    """
    ends_px = image_from_plane(_ENDS_MM, view.parameters, FACE.mm)
    inputs = np.concatenate([view.parameters, [FACE.mm], ends_px.ravel()])
    slopes = jacobian_of(_lengths, inputs, _STEPS)
    by_view, by_height, by_ends = np.split(slopes, [VIEW_SIZE, VIEW_SIZE + 1], axis=1)
    own = slice(view.start, view.start + VIEW_SIZE)
    parts = {s: by_view @ c[own, own] @ by_view.T for s, c in solution.covariances.items()}
    parts["plane height"] = by_height @ by_height.T * FACE.u_mm**2
    parts["edges"] = by_ends @ by_ends.T * EDGE_U_PX**2
    variances = {source: np.maximum(np.diag(part), 0.0) for source, part in parts.items()}
    total = np.sum(list(variances.values()), axis=0)
    worse = int(np.argmax(total))
    u = {source: float(np.sqrt(both[worse])) for source, both in variances.items()}
    return 2 * float(np.sqrt(total[worse])), u


def length_change(view: Array, other: Array) -> float:
    """By how much the length differs, mm, when the same picture is read by another view (14,)."""
    ends_px = image_from_plane(_ENDS_MM, view, FACE.mm).ravel()
    one, two = (_lengths(np.concatenate([v, [FACE.mm], ends_px])) for v in (view, other))
    return float(np.max(np.abs(one - two)))


def _lengths(inputs: Array) -> Array:
    """(2,) lengths along x and y from a view, a height and four ends in px."""
    view, height, px = np.split(inputs, [VIEW_SIZE, VIEW_SIZE + 1])
    a, b, c, d = plane_from_image(px.reshape(-1, 2), view, float(height[0]))
    return np.array([np.linalg.norm(b - a), np.linalg.norm(d - c)])


def foreseen_length(stands: Sequence[Stand]) -> float:
    """U of the length in the first of these photos, if they were taken like this; inf if not."""
    lenses = {s.sighting.lens: _centred_on(s) for s in stands}
    scales = {s.sighting.print_name: _unbiased(s.scale) for s in stands}
    try:
        solution = foresee_views([_exact(s) for s in stands], lenses, scales)
        return expected_length(solution, solution.views[0])[0]
    except (GeometryError, np.linalg.LinAlgError):
        return float("inf")


def nearer(stand: Stand, share: float) -> Stand:
    """From `share` of the distance, the target in the middle of the picture."""
    return _standing(stand, stand.view.pose[:3], _distance(stand) * share)


def tilted(stand: Stand, tilt_deg: float) -> Stand:
    """From the same distance at another tilt, on the side where the camera is already."""
    rotation = rotation_matrix(stand.view.pose[:3])
    forward = rotation[2]
    lean = np.array([forward[0], forward[1], 0.0])
    lean = lean / np.linalg.norm(lean) if np.linalg.norm(lean) > 1e-6 else np.array([1.0, 0, 0])
    tilt = np.radians(tilt_deg)
    target = np.sin(tilt) * lean - np.cos(tilt) * np.array([0.0, 0.0, 1.0])
    right = rotation[0] - (rotation[0] @ target) * target
    right = right / np.linalg.norm(right)
    turned = np.vstack([right, np.cross(target, right), target])
    return _standing(stand, rotation_vector(turned), _distance(stand))


def with_record(stand: Stand) -> Stand:
    """With a camera record as good as six board photos make it."""
    u = np.array(RECORD_U)
    u[:3] *= max(stand.prior.size_px)
    tighter = np.minimum(np.diag(stand.prior.covariance), u**2)
    return replace(stand, prior=replace(stand.prior, covariance=np.diag(tighter), known=True))


def with_bars(stand: Stand, u_mm: float) -> Stand:
    """With both check bars read, each with this standard uncertainty."""
    u = np.minimum(stand.scale.u, u_mm / BAR_MM)
    return replace(stand, scale=ScalePrior(stand.scale.mean, u))


def from_other_side(stand: Stand, tilt_deg: float) -> Stand:
    """A second photo of the same set-up, tilted to the other side."""
    sighting = stand.sighting
    renamed = replace(sighting.observation, photo=f"{sighting.observation.photo} again")
    return tilted(replace(stand, sighting=replace(sighting, observation=renamed)), -tilt_deg)


def _distance(stand: Stand) -> float:
    return float(np.linalg.norm(stand.view.pose[3:]))


def _standing(stand: Stand, turn: Array, distance_mm: float) -> Stand:
    pose = np.concatenate([turn, [0.0, 0.0, distance_mm]])
    return replace(stand, view=replace(stand.view, pose=pose))


def _centred_on(stand: Stand) -> LensPrior:
    """The belief about the lens, moved to where this photo found it, in the sensor's frame."""
    matrix, offset = turned_camera(stand.prior.size_px, stand.sighting.orientation)
    return replace(stand.prior, mean=np.linalg.inv(matrix) @ (stand.view.camera - offset))


def _unbiased(scale: ScalePrior) -> ScalePrior:
    return ScalePrior(np.ones(2), scale.u)


def _exact(stand: Stand) -> Sighting:
    """The corners where this stand would show them."""
    seen = stand.sighting.observation
    px = image_from_plane(seen.saddles_mm, stand.view.parameters, 0.0)
    return replace(stand.sighting, observation=replace(seen, saddles_px=px, u_px=stand.u_px))


def seen_doubt_px(view: View, u_px: float) -> float:
    """What one corner's doubt must be for the fit to miss it by as much as it did."""
    return max(u_px, float(np.sqrt(max(view.residual_px**2 - MODEL_U_PX**2, 0.0))))


def fill_share(view: View, saddles_mm: Array, margin: float = 0.04) -> float:
    """By what share of the distance the target, put in the middle, would fill the picture."""
    pose = np.concatenate([view.pose[:3], [0.0, 0.0, float(np.linalg.norm(view.pose[3:]))]])
    px = image_from_plane(saddles_mm, np.concatenate([view.camera, pose]), 0.0)
    room = np.array(view.size_px) * (1 - 2 * margin)
    return float(np.max(np.ptp(px, axis=0) / room))


def px_per_mm(view: View, height_mm: float = 0.0) -> float:
    """At the target's middle, the mean of x and y."""
    cross = np.array([[0.5, 0.0], [-0.5, 0.0], [0.0, 0.5], [0.0, -0.5]])
    px = image_from_plane(cross, view.parameters, height_mm)
    return float(np.linalg.norm(px[0] - px[1]) + np.linalg.norm(px[2] - px[3])) / 2
