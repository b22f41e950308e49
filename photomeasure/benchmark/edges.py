"""Does the place of an edge depend on how dark it is, or on what the phone makes of it?

Four patches of no thickness and no shadow, of four reflectances, lie on white paper; their
straight edges are located as a user's are and compared with the truth. Positive is towards
the light side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.benchmark.cases import reason_of
from photomeasure.benchmark.edge_bound import bound_rows
from photomeasure.benchmark.tables import Result, Row, Settings, at_most, counted
from photomeasure.benchmark.without_pixels import solve
from photomeasure.benchmark.workers import spread
from photomeasure.errors import GeometryError
from photomeasure.records.job import FeatureEntry
from photomeasure.records.photo import Photo
from photomeasure.synthetic.coverage import Canvas, Picture
from photomeasure.synthetic.flat import render
from photomeasure.synthetic.phone import develop, jpeg
from photomeasure.synthetic.pointing import CLICK_PX, PHOTO
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.scene import TONE_CURVES, Curl, Part, Scene
from photomeasure.synthetic.shading import level_light
from photomeasure.synthetic.solids import project
from photomeasure.synthetic.taking import photo_of
from photomeasure.vision.detection import detect_sheets, grey_of
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.sheets import sheet
from photomeasure.vision.tone import estimate_tone

Array = NDArray[np.float64]

FIRST_SEED = 40_000
BIAS_PX = 0.08
REFLECTANCES = (0.05, 0.2, 0.35, 0.6)
SHARPENINGS = (0.0, 0.6)
_SIDES = (0, 2, 4, 6)
_PLACES_MM = ((-31.0, 50.0), (31.0, 50.0), (-31.0, -50.0), (31.0, -50.0))
_SIZE_MM = (48.0, 78.0)


@dataclass(frozen=True)
class _Look:
    """One photo of the four patches."""

    seed: int
    tone_curve: str
    sharpening: float


@dataclass(frozen=True, eq=False)
class _Seen:
    """Mean displacement of each edge that was located (reflectance → px), and refusals."""

    look: _Look
    biases_px: dict[float, list[float]]
    reasons: list[str]


def run(settings: Settings) -> Result:
    """Every tone curve, sharpened or not, one photo for each 25 scenes."""
    repeats = max(1, settings.scenes // 25)
    looks = [(tone, sharp) for tone in TONE_CURVES for sharp in SHARPENINGS]
    shots = [_Look(FIRST_SEED + k, *look) for look in looks for k in range(repeats)]
    seen = spread(settings, "edges", _see, shots)
    cells = {
        (*look, dark): [
            b
            for s in seen
            if (s.look.tone_curve, s.look.sharpening) == look
            for b in s.biases_px[dark]
        ]
        for look in looks
        for dark in REFLECTANCES
    }
    return Result(
        "Edge position against the truth, towards the light side",
        (*_rows({cell: found for cell, found in cells.items() if found}), *bound_rows()),
        (
            *_grid(cells),
            *counted([reason for s in seen for reason in s.reasons]),
            f"Seeds {FIRST_SEED} to {FIRST_SEED + repeats - 1} for each look.",
        ),
    )


def _rows(cells: dict[tuple[str, float, float], list[float]]) -> list[Row]:
    means = {cell: float(np.mean(found)) for cell, found in cells.items()}
    worst = max(means, key=lambda cell: abs(means[cell]))
    tone, sharpening, dark = worst
    every = [b for found in cells.values() for b in found]
    inside = sum(abs(m) <= BIAS_PX for m in means.values())
    what = f"worst cell: {tone}, sharpening {sharpening:g}, reflectance {dark:g}"
    return [
        at_most(what, abs(means[worst]), BIAS_PX, "px", len(cells[worst])),
        Row(f"cells within {BIAS_PX} px", f"{inside} of {len(means)}", n=len(means)),
        Row("mean over all edges", f"{np.mean(every):+.3f} px", n=len(every)),
        Row(
            "95 % of single edges within",
            f"{np.quantile(np.abs(every), 0.95):.3f} px",
            n=len(every),
        ),
    ]


def _grid(cells: dict[tuple[str, float, float], list[float]]) -> list[str]:
    """The mean of every cell, one line a look."""
    heads = "".join(f"{dark:>8g}" for dark in REFLECTANCES)
    lines = [f"{'mean bias in px; reflectance':30}{heads}"]
    for tone, sharpening in dict.fromkeys(cell[:2] for cell in cells):
        found = [cells[tone, sharpening, dark] for dark in REFLECTANCES]
        means = "".join(f"{np.mean(f):>+8.3f}" if f else f"{'–':>8}" for f in found)
        lines.append(f"{f'{tone}, sharpening {sharpening:g}':30}{means}")
    return lines


def _see(look: _Look) -> _Seen:
    scene = scene_of_patches(look.seed, look.tone_curve, look.sharpening)
    pixels = develop(_radiance(scene), scene.phone, scene.seed)
    photo = photo_of(scene, jpeg(pixels, scene.phone))
    scenery = _scenery(scene, photo)
    rng = np.random.default_rng([look.seed, 5])
    seen = _Seen(look, {dark: [] for dark in REFLECTANCES}, [])
    for part, side in product(scene.parts, _SIDES):
        try:
            found = locate(_entry(rng, scene, part, side), scenery, 0.0)
        except GeometryError as error:
            seen.reasons.append(reason_of(error))
            continue
        away = displacement_px(scene, part.outline.edge(side), found.points_px)
        seen.biases_px[part.face_reflectance].append(float(away.mean()))
    return seen


def scene_of_patches(seed: int, tone_curve: str, sharpening: float) -> Scene:
    """A photo of four flat patches, each reflectance in another place with each seed."""
    base = random_scene(seed)
    rng = np.random.default_rng([seed, 4])
    places = rng.permutation(len(_PLACES_MM))
    parts = tuple(
        Part(
            f"patch-{dark:g}",
            rounded_rectangle(*_SIZE_MM, 4.0, _PLACES_MM[k], float(rng.uniform(-0.04, 0.04))),
            0.0,
            face_reflectance=dark,
        )
        for dark, k in zip(REFLECTANCES, places, strict=True)
    )
    phone = replace(base.phone, tone_curve=tone_curve, sharpening=sharpening)
    return replace(
        base,
        parts=parts,
        print=replace(base.print, curl=Curl()),
        phone=phone,
        features=(),
        measurements=(),
        stated_planes=(),
    )


def _radiance(scene: Scene) -> Picture:
    """(H, W) the sheet with the patches on it: exact shares of pixels, and nothing else."""
    box = (0, 0, *scene.lens.size_px)
    outlines = [shapely.Polygon(part.outline.polygon()) for part in scene.parts]
    regions = [project(scene, outline, 0.0) for outline in outlines]
    share, faces = Canvas(box), Canvas(box)
    share.add(regions, 1.0)
    faces.add(regions, np.array([part.face_reflectance for part in scene.parts]))
    bare = render(replace(scene, parts=()))
    return bare * (1 - share.picture()) + faces.picture() * level_light(scene, box)


def _entry(rng: np.random.Generator, scene: Scene, part: Part, side: int) -> FeatureEntry:
    start, end = part.outline.edge(side)
    ends = start + np.array([[0.08], [0.92]]) * (end - start)
    clicks = scene.image_from_plane(ends, 0.0) + rng.normal(0, CLICK_PX, (2, 2))
    pairs = tuple((float(x), float(y)) for x, y in clicks)
    return FeatureEntry(f"{part.name}-{side}", "edge", PHOTO, "sheet", pairs)


def _scenery(scene: Scene, photo: Photo) -> Scenery:
    """The photo as locating sees it; the same steps as in a job. Raises PhotomeasureError."""
    seen = detect_sheets(photo)[0]
    grey = grey_of(photo)
    tone = estimate_tone(grey, sheet(seen.sheet), seen)
    light = tone.light(grey)
    return Scenery(light, tone, solve(scene, seen).views[0].parameters)


def displacement_px(scene: Scene, edge_mm: Array, points_px: Array) -> Array:
    """(N,) how far points lie outside a true edge on the paper, at right angles to it, px.

    edge_mm : (2, 2) start and end, the part on its left. Outside is the lighter side.
    """
    start, end = edge_mm
    along = (end - start) / np.linalg.norm(end - start)
    outwards = np.array([along[1], -along[0]])
    reached = (scene.plane_from_image(points_px, 0.0) - start) @ along
    feet = start + reached[:, None] * along
    feet_px = scene.image_from_plane(feet, 0.0)
    tangent = scene.image_from_plane(feet + 0.1 * along, 0.0) - feet_px
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    ahead = scene.image_from_plane(feet + 0.1 * outwards, 0.0) - feet_px
    normal *= np.sign(np.sum(normal * ahead, axis=1))[:, None]
    return np.asarray(np.sum((points_px - feet_px) * normal, axis=1))
