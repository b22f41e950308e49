"""Why do the corners not lie where one flat, true print would have them?

The fit leaves residuals. Here every corner that was found counts again, also those that the
fit gave up, and patterns of what goes wrong in a garage are tried one by one: which of them
explains the residuals far better than chance? What a length would change by, if the pattern
were true, is propagated and compared with its stated uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from math import hypot, log

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError, PhotoError
from photomeasure.estimation.foresight import expected_length, length_change
from photomeasure.estimation.joint import PRINT_SCALE, Sighting, Unknowns
from photomeasure.estimation.patterns import (
    ARCHED,
    BENT,
    FOLDED,
    LIFTED,
    PRINT,
    STITCHED,
    TORN,
    Pattern,
    picture_patterns,
    target_patterns,
)
from photomeasure.estimation.priors import LensPrior
from photomeasure.estimation.views import Fit, corner_doubt_px, linearised
from photomeasure.geometry.camera import slopes_by_place
from photomeasure.records.view import Solution

Array = NDArray[np.float64]

_SIGNIFICANT = 60.0  # of the square sum in units of the noise, far beyond what chance leaves
_A_FREEDOM = 10.0  # each free number of a pattern must earn so much
_EXPLAINED = 0.3  # of what the noise does not explain
_WORST_LENS_STRAIN = 6.0  # standard uncertainties
_BENDS_WITH = {3: 3, 4: 5, 5: 2, 6: 2, 7: 7}  # power of the radius, of k1 k2 p1 p2 k3
_SLIGHT_LIFT_MM = 0.4  # paper that was laid down and not stuck
_BORNE_OF_PAPER = 2.0  # times the stated U, which is widened by it: bumps follow most of a bend
_WORTH_SAYING = 0.5  # of the stated uncertainty


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """A pattern that explains one sighting's residuals.

    size : (d,) its numbers: mm of lift or shift, shares of a print, px in the picture.
    explained : share of the unexplained square sum. shift : (14,) by what the view would
    change if the pattern were taken into the fit, and length_change_mm what a 100 mm length
    would; u_mm : its stated U, the print's scale aside.
    """

    photo: str
    sheet: str
    kind: str
    where: str
    size: tuple[float, ...]
    explained: float
    shift: Array
    length_change_mm: float
    u_mm: float

    @property
    def breaks_the_promise(self) -> bool:
        """Whether the stated uncertainty cannot hold, as the pattern is only an estimate."""
        borne = _BORNE_OF_PAPER if self.is_of_paper else 1.0
        return self.length_change_mm > borne * self.u_mm and not self._is_slight

    @property
    def is_worth_saying(self) -> bool:
        """Whether a person should do something about it; paper always lifts a little."""
        return not self._is_slight or self.length_change_mm > _WORTH_SAYING * self.u_mm

    @property
    def is_of_paper(self) -> bool:
        """Whether the paper does not lie flat."""
        return self.kind in (BENT, ARCHED, FOLDED, LIFTED)

    @property
    def _is_slight(self) -> bool:
        lift_mm = max(abs(v) for v in self.size)
        return self.is_of_paper and lift_mm < _SLIGHT_LIFT_MM

    @property
    def words(self) -> str:
        """What is seen, the limit and the remedy."""
        seen, remedy = _WORDS[self.kind]
        amount = float(np.max(np.abs(self.size)))
        share = 100 * (self.size[0] - self.size[-1])
        return (
            f"{self.photo}: {self.sheet} {seen.format(where=self.where, n=amount, share=share)}, "
            f"which explains {self.explained:.0%} of what does not fit; a 100 mm length would "
            f"change by {self.length_change_mm:.2f} mm (stated: ± {self.u_mm:.2f} mm). {remedy}"
        )


_GLUE = "Stick it to something flat (glue, tape all round, or magnets), and take the photo again."
_WORDS = {
    BENT: ("bends up at {where} by about {n:.1f} mm", _GLUE),
    ARCHED: ("is arched along {where} and the opposite one, by about {n:.1f} mm", _GLUE),
    FOLDED: ("has a crease and rises towards {where} by about {n:.1f} mm", _GLUE),
    LIFTED: ("lifts at {where} by about {n:.1f} mm", _GLUE),
    PRINT: (
        "is {share:+.2f} % longer in x than in y, beyond what was stated of its print",
        "Read both bars again, the lower one for x and the upright one for y; print it anew at "
        "actual size if they differ.",
    ),
    TORN: (
        "is in two pieces: {where} is shifted by {n:.2f} mm",
        "Use a whole sheet, or stick it together without a gap on something flat.",
    ),
    STITCHED: (
        "is seen in two parts that do not fit, {where}, by {n:.1f} px",
        "Take one plain photo: no panorama, no night mode, nothing moving.",
    ),
}


def diagnose(found: Sequence[Sighting], fit: Fit, solution: Solution) -> tuple[Diagnosis, ...]:
    """For each sighting the pattern that its residuals follow, if there is one.

    found : the sightings as they went into the fit, with the corners that it gave up.
    """
    weighed = [_weighed_as(s, used) for s, used in zip(found, fit.unknowns.sightings, strict=True)]
    unknowns = replace(fit.unknowns, sightings=tuple(weighed))
    try:
        residual, slopes = linearised(unknowns, fit.vector)
    except GeometryError:
        return ()
    scale = np.maximum(np.linalg.norm(slopes, axis=0), 1e-12)
    axes = np.linalg.qr(slopes / scale)[0]
    left = residual - axes @ (axes.T @ residual)
    told = []
    start = 0
    for k, sighting in enumerate(found):
        rows = slice(start, start + 2 * len(sighting.observation.saddles_px))
        start = rows.stop
        least = (corner_doubt_px(sighting) / corner_doubt_px(weighed[k])) ** 2
        best = _best(unknowns, fit.vector, k, rows, axes, left, least)
        if best is not None:
            moved = unknowns.view(fit.vector + _with_pattern(best, rows, slopes, residual), k)
            with suppress(GeometryError):  # it would turn the sheet away: nothing like it happened
                told.append(_diagnosis(best, solution, k, moved))
    return tuple(told)


def _weighed_as(found: Sighting, used: Sighting) -> Sighting:
    """All corners that were found, in as much doubt as those that the fit used."""
    return replace(found, observation=replace(found.observation, u_px=used.observation.u_px))


def refuse_strained_lens(fit: Fit) -> None:
    """Raise PhotoError for a lens that is nothing like what is believed of phones.

    Such a fit hides something else: a crop, a straightened or stitched picture.
    """
    unknowns = fit.unknowns
    for sighting in unknowns.photos.values():
        if unknowns.lenses[sighting.lens].known:
            continue  # a record is held against its own limit
        strain = np.abs(unknowns.lens_belief(sighting.lens).residual(fit.vector))
        worst = int(np.argmax(strain))
        if strain[worst] > _WORST_LENS_STRAIN:
            prior = unknowns.lenses[sighting.lens]
            seen = fit.vector[unknowns.lens(sighting.lens)]
            raise PhotoError(f"{sighting.photo}: {_strained(prior, seen, worst)}")


def _strained(prior: LensPrior, seen: Array, worst: int) -> str:
    """In px, by how much the lens `seen` (8,) is not the expected one, the limit, the remedy."""
    focal_px = prior.mean[0]
    borne = _WORST_LENS_STRAIN * np.sqrt(np.diag(prior.covariance))
    off = np.abs(seen - prior.mean)
    if worst == 0:
        what = (
            f"the target looks as if taken by a lens of {seen[0]:.0f} px focal length; by "
            f"its EXIF {focal_px:.0f} px are expected, and at most {borne[0]:.0f} px more or less "
            "can be"
        )
        why = "It was cropped, or zoomed without saying so"
    elif worst < 3:
        what = (
            f"the target looks as if the lens pointed {off[worst]:.0f} px beside the middle of "
            f"the picture; at most {borne[worst]:.0f} px can be"
        )
        why = "It was cropped or straightened"
    else:
        radius = hypot(*prior.size_px) / 2 / focal_px
        bends_px = focal_px * radius ** _BENDS_WITH[worst]
        what = (
            f"the target is bent by {bends_px * off[worst]:.0f} px more or less than by a phone's "
            f"lens, at the corners of the picture; at most {bends_px * borne[worst]:.0f} px can be"
        )
        why = "It is a panorama, straightened, or from the rim of a wide lens"
    return f"{what}. {why}. Use the picture as the camera made it."


@dataclass(frozen=True, eq=False)
class _Candidate:
    """A pattern with its whitened columns (2N, d), its size and what it explains."""

    pattern: Pattern
    columns: Array
    size: Array
    gain: float
    explained: float


def _best(
    unknowns: Unknowns,
    vector: Array,
    k: int,
    rows: slice,
    axes: Array,
    left: Array,
    least_noise: float,
) -> _Candidate | None:
    mine = left[rows]
    noise = _noise(mine, least_noise)
    beyond = float(mine @ mine) / noise - len(mine)
    if beyond < _SIGNIFICANT:
        return None
    best: _Candidate | None = None
    for pattern, columns in _whitened(unknowns, vector, k):
        size, gain = _fitted(columns, rows, axes, left)
        gain = gain / noise - _A_FREEDOM * columns.shape[1]
        if best is None or gain > best.gain:
            best = _Candidate(pattern, columns, size, gain, gain / beyond)
    good = best is not None and best.gain > _SIGNIFICANT and best.explained > _EXPLAINED
    return best if good else None


def _noise(residual: Array, least: float) -> float:
    """Variance of a residual by the quieter half of the corners, at least their own doubt's."""
    squares = np.sort((residual.reshape(-1, 2) ** 2).sum(axis=1))
    return max(least, float(np.median(squares)) / (2 * log(2)))


