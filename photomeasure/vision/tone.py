"""What did the phone do to the light, and how far did the ink spread?

A tone curve moves a dark–light edge by up to half a pixel and ink growth by about as much.
The photo's own printed edges tell them apart: every profile across a black square or a grey
patch is modelled from the light up (blur, tone curve, sharpening, clipping), and one set of
seven numbers must explain all of them, in shape and in place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import convolve1d
from scipy.special import ndtr

from photomeasure.estimation.levenberg import jacobian_of, minimise
from photomeasure.records.sheet import Sheet
from photomeasure.records.view import MarkerObservation
from photomeasure.vision.printed_edges import PrintedEdges, Target, printed_edges
from photomeasure.vision.steps import Steps, fit_steps

Array = NDArray[np.float64]

# name: mean, standard uncertainty, smallest, largest. Gamma and the two bends of common phones'
# curves, ink growth of common printers (mm an edge), lens blur and sharpening: "from memory".
BELIEFS: dict[str, tuple[float, float, float, float]] = {
    "gamma": (2.2, 0.35, 1.0, 4.0),
    "contrast": (0.2, 0.4, -0.9, 0.95),
    "shoulder": (0.0, 0.2, -0.6, 0.6),
    "growth_mm": (0.03, 0.02, -0.1, 0.2),
    "blur_px": (1.0, 0.6, 0.3, 5.0),
    "sharpening": (0.4, 0.4, 0.0, 3.0),
    "radius_px": (1.2, 0.4, 0.5, 3.0),
}
_MEAN, _U, _LOW, _HIGH = (np.array(column) for column in zip(*BELIEFS.values(), strict=True))
_CURVE = slice(0, 3)
_LEVELS = np.linspace(0.0, 1.0, 1025)
_ACROSS_PX = np.arange(-7.0, 7.01, 0.25)  # of an edge that is simulated
_CODE_DOUBT = 1.0  # grey levels an averaged profile may differ from the model
_CORRELATED_BINS = 4.0  # bins of a profile are finer than a pixel


@dataclass(frozen=True, eq=False)
class Tone:
    """How light became coded values in one photo.

    table : (256,) linear light of each coded value, 0 to 1. parameters : (7,) in the order
    of BELIEFS; covariance : (7, 7). edges : how many averaged printed edges it rests on.
    misfit : rms of their grey levels about the model. paper : linear light of the paper.
    """

    table: Array
    parameters: Array
    covariance: Array
    edges: int
    misfit: float
    paper: float

    def light(self, grey: NDArray[np.uint8]) -> NDArray[np.float32]:
        """(H, W) linear light 0 to 1 of coded luma (H, W)."""
        return np.asarray(cv2.LUT(grey, self.table.astype(np.float32)), np.float32)

    @property
    def blur_px(self) -> float:
        """Blur of a sharp edge in linear light, before sharpening."""
        return float(self.parameters[4])

    @cached_property
    def moved(self) -> tuple[tuple[Array, Array], ...]:
        """Parameters and tables that it may as well be: itself, then each moved by one standard
        uncertainty along one axis of the covariance."""
        values, directions = np.linalg.eigh(self.covariance)
        moves = (directions * np.sqrt(np.maximum(values, 0.0))).T
        moved = [
            np.clip(self.parameters + move, _LOW, _HIGH)
            for move in (np.zeros_like(self.parameters), *moves)
        ]
        return tuple((parameters, light_of(parameters)) for parameters in moved)

    @property
    def growth_mm(self) -> float:
        """How far black spread at each edge."""
        return float(self.parameters[3])


def estimate_tone(
    grey: NDArray[np.uint8],
    sheet: Sheet,
    observation: MarkerObservation,
    beside: Sequence[Target] = (),
) -> Tone:
    """Fit the curve from the sheet's own edges; the belief alone where none is usable.

    grey : (H, W) coded luma. beside : other sheets and cards of the same photo.
    """
    edges = printed_edges(grey, sheet, observation, beside)

    def residuals(vector: Array) -> Array:
        return np.concatenate([_misses(edges, vector), (vector - _MEAN) / _U])

    vector = minimise(residuals, _MEAN.copy(), _U / 5, _soft_weights, within=(_LOW, _HIGH))
    at_end = residuals(vector)
    jacobian = jacobian_of(residuals, vector, _U / 50)
    misses = len(at_end) - len(_MEAN)
    misfit = float(np.sqrt(np.mean(at_end[:misses] ** 2))) if misses else 0.0
    jacobian[:misses] /= max(1.0, misfit) * np.sqrt(_CORRELATED_BINS)
    return Tone(
        table=light_of(vector),
        parameters=vector,
        covariance=np.asarray(np.linalg.inv(jacobian.T @ jacobian)),
        edges=len(edges.profiles),
        misfit=misfit,
        paper=_paper_light(edges, vector),
    )


def _paper_light(edges: PrintedEdges, parameters: Array) -> float:
    if len(edges.light) == 0:
        return 0.8
    return float(np.interp(np.median(edges.light), np.arange(256.0), light_of(parameters)))


def _soft_weights(residual: Array) -> Array:
    return np.asarray(1 / (1 + (residual / 4.0) ** 2))


def code_of(light: Array, parameters: Array) -> Array:
    """Linear light 0 to 1 → coded 0 to 1, before sharpening. Any shape."""
    gamma, contrast, shoulder = parameters[_CURVE]
    x = np.clip(light, 0.0, 1.0) ** (1 / gamma)
    bend = x * (1 - x)
    return np.asarray(x + contrast * bend * (2 * x - 1) + shoulder * bend * x * (1 - 2 * bend))


def light_of(parameters: Array) -> Array:
    """(256,) linear light of each coded value: the curve inverted."""
    coded = np.maximum.accumulate(code_of(_LEVELS**2, parameters))
    coded = coded + np.arange(len(coded)) * 1e-12
    return np.interp(np.arange(256) / 255.0, coded, _LEVELS**2)


def _linearised(dark: Array, light: Array, parameters: Array) -> Array:
    """(N, B) what the photo's table makes of an edge as the phone writes it.

    dark, light : (N,) linear levels either side. Where a step fitted to it lies is what tone
    curve, sharpening and clipping leave over after linearising by the table.
    """
    seen = _seen(_ACROSS_PX, np.zeros(len(dark)), dark, light, parameters)
    return np.interp(255 * seen, np.arange(256.0), light_of(parameters))


def _under_moved_tables(dark: float, light: float, tone: Tone) -> Array:
    """(2K, B) an edge under the table and under moved ones: first as it is seen, then as it
    would be seen if the moved one were true."""
    codes = np.arange(256.0)
    ends = np.array([dark]), np.array([light])
    seen = _seen(_ACROSS_PX, np.zeros(1), *ends, tone.parameters)
    coded = [np.interp(end, tone.table, codes) for end in ends]
    as_seen, as_expected = [], []
    for moved, table in tone.moved:
        low, high = (np.interp(code, codes, table) for code in coded)
        expected = _seen(_ACROSS_PX, np.zeros(1), low, high, moved)
        as_seen.append(np.interp(255 * seen, codes, table)[0])
        as_expected.append(np.interp(255 * expected, codes, table)[0])
    return np.array(as_seen + as_expected)


def _doubt(offsets: Array) -> float:
    """Standard uncertainty in px of an edge's place from what is not known of the tone curve,
    from where the edge lies in each row of `_under_moved_tables`."""
    as_seen, as_expected = offsets.reshape(2, -1)
    shifts = as_seen - as_expected
    return float(np.linalg.norm(shifts[1:] - shifts[0]))


def without_bias(
    offset: Array, steps: Steps, sign: Array, good: NDArray[np.bool_], tone: Tone
) -> tuple[Array, float]:
    """Take off what the tone curve still displaces, and say how much of it is in doubt.

    Rows that grow lighter outwards and rows that grow darker are two edges to the phone:
    the rim of a hole is dark against the paper behind it and light against its own wall.
    """
    ways = [way for way in (1.0, -1.0) if (good & (sign == way)).any()]
    if not ways:
        return offset.copy(), 0.0
    rows = [good & (sign == way) for way in ways]
    ends = [(float(np.median(steps.low[r])), float(np.median(steps.high[r]))) for r in rows]
    levels = [(min(pair), max(pair)) for pair in ends]
    # All of them are fitted at once: a fit of few rows takes as long as one of many.
    tried = [
        np.vstack(
            [
                _linearised(np.array([low]), np.array([high]), tone.parameters),
                _under_moved_tables(low, high, tone),
            ]
        )
        for low, high in levels
    ]
    found = np.split(fit_steps(_ACROSS_PX, np.vstack(tried)).offset_px, len(ways))
    offset = offset.copy()
    for way, (bias, *_) in zip(ways, found, strict=True):
        offset[sign == way] -= way * float(bias)
    doubts = [float(r.sum()) * _doubt(f[1:]) for r, f in zip(rows, found, strict=True)]
    return offset, sum(doubts) / max(1.0, float(good.sum()))


def _seen(positions: Array, offsets: Array, dark: Array, light: Array, parameters: Array) -> Array:
    """(N, B) coded 0 to 1 across an edge, dark side first, as the phone would write it."""
    blur, amount, radius = parameters[4:]
    spacing = positions[1] - positions[0]
    pad = int(np.ceil(3.5 * radius / spacing))
    wide = np.concatenate(
        [
            positions[0] + spacing * np.arange(-pad, 0),
            positions,
            positions[-1] + spacing * np.arange(1, pad + 1),
        ]
    )
    share = ndtr((wide - offsets[:, None]) / blur)
    coded = code_of(dark[:, None] + (light - dark)[:, None] * share, parameters)
    kernel = np.exp(-0.5 * (spacing * np.arange(-pad, pad + 1) / radius) ** 2)
    inner = coded[:, pad:-pad]
    smooth = convolve1d(coded, kernel / kernel.sum(), axis=1)[:, pad:-pad]
    return np.asarray(np.clip(inner + amount * (inner - smooth), 0.0, 1.0))


def _misses(edges: PrintedEdges, parameters: Array) -> Array:
    """Seen minus modelled, in units of the doubt of a grey level, for every bin."""
    if len(edges.profiles) == 0:
        return np.empty(0)
    table = light_of(parameters)
    dark, light = (
        np.interp(level, np.arange(256.0), table) for level in (edges.dark, edges.light)
    )
    growth_px = parameters[3] * edges.px_per_mm
    model = _seen(edges.positions_px, growth_px, dark, light, parameters)
    return np.asarray(((255 * model - edges.profiles) / _CODE_DOUBT).ravel())
