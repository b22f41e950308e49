"""How did each camera stand, how sure is that, and where does the doubt come from?

One least-squares fit over everything of `joint`, robust at first, then without the
corners that disagree. The covariance is split by source exactly: each group of residuals
contributes C Jᵀ J C, and the parts add up to C (JCGM 100, 5.1.2 in matrix form).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError, PhotoError
from photomeasure.estimation.alike import corners_as_one
from photomeasure.estimation.joint import CORNERS, Belief, ScalePrior, Sighting, Unknowns
from photomeasure.estimation.levenberg import jacobian_of, minimise
from photomeasure.estimation.paper import Paper, paper_of
from photomeasure.estimation.priors import LensPrior
from photomeasure.geometry.camera import (
    images_from_space,
    plane_from_image,
    slopes_by_place,
)
from photomeasure.geometry.pose import pose_from_plane
from photomeasure.records.view import VIEW_SIZE, MarkerObservation, Solution, View

Array = NDArray[np.float64]

MODEL_U_PX = 0.02  # what print, paper and lens model leave over, at the very least
_REJECT_SIGMA = 5.0
_MOST_REJECTED = 0.3
_MUCH_MISSED = 1.5  # times their doubt by which corners are missed
_UNSEEN = 4.0  # times the misses: what paper does where no corner is; intervals held with this
_REWEIGHED = 4
_WORST_RESIDUAL_PX = 3.0
_WORST_STRAIN = 6.0  # standard uncertainties by which a photo may contradict what is known


@dataclass(frozen=True, eq=False)
class Fit:
    """The fitted vector, the Jacobian of the residuals, and the source of each residual.

    The corners' rows are weakened where the corners miss by more than their own doubt.
    """

    unknowns: Unknowns
    vector: Array
    jacobian: Array
    sources: NDArray[np.str_]


def estimate_views(
    sightings: Sequence[Sighting],
    lenses: Mapping[str, LensPrior],
    scales: Mapping[str, ScalePrior],
) -> tuple[Fit, Solution]:
    """Fit all that is seen in all photos together; one view a sighting, in their order.

    scales : of each print by its name. Raises PhotoError or CalibrationError when a photo
    cannot be explained.
    """
    unknowns = Unknowns(tuple(sightings), dict(lenses), dict(scales), _papers(sightings))
    vector = _solve(unknowns, _start(unknowns), robust=True)
    unknowns = _without_outliers(unknowns, vector)
    vector = _solve(unknowns, vector, robust=False)
    unknowns, vector = _weighed_by_misses(unknowns, vector)
    _refuse_nonsense(unknowns, vector)
    _refuse_strain(unknowns, vector)
    fit = _fit(unknowns, vector)
    return fit, _solution(fit)


def foresee_views(
    sightings: Sequence[Sighting],
    lenses: Mapping[str, LensPrior],
    scales: Mapping[str, ScalePrior],
) -> Solution:
    """What photos would tell whose corners lie exactly where the beliefs' means put them."""
    unknowns = Unknowns(tuple(sightings), dict(lenses), dict(scales), _papers(sightings))
    return _solution(_fit(unknowns, _start(unknowns)))


def linearised(unknowns: Unknowns, vector: Array) -> tuple[Array, Array]:
    """Residuals (m,) of corners, then beliefs, each by its own doubt, and their (m, n) slopes."""
    return _residuals(unknowns, vector), _slopes(unknowns, vector)


def corner_doubt_px(sighting: Sighting) -> float:
    """By what one coordinate of its corners is weighed."""
    return _sigma_px(sighting)


def _papers(sightings: Sequence[Sighting]) -> dict[str, Paper]:
    """One paper a sheet, laid out by all of its corners that any photo shows."""
    corners: dict[str, list[Array]] = {}
    for sighting in sightings:
        seen = sighting.observation
        corners.setdefault(seen.sheet, []).append(seen.saddles_mm)
    return {sheet: paper_of(np.vstack(all_seen)) for sheet, all_seen in corners.items()}