def _whitened(unknowns: Unknowns, vector: Array, k: int) -> Iterator[tuple[Pattern, Array]]:
    """Every pattern with what it does to the residuals of sighting k, (2N, d)."""
    sighting = unknowns.sightings[k]
    seen = sighting.observation
    doubt = corner_doubt_px(sighting)
    by_place = slopes_by_place(unknowns.paper(vector, k), unknowns.view(vector, k))
    for pattern in target_patterns(seen.saddles_mm):
        moved = np.einsum("nij,njd->nid", by_place, pattern.columns)
        yield pattern, moved.reshape(-1, moved.shape[2]) / doubt
    for pattern in picture_patterns(seen.saddles_px, sighting.size_px):
        yield pattern, pattern.columns.reshape(-1, pattern.columns.shape[2]) / doubt


def _fitted(columns: Array, rows: slice, axes: Array, left: Array) -> tuple[Array, float]:
    """Size of a pattern beside everything else that is free, and the square sum it takes."""
    mine = axes[rows]
    within = mine.T @ columns
    free = columns.T @ columns - within.T @ within
    pull = columns.T @ left[rows] - within.T @ (axes.T @ left)
    try:
        size = -np.linalg.solve(free + 1e-9 * np.trace(free) * np.eye(len(free)), pull)
    except np.linalg.LinAlgError:
        return np.zeros(columns.shape[1]), 0.0
    return np.asarray(size), float(-pull @ size)


def _with_pattern(best: _Candidate, rows: slice, slopes: Array, residual: Array) -> Array:
    """(n,) by what all else would move if the pattern were among the unknowns."""
    columns = np.zeros((len(residual), best.columns.shape[1]))
    columns[rows] = best.columns
    scale = np.maximum(np.linalg.norm(slopes, axis=0), 1e-12)
    step = np.linalg.lstsq(np.hstack([slopes / scale, columns]), -residual, rcond=None)[0]
    return np.asarray(step[: len(scale)] / scale)


def _diagnosis(best: _Candidate, solution: Solution, k: int, moved: Array) -> Diagnosis:
    """moved : (14,) the view of sighting k with the pattern taken into the fit."""
    view = solution.views[k]
    _, u_mm = expected_length(solution, view)
    others = [u for source, u in u_mm.items() if source != PRINT_SCALE]
    return Diagnosis(
        photo=view.photo,
        sheet=view.sheet,
        kind=best.pattern.kind,
        where=best.pattern.where,
        size=tuple(float(v) for v in best.size),
        explained=min(float(best.explained), 1.0),
        shift=moved - view.parameters,
        length_change_mm=length_change(view.parameters, moved),
        u_mm=2 * float(np.linalg.norm(others)),
    )
