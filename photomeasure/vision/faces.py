"""Where does the flat face of a part end?

Beside its edge a face is one even surface; what follows, be it chamfer, wall, shadow or paper,
differs from it nearly everywhere. So the face's light is modelled from the far side of the
band, and the line is sought up to which everything agrees with that model: a judgement of
regions, which a faint chamfer or a soft shadow does not deceive as it does one of lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.vision.band import STEP_PX, USUAL_BLUR_PX, Band
from photomeasure.vision.ridges import Ridge, follow

Array = NDArray[np.float64]

_FAR_SHARE = 0.25  # of the band, at its far side, from which the face's light is learnt
_FAR_PX = 5.0  # at least
_LEAST_SIGMA = 0.0015  # of full light
_RANGE = 0.5  # of full light: what anything but the face may be
_MOST_AGREEMENT = 2.5  # of one sample, as log of a ratio of likelihoods
_MOST_DEPARTURE = 6.0
_TURNS_PX = (-4.0, -2.0, 0.0, 2.0, 4.0)
_FINER_PX = (2.0, 1.0, 1.0, 0.5, 0.5, 0.25)
_STRIP_PX = (1.0, 4.0)  # beside the line, where both sides are judged
_DEPARTS_SIGMAS = 3.0
_LEAST_FACE, _LEAST_OTHER = 0.8, 0.5  # shares of the rows
_KNOWN_PX, _KNOWN_SPREAD_PX, _KNOWN_SHARE = (0.0, 3.2), 0.8, 0.5
_BEYOND_PX = np.arange(-1.0, 6.1, 0.5)  # where the edge itself lies from there
_NOTICED_PX = 2.0  # before its middle a blurred step begins to show
_NEAR_PX, _FLANK_PX, _SHOULDER = 1.5, 1.5, 1.5
_ROWS_AVERAGED = 4.0
_STANDS_OUT, _SHARE_OF_SHARPEST = 1.6, 0.08


@dataclass(frozen=True, eq=False)
class FaceEnd:
    """The edge at which a face ends that lies outwards (material +1) or inwards (-1) of it.

    face, other : the shares of rows that look like the face on the one side and like
    something else on the other. light : of the face, mean. is_line : whether the edge itself
    shows as a line of change; a shadow that begins to fade does not.
    """

    edge: Ridge
    material: int
    face: float
    other: float
    light: float
    is_line: bool

    @property
    def is_clear(self) -> bool:
        """Whether the face really ends there, and there alone."""
        return self.face >= _LEAST_FACE and self.other >= _LEAST_OTHER


def can_be_judged(band: Band) -> bool:
    """Whether a band is wide enough to show a face beside its edge; a free curve has too many
    ways to run."""
    return not band.path.is_free and float(band.offsets_px[-1]) >= _FAR_PX


def face_end(band: Band, material: int, ridges: Sequence[Ridge] = ()) -> FaceEnd:
    """Where the face ends that lies outwards (material +1) or inwards (-1) of the path.

    ridges : lines of change already found, of which one may be the edge.
    """
    model, sigma = _face_light(band, material)
    departs = np.abs(band.evened - model) / sigma
    line = _best_line(_gathered(departs, sigma, band, material), band)
    wider = _wider(band)

    def strip(way: int) -> Array:
        steps = way * np.linspace(*_STRIP_PX, 5)[:, None]
        looked = np.nan_to_num(band.along(departs, line + steps))
        return np.asarray(np.median(looked, axis=0)[band.inside])

    seen = _known_edge(line, material, ridges, wider) or _edge_at(band, line, material)
    return FaceEnd(
        edge=seen or _noticed_edge(band, line, material),
        material=material,
        face=float(np.mean(strip(material) < _DEPARTS_SIGMAS)),
        other=float(np.mean(strip(-material) > _DEPARTS_SIGMAS)),
        light=float(model[band.inside].mean()),
        is_line=seen is not None,
    )


def _face_light(band: Band, material: int) -> tuple[Array, float]:
    """(M, B) the light of an evenly lit face, and how far it scatters about that."""
    count = max(int(_FAR_PX / STEP_PX), int(_FAR_SHARE * len(band.offsets_px)))
    far = slice(-count, None) if material > 0 else slice(None, count)
    offsets, ways = band.offsets_px[far], band.path.basis
    use = np.repeat(band.inside, count)
    across = np.tile(offsets, len(ways))[None]
    design = np.concatenate([np.repeat(ways.T, count, axis=1), across])[:, use]
    solved, sigma = _robust_fit(design, band.evened[:, far].ravel()[use])
    tilt = solved[-1] * np.clip(band.offsets_px, offsets[0], offsets[-1])
    return (ways @ solved[:-1])[:, None] + tilt[None, :], sigma


def _robust_fit(design: Array, target: Array) -> tuple[Array, float]:
    """Least squares with what lies far off left out (Tukey's weights), and the scatter.

    design : (P, N). target : (N,).
    """
    weight = np.ones(len(target))
    for _ in range(8):
        weighted = design * weight
        solved = np.linalg.lstsq(weighted @ weighted.T, weighted @ (target * weight), rcond=None)
        miss = np.abs(target - solved[0] @ design)
        sigma = max(_LEAST_SIGMA, 1.4826 * float(np.median(miss)))
        weight = np.maximum(0.0, 1 - (miss / (4.7 * sigma)) ** 2)
    return np.asarray(solved[0]), sigma


def _gathered(departs: Array, sigma: float, band: Band, material: int) -> Array:
    """(M, B) log of how much likelier everything from a sample to the far side is the face."""
    agreement = min(_MOST_AGREEMENT, float(np.log(_RANGE / (sigma * np.sqrt(2 * np.pi)))))
    gain = agreement - np.minimum(departs**2 / 2, _MOST_DEPARTURE)
    gain[~band.inside] = 0.0
    if material < 0:
        return np.asarray(np.cumsum(gain, axis=1))
    return np.asarray(np.cumsum(gain[:, ::-1], axis=1)[:, ::-1])


def _best_line(total: Array, band: Band) -> Array:
    """(M,) the smooth line up to which the gain is largest: a grid, then finer ones."""
    basis, reach = band.path.basis, band.offsets_px[-1]
    turns = basis.shape[1] - 1
    shifts = np.arange(-reach + 2, reach - 2, 1.0)
    best = np.zeros(basis.shape[1])
    nearby = _grid(*[np.arange(-2, 3)] * (turns + 1))
    for tried in (_grid(shifts, *[_TURNS_PX] * turns), *(step * nearby for step in _FINER_PX)):
        best = best + tried[int(np.argmax(_scores(total, (best + tried) @ basis.T, band)))]
    return np.asarray(basis @ best)


def _grid(*values: ArrayLike) -> Array:
    """(T, P) all combinations of some values of each of P unknowns."""
    return np.stack(np.meshgrid(*values, indexing="ij"), axis=-1).reshape(-1, len(values))


def _scores(total: Array, lines: Array, band: Band) -> Array:
    rows, columns = total.shape
    place = np.rint((lines - band.offsets_px[0]) / STEP_PX)
    place = np.clip(place, 0, columns - 1, out=place) + columns * np.arange(rows)
    return np.asarray(total.take(place.astype(np.intp)).sum(axis=1))


def _wider(band: Band) -> float:
    """By how much the distances that hold for a usual blur grow in a softer photo."""
    return max(1.0, band.blur_px / USUAL_BLUR_PX)


def _known_edge(line: Array, material: int, ridges: Sequence[Ridge], wider: float) -> Ridge | None:
    """The ridge that was found just beyond where a face begins to differ."""
    for ridge in ridges:
        beyond = material * (line - ridge.offset_px)
        near = _KNOWN_PX[0] < float(np.mean(beyond)) < wider * _KNOWN_PX[1]
        if near and float(np.std(beyond)) < _KNOWN_SPREAD_PX and ridge.share > _KNOWN_SHARE:
            return ridge
    return None


def _edge_at(band: Band, line: Array, material: int) -> Ridge | None:
    """The line of change just beyond where a face begins to differ; None where a sharper one
    follows so close behind it that it is no more than that one's shoulder."""
    around = "wrap" if band.path.closed else "nearest"
    size = np.abs(gaussian_filter1d(band.slope, _ROWS_AVERAGED, axis=0, mode=around))
    beyond = _wider(band) * _BEYOND_PX
    means = np.array([_mean(s) for s in band.along(size, line - material * beyond[:, None])])
    usual = _mean(band.along(size, line + material * _STRIP_PX[1]))
    tops = np.flatnonzero((means[1:-1] >= means[:-2]) & (means[1:-1] >= means[2:])) + 1
    tops = tops[means[tops] > max(_STANDS_OUT * usual, _SHARE_OF_SHARPEST * means.max())]
    if len(tops) > 0 and not _is_shoulder(means, int(tops[0])):
        found = follow(band, line - material * beyond[tops[0]])
        return found
    return None


def _noticed_edge(band: Band, line: Array, material: int) -> Ridge:
    """The place at which a blurred step is noticed where a face begins to differ."""
    at = line - material * _wider(band) * _NOTICED_PX
    slope = np.nan_to_num(band.along(band.slope, at))
    return Ridge(at, band.inside, float(slope.mean()), float(np.abs(slope).mean()))


def _is_shoulder(means: Array, top: int) -> bool:
    """Whether more happens before a sharp change than its own blur explains."""
    away = _BEYOND_PX[top] - _NOTICED_PX
    if away <= _NEAR_PX:
        return False
    flank = float(np.exp(-0.5 * (away / _FLANK_PX) ** 2)) * means[top]
    return bool(np.interp(_NOTICED_PX, _BEYOND_PX, means) > _SHOULDER * flank)


def _mean(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else 0.0
