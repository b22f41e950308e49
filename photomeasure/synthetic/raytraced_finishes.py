"""What are the surfaces of the ray-traced parts made of?

A finish is a dull colour with the mottle of handling or machining, alone, under a clear
coat, or mixed with bare metal that mirrors the room roughly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.synthetic.raytraced_print import noise

Triple = tuple[float, float, float]
Picture = NDArray[np.float32]

TILE_MM = 240.0
"""The side of the square of surface that a mottle texture covers."""

_TEXELS = 2048
_SHINE = 0.5


@dataclass(frozen=True)
class Finish:
    """One surface. dull : its diffuse reflectance. roughness : of the mirroring part.

    eta, k : complex refractive index of the metal (red, green, blue); both None where
    there is none. coated : a clear coat lies over the dull colour. grain_mm : size of the
    mottle across and along; mottle : its relative strength.
    """

    dull: Triple
    roughness: float = 0.3
    eta: Triple | None = None
    k: Triple | None = None
    coated: bool = False
    grain_mm: tuple[float, float] = (0.6, 0.6)
    mottle: float = 0.05


# Refractive indices are rounded from memory; they only have to look like metal.
FINISHES: dict[str, Finish] = {
    "cast aluminium": Finish(
        (0.21, 0.21, 0.22), 0.45, (2.2, 2.0, 1.8), (4.0, 3.7, 3.4), mottle=0.07
    ),
    "milled steel": Finish(
        (0.13, 0.13, 0.135), 0.35, (2.9, 2.9, 2.6), (3.1, 3.0, 2.9), grain_mm=(0.25, 30.0)
    ),
    "brass": Finish(
        (0.30, 0.21, 0.08), 0.35, (0.44, 0.53, 1.0), (3.7, 2.7, 1.9), grain_mm=(40.0, 0.3)
    ),
    "cut edge": Finish((0.09, 0.085, 0.08), grain_mm=(0.3, 0.3), mottle=0.15),
    "ochre paint": Finish((0.42, 0.25, 0.06), 0.25, coated=True, mottle=0.04),
    "blue paint": Finish((0.04, 0.09, 0.21), 0.25, coated=True, mottle=0.04),
    "black rubber": Finish((0.055, 0.055, 0.057), grain_mm=(1.2, 1.2), mottle=0.12),
}


def surface(mi: Any, finish: Finish, seed: int) -> dict[str, Any]:
    """The finish in the tracer's words."""
    texels_a_mm = _TEXELS / TILE_MM
    grain = noise(
        (_TEXELS, _TEXELS),
        (finish.grain_mm[0] * texels_a_mm, finish.grain_mm[1] * texels_a_mm),
        seed,
    )
    mottle = 1 + finish.mottle * np.clip(grain, -2, 2)
    dull = bitmap(mi, np.asarray(mottle[..., None] * np.array(finish.dull), np.float32))
    if finish.coated:
        return {"type": "roughplastic", "diffuse_reflectance": dull, "alpha": finish.roughness}
    blunt = {"type": "diffuse", "reflectance": dull}
    if finish.eta is None or finish.k is None:
        return blunt
    shine = {
        "type": "roughconductor",
        "eta": rgb(*finish.eta),
        "k": rgb(*finish.k),
        "alpha": finish.roughness,
    }
    share = bitmap(mi, np.asarray(_SHINE * mottle[::-1, ::-1], np.float32))
    return {"type": "blendbsdf", "weight": share, "blunt": blunt, "shine": shine}


def rgb(red: float, green: float, blue: float) -> dict[str, Any]:
    """One colour in the tracer's words."""
    return {"type": "rgb", "value": [float(red), float(green), float(blue)]}


def bitmap(mi: Any, values: Picture, wrap: str = "repeat") -> dict[str, Any]:
    """A texture in the tracer's words from (H, W) or (H, W, 3) linear values."""
    picture = values if values.ndim == 3 else values[..., None]
    stored = mi.Bitmap(np.ascontiguousarray(np.clip(picture, 0.0, 1.0), np.float32))
    return {"type": "bitmap", "bitmap": stored, "raw": True, "wrap_mode": wrap}
