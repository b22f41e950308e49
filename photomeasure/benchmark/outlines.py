"""How far from the truth is a part outlined from one photo, and how simple is what comes out?

What is judged is what a shop would get: the fitted profiles and holes, laid on the true part
as well as shift and turn allow, since where a part lay is no error of its shape.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure import outlining
from photomeasure.benchmark.accuracy import record_of
from photomeasure.benchmark.cases import Shot, reason_of
from photomeasure.benchmark.outlines_judged import aligned, in_sheet, nearest, samples, solid
from photomeasure.benchmark.outlines_spoiled import spoiled_rows
from photomeasure.benchmark.speed import watch
from photomeasure.benchmark.tables import Result, Row, Settings, at_most, counted, error_row
from photomeasure.benchmark.workers import spread
from photomeasure.parts.clearances import boundaries
from photomeasure.parts.profiles import circle, pieces_of, sampled
from photomeasure.records.outline import Hints, PartEntry
from photomeasure.records.part import Part, Profile
from photomeasure.records.photo import Photo
from photomeasure.records.view import CameraRecord
from photomeasure.synthetic.flat import render
from photomeasure.synthetic.outline_scenes import outline_scene
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.scene import Scene
from photomeasure.synthetic.taking import photo_of, take
from photomeasure.vision.band import bilinear

Array = NDArray[np.float64]

FIRST_SEED, FIRST_RECORD_SEED = 70_000, 75_000
BOUNDARY_MM, OFFSET_MM = (0.03, 0.10), (0.015, 0.04)
SEGMENTS, RADII, DXF_S = 1.5, 0.02, 3.0
_STROKE_MM, _STROKE_PX = 2.0, 2.0
_HELPED_MM = 0.5
_BESIDE_PX, _FAINT_STEP, _FAINT_SHARE = 3.0, 0.03, 0.05
_PHOTOS_OF_A_PHONE = 6
_RECORD = "record"
_COMMAND = ("-c", "from photomeasure.cli import main; main()")


@dataclass(frozen=True, eq=False)
class Outline:
    """What one photo gave. distances_mm : (N,) of the boundary from the truth; offset_mm : mean,
    positive where the part has too much material. drawn : whether it is answered once its outer
    edge is drawn by hand, where it was refused before. segments : made and true; radii : relative
    errors of the outline's arcs. faint : share of the true outer edge beside which the light
    hardly changes."""

    scene: str
    reason: str = ""
    distances_mm: Array = field(default_factory=lambda: np.empty(0))
    offset_mm: float = 0.0
    segments: tuple[int, int] = (0, 1)
    radii: Array = field(default_factory=lambda: np.empty(0))
    missing: int = 0
    drawn: bool = False
    faint: float = 0.0


def run(settings: Settings) -> Result:
    """As many photos without a camera record as with one."""
    free = list(range(FIRST_SEED, FIRST_SEED + settings.scenes))
    phones = [
        list(range(first, min(first + _PHOTOS_OF_A_PHONE, FIRST_RECORD_SEED + settings.scenes)))
        for first in range(
            FIRST_RECORD_SEED, FIRST_RECORD_SEED + settings.scenes, _PHOTOS_OF_A_PHONE
        )
    ]
    alone = spread(settings, "outlines without a camera record", _without_record, free)
    recorded = spread(settings, "outlines with a camera record", _with_record, phones)
    known = [one for several in recorded for one in several]
    spoiled, refusals = spoiled_rows(settings)
    rows = [
        *_rows("camera unknown, 15–35°", alone),
        *_rows("camera record, 0–35°", known),
        *spoiled,
        _time_row(settings),
    ]
    reasons = [f"{o.scene}: {o.reason}" for o in (*alone, *known) if o.reason]
    return Result(
        "Outlines of parts 0.5–10 mm thick from one photo",
        tuple(rows),
        (
            *counted([*reasons, *refusals]),
            f"Seeds from {FIRST_SEED} and {FIRST_RECORD_SEED}: covers, angles, notched plates "
            "and flanges of five materials; tolerance 0.1 mm, no hints.",
        ),
    )


def _without_record(seed: int) -> Outline:
    return outline_of(outline_scene(seed), None)


def _with_record(seeds: Sequence[int]) -> list[Outline]:
    """Photos of one calibrated phone, each of another part, focused anew."""
    phone = random_scene(seeds[0])
    try:
        record = record_of(Shot("plate", seeds[0], seeds[0]))
    except Exception as error:  # one bad phone must not end a run of many
        return [Outline(str(seed), reason_of(error)) for seed in seeds]
    return [
        outline_of(outline_scene(seed, tilt_deg=(0.0, 35.0), phone=phone), record)
        for seed in seeds
    ]


def outline_of(scene: Scene, record: CameraRecord | None) -> Outline:
    """Outline the one part of a scene as its user would, without a hint."""
    entry = PartEntry(
        name=scene.parts[0].name,
        file="photo.jpg",
        thickness_mm=scene.stated_planes[0].height_mm,
        prints=(scene.stated_print,) if scene.stated_print else (),
        camera=None if record is None else _RECORD,
    )
    cameras = {} if record is None else {_RECORD: record}
    photo = photo_of(scene)
    try:
        made = outlining.outline(entry, photo, cameras)
    except Exception as error:  # one bad photo must not end a run of many
        drawn = _helped(entry, photo, cameras, scene)
        return Outline(scene.name, reason_of(error), drawn=drawn, faint=faint_share(scene))
    return judged(made.part, scene)


def _helped(
    entry: PartEntry, photo: Photo, cameras: Mapping[str, CameraRecord], scene: Scene
) -> bool:
    """Whether a stroke round the true outline, off by some pixels, gives the part to 0.5 mm."""
    part, rng = scene.parts[0], np.random.default_rng(scene.seed)
    chain = sampled(Profile(part.outline.points_mm, part.outline.bulges), _STROKE_MM)[0]
    px = scene.image_from_plane(np.vstack([chain, chain[:1]]), part.thickness_mm)
    px = px + rng.normal(0, _STROKE_PX, px.shape)
    hints = Hints(strokes=(tuple((float(x), float(y)) for x, y in px),))
    try:
        made = outlining.outline(replace(entry, hints=hints), photo, cameras)
    except Exception:  # asked for more, or refused for another reason
        return False
    return bool(np.quantile(judged(made.part, scene).distances_mm, 0.95) < _HELPED_MM)


def faint_share(scene: Scene) -> float:
    """The share of the true outer edge beside which the square root of light hardly changes, in
    the scene as rendered before the phone develops it: no program can see much there."""
    part = scene.parts[0]
    outline = Profile(part.outline.points_mm, part.outline.bulges)
    points, normals = samples([outline])
    light = render(scene)

    def beside(away_px: float) -> Array:
        """Square roots of light so far outwards of the edge, the mean of its neighbours."""
        here = scene.image_from_plane(points, part.thickness_mm)
        out = scene.image_from_plane(points + 0.1 * normals, part.thickness_mm) - here
        out /= np.hypot(*out.T)[:, None]
        seen = [bilinear(light, here + (away_px + more) * out) for more in (-0.5, 0.0, 0.5)]
        return np.asarray(np.sqrt(np.maximum(np.mean(seen, axis=0), 0.0)))

    step = np.abs(beside(_BESIDE_PX) - beside(-_BESIDE_PX))
    return float(np.mean(step < _FAINT_STEP))


def judged(part: Part, scene: Scene) -> Outline:
    """A part against the one that was rendered."""
    truth = scene.parts[0]
    outline = Profile(truth.outline.points_mm, truth.outline.bulges)
    holes = [circle(h.centre_mm, h.radius_mm) for h in truth.holes]
    inner = list(boundaries(part).values())
    points = in_sheet(samples([part.outline, *inner])[0], part)
    points = aligned(points, [outline, *holes])
    true = solid([outline, *holes])
    distances = nearest([outline, *holes], points)
    inside = shapely.contains_xy(true, *points.T)
    signed = np.where(inside, -distances, distances)
    return Outline(
        scene=scene.name,
        distances_mm=distances,
        offset_mm=float(signed.mean()),
        segments=(len(part.outline.points_mm), len(outline.points_mm)),
        radii=_radius_errors(part.outline, outline, part),
        missing=abs(len(inner) - len(holes)),
    )


def _radius_errors(made: Profile, true: Profile, part: Part) -> Array:
    """Relative error of each true arc's radius, by the made arc nearest to its middle."""
    arcs = [p for p in pieces_of(made) if p.is_arc]
    if not arcs:
        return np.ones(sum(b != 0 for b in true.bulges))
    middles = np.array([p.points(1e-3)[len(p.points(1e-3)) // 2] for p in arcs])
    middles = in_sheet(middles, part)
    errors = []
    for piece in pieces_of(true):
        if piece.is_arc:
            chain = piece.points(1e-3)
            nearest = int(np.hypot(*(middles - chain[len(chain) // 2]).T).argmin())
            errors.append(arcs[nearest].radius / piece.radius - 1)
    return np.array(errors)


def _rows(where: str, outlines: Sequence[Outline]) -> list[Row]:
    seen = [o for o in outlines if not o.reason]
    if not seen:
        return [Row(f"{where}: refused", "all", n=len(outlines))]
    distances = np.concatenate([o.distances_mm for o in seen])
    offsets = np.array([o.offset_mm for o in seen])
    ratios = np.array([made / true for o in seen for made, true in [o.segments]])
    radii = np.concatenate([np.abs(o.radii) for o in seen])
    refused = len(outlines) - len(seen)
    ratio, n = float(ratios.mean()), len(seen)
    half, most = (100 * float(np.quantile(radii, q)) for q in (0.5, 0.95))
    return [
        error_row(f"{where}: boundary to truth", distances, *BOUNDARY_MM),
        error_row("  mean signed offset of a part", offsets, *OFFSET_MM),
        at_most("  segments per true one, mean", ratio, SEGMENTS, "", n, 2),
        at_most("  error of radii, median", half, 100 * RADII, "%", len(radii), 2),
        Row("  error of radii, 95 %", f"{most:.1f} %", n=len(radii)),
        Row("  openings missed or too many", f"{sum(o.missing for o in seen)}", n=n),
        Row("  asked for a hint or refused", f"{refused / len(outlines):.1%}", n=len(outlines)),
        Row(
            f"  of these with a step below {_FAINT_STEP:g} along {_FAINT_SHARE:.0%} of the edge",
            f"{sum(bool(o.reason) and o.faint > _FAINT_SHARE for o in outlines)} of {refused}",
            n=refused,
        ),
        Row(
            "  of these answered once the edge was drawn by hand",
            f"{sum(o.drawn for o in outlines)} of {refused}",
            n=refused,
        ),
    ]


def _time_row(settings: Settings) -> Row:
    """A photo of 12 megapixels to DXF from a cold start, the middle of three runs."""
    settings.progress("timing an outline")
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as name:
        scene = outline_scene(FIRST_SEED)
        photo = Path(name) / "photo.jpg"
        photo.write_bytes(take(scene))
        thickness = f"{scene.stated_planes[0].height_mm}"
        # The command states no bar readings, so that the sides of the part may bend a little.
        words = ["outline", str(photo), "--thickness", thickness, "--tolerance", "0.2"]
        words += ["--format", "dxf", "--quiet"]
        runs = [watch([*_COMMAND, *words]) for _ in range(3)]
    wall = sorted(r.wall_s for r in runs)[1]
    return at_most("photo of 12 MP to DXF, cold", wall, DXF_S, "s", 3, 2)