def _start(unknowns: Unknowns) -> Array:
    vector = np.zeros(unknowns.size)
    for belief in unknowns.beliefs():
        vector[belief.where] = belief.mean
    for k, sighting in enumerate(unknowns.sightings):
        seen = sighting.observation
        camera = unknowns.camera(vector, k)
        vector[unknowns.pose(k)] = pose_from_plane(seen.saddles_mm, seen.saddles_px, camera)
    return vector


def _sigma_px(sighting: Sighting) -> float:
    return float(np.hypot(sighting.observation.u_px, MODEL_U_PX))


def _residuals(unknowns: Unknowns, vector: Array) -> Array:
    corners = [
        (unknowns.misses_px(vector, k) / _sigma_px(s)).ravel()
        for k, s in enumerate(unknowns.sightings)
    ]
    return np.concatenate([*corners, *(b.residual(vector) for b in unknowns.beliefs())])


def _slopes(unknowns: Unknowns, vector: Array) -> Array:
    """Jacobian of the residuals; a sighting's corners depend on few of the unknowns."""
    step = _scales_of(unknowns) * 1e-3
    blocks = [_corner_slopes(unknowns, vector, k, step) for k in range(len(unknowns.sightings))]
    for belief in unknowns.beliefs():
        block = np.zeros((len(belief.mean), unknowns.size))
        block[:, belief.where] = belief.whitener
        blocks.append(block)
    return np.concatenate(blocks)


def _corner_slopes(unknowns: Unknowns, vector: Array, k: int, step: Array) -> Array:
    """(2N, n): the camera by differences, print and paper through the corners' places."""
    sighting = unknowns.sightings[k]
    seen = sighting.observation
    block = np.zeros((len(seen.saddles_px), 2, unknowns.size))
    paper_mm = unknowns.paper(vector, k)
    camera = (unknowns.lens(sighting.lens), unknowns.breathing(seen.photo), unknowns.pose(k))
    moved = [i for where in camera for i in range(where.start, where.stop)]
    moves = np.diag(step)[moved]
    views = np.array([unknowns.view(vector + m, k) for m in (*moves, *-moves)])
    ahead, behind = np.split(images_from_space(paper_mm, views), 2)
    block[:, :, moved] = np.moveaxis((ahead - behind) / (2 * step[moved])[:, None, None], 0, 2)
    by_place = slopes_by_place(paper_mm, unknowns.view(vector, k))
    scale, curl = unknowns.scale(sighting.print_name), unknowns.curl(seen.sheet)
    block[:, :, scale] = by_place[:, :, :2] * seen.saddles_mm[:, None, :]
    block[:, :, curl] = by_place[:, :, 2:] * unknowns.bases[k][:, None, :]
    return block.reshape(-1, unknowns.size) / _sigma_px(sighting)


def _scales_of(unknowns: Unknowns) -> Array:
    """A typical step of each unknown, for the solver and the Jacobian."""
    step = np.ones(unknowns.size)
    for belief in unknowns.beliefs():
        step[belief.where] = 1 / np.linalg.norm(belief.whitener, axis=0)
    for k in range(len(unknowns.sightings)):
        step[unknowns.pose(k)] = [1e-3, 1e-3, 1e-3, 0.3, 0.3, 0.3]
    return step


def _solve(unknowns: Unknowns, start: Array, robust: bool) -> Array:
    return minimise(
        lambda vector: _residuals(unknowns, vector),
        start,
        _scales_of(unknowns),
        _soft_weights if robust else None,
        lambda vector: _slopes(unknowns, vector),
    )


def _soft_weights(residual: Array) -> Array:
    """Cauchy weights: a corner nine sigma out counts a tenth, a belief at its mean fully."""
    return np.asarray(1 / (1 + (residual / 3.0) ** 2))


