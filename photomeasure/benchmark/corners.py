"""How far from the truth are the sheet's saddle corners found?

Rendered with a blur of 0.8 px and noise of 2 % of white; tone curve, sharpening, light and
JPEG as they come. Once as a phone is held, once from so far that a square spans 40 px.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.benchmark.tables import Result, Row, Settings, at_most
from photomeasure.benchmark.workers import spread
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.scene import Pose, Scene
from photomeasure.synthetic.taking import photo_of
from photomeasure.vision.detection import detect_sheets
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]

FIRST_SEED = 30_000
RMS_PX, MEAN_PX = 0.03, 0.01
_BLUR_PX, _NOISE = 0.8, 0.02
_FAR_SQUARE_PX = 44.0  # the median; the far side of a tilted sheet is then about 40


@dataclass(frozen=True, eq=False)
class _Found:
    """Found minus true (N, 2) px, of how many corners, and the side of a square in px."""

    misses_px: Array
    expected: int
    square_px: float


def run(settings: Settings) -> Result:
    """Corners of a fifth of the photos, near and far."""
    count = max(2, settings.scenes // 5)
    shots = [(FIRST_SEED + k, far) for far in (False, True) for k in range(count)]
    found = spread(settings, "corners", _find, shots)
    rows = [*_rows("as held", found[:count]), *_rows("far off", found[count:])]
    return Result(
        "Sheet corners, rendered with 0.8 px blur and 2 % noise",
        tuple(rows),
        (f"Seeds {FIRST_SEED} to {FIRST_SEED + count - 1}, each photo near and far.",),
    )


def _rows(where: str, found: list[_Found]) -> list[Row]:
    misses = np.concatenate([f.misses_px for f in found])
    square = np.median([f.square_px for f in found])
    what = f"{where}, squares {square:.0f} px"
    means = [np.abs(f.misses_px.mean(axis=0)).max() for f in found if len(f.misses_px)]
    rms = float(np.sqrt(np.mean(misses**2)))
    mean = float(np.abs(misses.mean(axis=0)).max())
    share = len(misses) / sum(f.expected for f in found)
    return [
        at_most(f"{what}: rms", rms, RMS_PX, "px", len(misses)),
        at_most(f"{what}: mean in x or y", mean, MEAN_PX, "px", len(misses), 4),
        Row(f"{what}: largest mean of one photo", f"{max(means):.4f} px", n=len(means)),
        Row(f"{what}: corners found", f"{share:.1%}", n=sum(f.expected for f in found)),
    ]


def _find(shot: tuple[int, bool]) -> _Found:
    seed, far = shot
    scene = random_scene(seed)
    scene = _seen_from_afar(scene) if far else scene
    phone = replace(scene.phone, blur_px=_BLUR_PX, noise=_NOISE)
    scene = replace(scene, phone=phone)
    seen = detect_sheets(photo_of(scene))[0]
    misses = seen.saddles_px - scene.image_from_sheet(seen.saddles_mm)
    return _Found(misses, seen.expected, seen.square_px)


def _seen_from_afar(scene: Scene) -> Scene:
    """The camera drawn back along its sight line of the sheet's middle."""
    design = sheet(scene.print.sheet)
    side = design.square_mm
    cross = np.array([[side, 0], [-side, 0], [0, side], [0, -side]]) / 2
    px = scene.image_from_sheet(cross)
    square_px = (np.linalg.norm(px[0] - px[1]) + np.linalg.norm(px[2] - px[3])) / 2
    rx, ry, rz, *shift = scene.pose.numbers
    tx, ty, tz = (float(t * square_px / _FAR_SQUARE_PX) for t in shift)
    return replace(scene, pose=Pose(float(rx), float(ry), float(rz), tx, ty, tz))
