"""Where does the camera stand to a plane of which only one length is known?

One length says how far away the plane is, not how it is tilted: that it is nearly square-on is
assumed, and stated. A tilt shortens lengths by up to half its square whichever way they run,
which no slope shows; so much doubt of the distance is added.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import radians, sqrt

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import PhotoError
from photomeasure.estimation.joint import LENS_BELIEF, ScalePrior, Sighting
from photomeasure.estimation.levenberg import jacobian_of
from photomeasure.estimation.priors import LensPrior
from photomeasure.geometry.camera import rotation_vector, undistort
from photomeasure.geometry.orientation import turned_camera
from photomeasure.records.view import VIEW_SIZE, Solution, View

Array = NDArray[np.float64]

TILT_U_DEG = 10.0  # of each of two tilts: held square-on by eye
LENGTH, TILT, ENDS = "known length", "assumed tilt", "length's ends"
_CAMERA, _TILTS, _PX, _LENGTH = slice(0, 8), slice(8, 10), slice(10, 14), slice(14, 15)
_STEPS = np.concatenate([[1.0, 0.5, 0.5], np.full(5, 1e-4), [1e-3] * 2, [0.1] * 4, [1e-2]])


def is_length(sighting: Sighting) -> bool:
    """Whether it shows two ends of a length and nothing more."""
    return len(sighting.observation.saddles_mm) == 2


def with_lengths(
    solution: Solution | None,
    sightings: Sequence[Sighting],
    lenses: Mapping[str, LensPrior],
    scales: Mapping[str, ScalePrior],
) -> Solution:
    """The solution and one view more for each length, each with its own doubt."""
    for sighting in sightings:
        values, parts = _placed(sighting, lenses[sighting.lens], scales[sighting.print_name])
        solution = _appended(solution, sighting, values, parts)
    assert solution is not None  # there is a sighting of one kind or the other
    return solution


def _placed(
    sighting: Sighting, prior: LensPrior, scale: ScalePrior
) -> tuple[Array, dict[str, Array]]:
    """(14,) view and its covariance by source."""
    seen = sighting.observation
    matrix, offset = turned_camera(prior.size_px, sighting.orientation)
    length = float(np.linalg.norm(seen.saddles_mm[1] - seen.saddles_mm[0]))
    camera = matrix @ prior.mean + offset
    inputs = np.concatenate([camera, [0.0, 0.0], seen.saddles_px.ravel(), [length]])
    values = _view(inputs)
    near = values[8:11]
    slopes = jacobian_of(lambda moved: _view(moved, near), inputs, _STEPS)
    tilt = radians(TILT_U_DEG)
    farther = np.concatenate([np.zeros(11), values[11:]]) * tilt**2 * sqrt(3) / 2
    covariances = {
        LENS_BELIEF: (_CAMERA, matrix @ prior.covariance @ matrix.T),
        TILT: (_TILTS, np.eye(2) * tilt**2),
        ENDS: (_PX, np.eye(4) * seen.u_px**2),
        LENGTH: (_LENGTH, np.eye(1) * (length * float(scale.u[0])) ** 2),
    }
    parts = {s: slopes[:, w] @ c @ slopes[:, w].T for s, (w, c) in covariances.items()}
    parts[TILT] = parts[TILT] + np.outer(farther, farther)
    return values, parts


def _view(inputs: Array, near: Array | None = None) -> Array:
    """(14,) view of a plane whose normal is tilted so, with the length between both ends.

    near : (3,) a turn of nearly half a circle has two rotation vectors; this one is like it.
    """
    camera, (about_x, about_y), ends, (length,) = (
        inputs[w] for w in (_CAMERA, _TILTS, _PX, _LENGTH)
    )
    normal = undistort((ends.reshape(2, 2) - camera[1:3]) / camera[0], camera)
    rays = np.column_stack([normal, np.ones(2)])
    out = np.array([np.tan(about_y), np.tan(about_x), -1.0])
    out /= np.linalg.norm(out)
    first, second = (ray / (ray @ out) for ray in rays)
    away = -length / float(np.linalg.norm(second - first))
    first, second = first * away, second * away
    right = (second - first) / length
    turn = np.column_stack([right, np.cross(out, right), out])
    vector = rotation_vector(turn)
    if near is not None and float(vector @ near) < 0:
        vector = vector * (1 - 2 * np.pi / np.linalg.norm(vector))
    return np.concatenate([camera, vector, (first + second) / 2])


def _appended(
    solution: Solution | None, sighting: Sighting, values: Array, parts: dict[str, Array]
) -> Solution:
    start = 0 if solution is None else len(solution.values)
    view = View(
        photo=sighting.photo,
        sheet=sighting.observation.sheet,
        size_px=sighting.size_px,
        camera=values[:8],
        pose=values[8:],
        residual_px=0.0,
        held_out_mm=0.0,
        start=start,
    )
    warning = (
        f"{sighting.photo}: one length does not tell how its plane is tilted; square-on within "
        f"± {2 * TILT_U_DEG:.0f}° is assumed. A bank card, a sheet of paper or a printed card in "
        "that plane would tell."
    )
    if solution is None:
        return Solution((view,), values, parts, (warning,))
    size = start + VIEW_SIZE
    whole = {}
    for source in (*solution.covariances, *(s for s in parts if s not in solution.covariances)):
        block = np.zeros((size, size))
        if source in solution.covariances:
            block[:start, :start] = solution.covariances[source]
        if source in parts:
            block[start:, start:] = parts[source]
        whole[source] = block
    return Solution(
        (*solution.views, view),
        np.concatenate([solution.values, values]),
        whole,
        (*solution.warnings, warning),
    )


def refuse_second_view(sightings: Sequence[Sighting]) -> None:
    """Raise PhotoError where one photo has two things of the same kind and size."""
    seen = [(s.photo, s.observation.sheet) for s in sightings]
    for photo, thing in dict.fromkeys(seen):
        if seen.count((photo, thing)) > 1:
            raise PhotoError(f"{photo}: two of {thing} are pointed at. Point at one of them.")