def _without_outliers(unknowns: Unknowns, vector: Array) -> Unknowns:
    kept = []
    for k, sighting in enumerate(unknowns.sightings):
        miss = np.linalg.norm(unknowns.misses_px(vector, k), axis=1)
        limit = _REJECT_SIGMA * max(_sigma_px(sighting), float(np.median(miss)) / 1.18)
        good = miss < limit
        if not sighting.observation.is_printed:
            good = np.ones(len(miss), bool)  # of four corners none can be spared
        if good.mean() < 1 - _MOST_REJECTED:
            raise PhotoError(_inconsistent(sighting, good))
        kept.append(replace(sighting, observation=_only(sighting, good)))
    return replace(unknowns, sightings=tuple(kept))


def _weighed_by_misses(unknowns: Unknowns, vector: Array) -> tuple[Unknowns, Array]:
    """Fitted anew with corners that are missed by more than their doubt in as much doubt.

    Else corners that paper or lens keep from fitting outweigh all that is known beforehand, and
    lens and print take on absurd values for a hundredth of a pixel.
    """
    for _ in range(_REWEIGHED):
        weighed = replace(
            unknowns,
            sightings=tuple(
                _in_doubt(s, unknowns.misses_px(vector, k))
                for k, s in enumerate(unknowns.sightings)
            ),
        )
        if weighed.sightings == unknowns.sightings:
            break
        unknowns, vector = weighed, _solve(weighed, vector, robust=False)
    return unknowns, vector


def _in_doubt(sighting: Sighting, misses_px: Array) -> Sighting:
    seen = sighting.observation
    missed_px = float(np.sqrt(np.mean(misses_px**2)))
    if not seen.is_printed or missed_px < _MUCH_MISSED * _sigma_px(sighting):
        return sighting
    u_px = _UNSEEN * missed_px * float(np.sqrt(corners_as_one(seen.saddles_mm, misses_px)))
    return replace(sighting, observation=replace(seen, u_px=u_px))


def _only(sighting: Sighting, good: NDArray[np.bool_]) -> MarkerObservation:
    seen = sighting.observation
    return replace(seen, saddles_mm=seen.saddles_mm[good], saddles_px=seen.saddles_px[good])


def _inconsistent(sighting: Sighting, good: NDArray[np.bool_]) -> str:
    return (
        f"{sighting.photo}: {(~good).sum()} of {len(good)} corners of "
        f"{sighting.observation.sheet} do not lie where one flat print would have them; at most "
        f"{_MOST_REJECTED:.0%} may. Lay it flat and take the picture as the camera made it, "
        "without panorama or portrait mode."
    )


def _refuse_nonsense(unknowns: Unknowns, vector: Array) -> None:
    for k, sighting in enumerate(unknowns.sightings):
        rms = float(np.sqrt(np.mean(unknowns.misses_px(vector, k) ** 2)))
        if rms > _WORST_RESIDUAL_PX:
            name, sheet = sighting.photo, sighting.observation.sheet
            if unknowns.lenses[sighting.lens].known:
                raise CalibrationError(
                    f"{name}: with its camera record {sheet} is missed by {rms:.1f} px rms; at "
                    f"most {_WORST_RESIDUAL_PX:.0f} px can be. The photo is from another camera, "
                    "lens or zoom: name the right record, or leave it out."
                )
            raise PhotoError(
                f"{name}: {sheet} is missed by {rms:.1f} px rms; at most "
                f"{_WORST_RESIDUAL_PX:.0f} px can be. Lay the sheet flat, keep it away from the "
                "rim of a wide lens, and use the picture as the camera made it."
            )


def _refuse_strain(unknowns: Unknowns, vector: Array) -> None:
    """Refuse photos that contradict a camera record, however well they fit."""
    strains = [
        (max(belief.strain(vector) for belief in beliefs), words)
        for beliefs, words in _stated(unknowns, vector)
    ]
    worst, words = max(strains, key=lambda s: s[0], default=(0.0, ""))
    if worst > _WORST_STRAIN:
        raise CalibrationError(
            words.format(
                f"{worst:.0f} times as far off as the record leaves open; "
                f"{_WORST_STRAIN:.0f} times can be borne"
            )
        )


