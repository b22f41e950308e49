"""How much light falls on each pixel of a real camera looking at real parts on a sheet?

A ray tracer (Mitsuba, needed only here and never at run time) follows light from a lamp
and a room to sheet, parts and bench. Rays are shot pixel by pixel through the inverted
lens, so distortion, thin prism and the blur of a thin lens are exact, and pixel centres
are integers by construction. The noise of the tracing is kept far below that of a camera,
which the phone adds later. Refuses to run where Mitsuba or its compiler is not installed.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import PhotomeasureError
from photomeasure.synthetic.lens import Lens, normal_map
from photomeasure.synthetic.raytraced_look import Staging, scene_dictionary
from photomeasure.synthetic.scene import Scene

Picture = NDArray[np.float32]

RAYS_AT_ONCE = 6_000_000
_LLVM = tuple(
    Path(f"/usr/lib/{machine}-linux-gnu/libLLVM.so.19.1") for machine in ("x86_64", "aarch64")
)


def load_tracer() -> Any:
    """Mitsuba, ready to compile its kernels.

    Raises PhotomeasureError when it or LLVM 19 is not installed.
    """
    found = next((path for path in _LLVM if path.exists()), None)
    if found:
        os.environ.setdefault("DRJIT_LIBLLVM_PATH", str(found))
    try:
        import mitsuba as mi  # noqa: PLC0415  (a development tool, loaded only to render)
    except ImportError as error:
        raise PhotomeasureError(
            "Rendering sample photos needs the package mitsuba, which is not installed. "
            "Install it: pip install 'photomeasure[render]'."
        ) from error
    if "DRJIT_LIBLLVM_PATH" not in os.environ:
        raise PhotomeasureError(
            "Rendering sample photos needs LLVM 19, which was not found. Install libllvm19 "
            "or set DRJIT_LIBLLVM_PATH to its library."
        )
    mi.set_variant("llvm_ad_rgb")
    return mi


def render_linear(
    scene: Scene,
    staging: Staging,
    samples: int = 16,
    region: tuple[int, int, int, int] | None = None,
) -> Picture:
    """(H, W, 3) linear light; 1 is a white, lit, level surface.

    `samples` rays a pixel; 16 leave under 2 % noise. `region` is x0, y0, x1, y1 in px, the
    whole picture when None. Raises PhotomeasureError when the tracer is missing.
    """
    mi = load_tracer()
    x0, y0, x1, y1 = region or (0, 0, *scene.lens.size_px)
    traced = mi.load_dict(scene_dictionary(mi, scene, staging))
    integrator = mi.load_dict({"type": "direct", "emitter_samples": 4, "bsdf_samples": 1})
    picture = np.empty((y1 - y0, x1 - x0, 3), np.float32)
    for first, last in _bands(y0, y1, (x1 - x0) * samples):
        rays, sampler = _rays(mi, scene, staging, (x0, first, x1, last), samples)
        light = integrator.sample(traced, sampler, rays)[0]
        picture[first - y0 : last - y0] = _averaged(light, samples, (last - first, x1 - x0))
    return picture * _falloff(scene.lens, (x0, y0, x1, y1))


def _bands(first: int, last: int, rays_a_row: int) -> Iterator[tuple[int, int]]:
    rows = max(1, RAYS_AT_ONCE // rays_a_row)
    for start in range(first, last, rows):
        yield start, min(last, start + rows)


def _averaged(light: Any, samples: int, shape: tuple[int, int]) -> Picture:
    import drjit as dr  # noqa: PLC0415

    channels = [dr.block_sum(c, samples) / samples for c in (light.x, light.y, light.z)]
    return np.stack([np.asarray(c, np.float32).reshape(shape) for c in channels], axis=-1)


def _falloff(lens: Lens, region: tuple[int, int, int, int]) -> Picture:
    """(H, W, 1) the share of light that the lens passes to each pixel."""
    x0, y0, x1, y1 = region
    half = (np.array(lens.size_px) - 1) / 2
    x, y = np.arange(x0, x1) - half[0], np.arange(y0, y1)[:, None] - half[1]
    share = 1 - lens.vignetting * (x * x + y * y) / (half @ half)
    return np.asarray(share, np.float32)[..., None]


def _rays(
    mi: Any, scene: Scene, staging: Staging, region: tuple[int, int, int, int], samples: int
) -> tuple[Any, Any]:
    """Rays in the sheet frame through every pixel of a region, and their sampler."""
    import drjit as dr  # noqa: PLC0415

    count = (region[2] - region[0]) * (region[3] - region[1]) * samples
    sampler = mi.load_dict({"type": "multijitter", "sample_count": samples})
    sampler.set_samples_per_wavefront(samples)
    sampler.seed(region[1], count)
    normal = _sight(mi, scene.lens, region, sampler.next_2d() - 0.5, samples)
    on_lens = mi.warp.square_to_uniform_disk_concentric(sampler.next_2d())
    start = mi.Vector3f(on_lens.x, on_lens.y, 0) * (staging.aperture_mm / 2)
    towards = mi.Vector3f(normal[0], normal[1], 1) * staging.focus_mm - start
    to_sheet = mi.Matrix3f(scene.pose.rotation.T.tolist())
    centre = mi.Point3f(scene.pose.camera_mm.tolist())
    direction = dr.normalize(to_sheet @ towards)
    return mi.RayDifferential3f(mi.Ray3f(centre + to_sheet @ start, direction)), sampler


def _sight(
    mi: Any, lens: Lens, region: tuple[int, int, int, int], spot: Any, samples: int
) -> tuple[Any, Any]:
    """Undistorted coordinates x, y of one spot (px from the centre) in each pixel."""
    import drjit as dr  # noqa: PLC0415

    x0, y0, x1, y1 = region
    wide = normal_map(lens, (x0 - 1, y0 - 1, x1 + 1, y1 + 1))
    middle = wide[1:-1, 1:-1]
    by_x = (wide[1:-1, 2:] - wide[1:-1, :-2]) / 2
    by_y = (wide[2:, 1:-1] - wide[:-2, 1:-1]) / 2
    pixel = dr.arange(mi.UInt32, (x1 - x0) * (y1 - y0) * samples) // samples

    def gathered(values: NDArray[Any]) -> Any:
        return dr.gather(mi.Float, mi.Float(np.ravel(values).astype(np.float32)), pixel)

    coordinates = [
        gathered(middle[..., k])
        + spot.x * gathered(by_x[..., k])
        + spot.y * gathered(by_y[..., k])
        for k in (0, 1)
    ]
    return coordinates[0], coordinates[1]
