"""What becomes of a printed sheet in a garage: bent, wet, greasy, torn, badly printed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.sheet import Sheet
from photomeasure.synthetic.random_scenes import stated_print
from photomeasure.synthetic.scene import Curl, Print, Scene
from photomeasure.synthetic.wear import Pair, Stain, Taped, Waves, Wear
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]
Rng = np.random.Generator

_STAINS = 30
_CLEAR_MM = 3.0  # round what is measured, where the sheet stays as it was
_UNREAD = 2
SIDES = np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])


def reach_of_parts(scene: Scene) -> Array:
    """(2, 2) lowest and highest x and y of what lies on the sheet, true mm, with a margin."""
    outlines = np.concatenate([part.outline.polygon() for part in scene.parts])
    return np.array([outlines.min(axis=0) - _CLEAR_MM, outlines.max(axis=0) + _CLEAR_MM])


def curl(rng: Rng, scene: Scene, peak_mm: float) -> Scene:
    """One side or corner of the paper rises."""
    bent = scene.print.curl
    if not isinstance(bent, Curl):
        raise TypeError(f"{bent!r} is no curl.")
    return _printed(scene, curl=replace(bent, peak_mm=peak_mm, both_sides=False))


def ripple(rng: Rng, scene: Scene, peak_mm: float) -> Scene:
    """The paper was wet; under the parts it lies flat."""
    half = np.abs(reach_of_parts(scene)).max(axis=0)
    waves = Waves(
        peak_mm,
        float(rng.uniform(50, 90)),
        float(rng.uniform(0, np.pi)),
        float(rng.uniform(0, 2 * np.pi)),
        (float(half[0]), float(half[1])),
    )
    return _printed(scene, curl=waves)


def grease(rng: Rng, scene: Scene, darkness: float) -> Scene:
    """Drops and finger marks all over the sheet."""
    page = np.array(_design(scene).page).reshape(2, 2)
    centres = rng.uniform(page[0], page[1], (_STAINS, 2))
    stains = tuple(
        Stain(
            (float(x), float(y)), float(rng.uniform(2, 12)), darkness * float(rng.uniform(0.5, 1))
        )
        for x, y in centres
    )
    return _worn(scene, stains=stains, soft_mm=float(rng.uniform(0.2, 1.5)))


def tear(rng: Rng, scene: Scene, sides: float) -> Scene:
    """A corner (half a side), one whole side or two opposite sides of the sheet are gone."""
    first = int(rng.integers(4))
    if sides < 1:
        return _worn(scene, torn_mm=(_torn_corner(rng, scene, first),))
    gone = [_torn_side(rng, scene, first + 2 * k) for k in range(int(sides))]
    return _worn(scene, torn_mm=tuple(gone))


def _torn_side(rng: Rng, scene: Scene, side: int) -> tuple[Pair, ...]:
    """A rough strip along one side, outside the parts."""
    out = SIDES[side % 4]
    along = np.array([-out[1], out[0]])
    page = np.array(_design(scene).page).reshape(2, 2)
    edge, rim = _beyond(scene, out), float(np.abs(page @ out).max())
    start = edge + 0.15 * (rim - edge)
    steps = np.linspace(-200, 200, 81)
    depth = start + np.clip(np.cumsum(rng.normal(0, 0.8, len(steps))), 0, rim - start - 5)
    rough = depth[:, None] * out + steps[:, None] * along
    return _pairs(np.vstack([rough, 300 * out + 200 * along, 300 * out - 200 * along]))


def _torn_corner(rng: Rng, scene: Scene, corner: int) -> tuple[Pair, ...]:
    """A rough triangle between two neighbouring sides."""
    page = np.array(_design(scene).page).reshape(2, 2)
    one, other = SIDES[corner], SIDES[(corner + 1) % 4]
    tip = np.abs(page).max(axis=0) * (one + other)
    legs = rng.uniform(45, 75, 2)
    steps = np.linspace(0, 1, 30)[:, None]
    cut = tip - legs[0] * one * (1 - steps) - legs[1] * other * steps
    cut += rng.normal(0, 0.4, cut.shape)
    return _pairs(np.vstack([cut, tip + 20 * (one + other)]))


def tape(rng: Rng, scene: Scene, shift_mm: float) -> Scene:
    """One side was torn off and taped on again, not quite where it was."""
    out = SIDES[int(rng.integers(4))]
    turn = float(rng.uniform(0, 2 * np.pi))
    shift = shift_mm * np.array([np.cos(turn), np.sin(turn)])
    direction = float(np.arctan2(out[1], out[0]))
    page = np.array(_design(scene).page).reshape(2, 2)
    edge, rim = _beyond(scene, out), float(np.abs(page @ out).max())
    beyond = edge + float(rng.uniform(0.1, 0.4)) * (rim - edge)
    skew = float(rng.normal(0, shift_mm / 200))
    return _worn(scene, taped=Taped(direction, beyond, (float(shift[0]), float(shift[1])), skew))


def fit(rng: Rng, scene: Scene, case: float) -> Scene:
    """Printed with "fit to page"; the user reads both bars, or in the last case neither."""
    shrink = float(rng.uniform(0.965, 0.975))
    return _misprinted(rng, scene, (shrink, shrink), read=case < _UNREAD)


def squeeze(rng: Rng, scene: Scene, case: float) -> Scene:
    """A worn feed roller prints the y axis short; read as by `fit`."""
    return _misprinted(rng, scene, (1.0, 0.985 if case < 1 else 0.97), read=case < _UNREAD)


def _misprinted(rng: Rng, scene: Scene, scales: Pair, read: bool) -> Scene:
    printed = replace(scene.print, scale_x=scales[0], scale_y=scales[1])
    said = stated_print(rng, printed, _design(scene)) if read else None
    return replace(scene, print=printed, stated_print=said)


def _beyond(scene: Scene, out: Array) -> float:
    """How far the parts reach in this direction, mm."""
    return float((reach_of_parts(scene) * out).sum(axis=1).max())


def _design(scene: Scene) -> Sheet:
    return sheet(scene.print.sheet)


def _pairs(points: Array) -> tuple[Pair, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _printed(scene: Scene, **changes: object) -> Scene:
    printed: Print = replace(scene.print, **changes)  # type: ignore[arg-type]
    return replace(scene, print=printed)


def _worn(scene: Scene, **changes: object) -> Scene:
    wear: Wear = replace(scene.print.wear, **changes)  # type: ignore[arg-type]
    return _printed(scene, wear=wear)