def _stated(unknowns: Unknowns, vector: Array) -> Iterator[tuple[Sequence[Belief], str]]:
    """What was stated of records, and what to say where a photo contradicts it.

    Readings of prints are held against the photo in `prints`.
    """
    for photo, sighting in unknowns.photos.items():
        if unknowns.lenses[sighting.lens].known:
            yield (
                [unknowns.lens_belief(sighting.lens), unknowns.breathing_belief(photo)],
                f"{photo}: its lens is not that of its camera record: a focal length of "
                f"{vector[unknowns.lens(sighting.lens)][0]:.0f} px comes out, the record says "
                f"{unknowns.lenses[sighting.lens].mean[0]:.0f} px; with its other numbers it is "
                "{}. The photo is from another camera, lens or zoom, or a bar was misread: name "
                "the right record, or leave it out.",
            )


def _fit(unknowns: Unknowns, vector: Array) -> Fit:
    jacobian = _slopes(unknowns, vector)
    corners = sum(2 * len(s.observation.saddles_px) for s in unknowns.sightings)
    beliefs = [b.source for b in unknowns.beliefs() for _ in range(len(b.mean))]
    sources = np.array([CORNERS] * corners + beliefs)
    residual = _residuals(unknowns, vector)[:corners]
    freedom = max(corners - 6 * len(unknowns.sightings) - 8, 1)
    inflation = max(1.0, float(residual @ residual) / freedom)
    jacobian[:corners] /= np.sqrt(inflation)
    return Fit(unknowns, vector, jacobian, sources)


def covariance_by_source(fit: Fit) -> dict[str, Array]:
    """Source → covariance of the whole vector; the parts add up to the whole."""
    scale = _scales_of(fit.unknowns)
    scaled = fit.jacobian * scale
    information = scaled.T @ scaled
    whole = np.linalg.inv(information) * np.outer(scale, scale)
    parts = {}
    for source in dict.fromkeys(fit.sources.tolist()):
        rows = fit.jacobian[fit.sources == source]
        parts[source] = whole @ (rows.T @ rows) @ whole
    return parts


def _solution(fit: Fit) -> Solution:
    unknowns, vector = fit.unknowns, fit.vector
    to_views = jacobian_of(unknowns.views, vector, _scales_of(unknowns) * 1e-3)
    parts = {s: to_views @ c @ to_views.T for s, c in covariance_by_source(fit).items()}
    views = tuple(_view(fit, k) for k in range(len(unknowns.sightings)))
    return Solution(views, unknowns.views(vector), parts)


def _view(fit: Fit, k: int) -> View:
    unknowns, vector = fit.unknowns, fit.vector
    sighting = unknowns.sightings[k]
    parameters = unknowns.view(vector, k)
    misses = unknowns.misses_px(vector, k)
    return View(
        photo=sighting.photo,
        sheet=sighting.observation.sheet,
        size_px=sighting.size_px,
        camera=parameters[:8],
        pose=parameters[8:],
        residual_px=float(np.sqrt(np.mean(misses**2))),
        held_out_mm=_held_out_mm(fit, k, misses),
        start=VIEW_SIZE * k,
        is_card=sighting.observation.is_card,
    )


def _held_out_mm(fit: Fit, k: int, misses: Array) -> float:
    """Rms error in mm with which each corner is predicted by all the others.

    From the leverages of the fit: r / (1 - h), the leave-one-out residual.
    """
    seen = [2 * len(s.observation.saddles_px) for s in fit.unknowns.sightings]
    start = sum(seen[:k])
    rows = fit.jacobian[start : start + seen[k]]
    scale = _scales_of(fit.unknowns)
    scaled = fit.jacobian * scale
    hat = rows * scale @ np.linalg.inv(scaled.T @ scaled)
    leverage = np.einsum("ij,ij->i", hat, rows * scale)
    left_out = misses / np.maximum(1 - leverage, 0.05).reshape(-1, 2)
    view = fit.unknowns.view(fit.vector, k)
    found = fit.unknowns.sightings[k].observation.saddles_px
    apart = plane_from_image(found + left_out, view, 0.0) - plane_from_image(found, view, 0.0)
    return float(np.sqrt(np.mean(apart**2)))
