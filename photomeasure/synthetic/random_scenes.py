"""What might the next phone photo look like, and what would its user say of it?

`random_scene(seed)` draws a believable photo of parts on a window sheet, the clicks, the
stated heights and the bar readings, each from its stated distribution. The same seed always
gives the same scene.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import numpy as np

from photomeasure.records.job import PlaneEntry, PrintEntry
from photomeasure.records.sheet import Page, Sheet
from photomeasure.synthetic.framing import framed_pose
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.pointing import point_at_gap, point_at_plate
from photomeasure.synthetic.random_parts import gap_parts, plate
from photomeasure.synthetic.scene import (
    TONE_CURVES,
    Curl,
    Light,
    Part,
    Phone,
    Print,
    Scene,
)
from photomeasure.vision.sheets import sheet as sheet_named

Range = tuple[float, float]

KINDS = ("plate", "gap")
HEIGHT_PLUS_MINUS_MM = 0.1
BAR_PLUS_MINUS_MM = 0.1
FOCUS_SHARE = 0.002
TOP = "top"

_DIAGONAL_35MM = hypot(36.0, 24.0)
_LONG_PX, _SHORT_PX = 4032, 3024


def random_scene(
    seed: int,
    *,
    tilt_deg: Range = (15.0, 35.0),
    thickness_mm: Range = (0.8, 10.0),
    sheet: str = "window-a4-A",
    kind: str = "plate",
    long_lens: bool | None = None,
) -> Scene:
    """One photo with its truth and what its user states, deterministic for each seed.

    tilt_deg, thickness_mm : drawn evenly between these. sheet : a window sheet's identity.
    kind : "plate" (bore, bolt circle, edges) or "gap" (two parts). long_lens : the 2×
    lens; by default one photo in six. Raises ValueError for an unknown kind.
    """
    if kind not in KINDS:
        raise ValueError(f"There is no scene kind {kind!r}. Known: {', '.join(KINDS)}.")
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    design = sheet_named(sheet)
    thickness = float(rng.uniform(*thickness_mm))
    draw_parts = plate if kind == "plate" else gap_parts
    parts = draw_parts(rng, design, thickness)
    printed = _print(rng, design, parts)
    lens = _lens(rng, bool(rng.random() < 1 / 6) if long_lens is None else long_lens)
    light = _light(rng)
    scene = Scene(
        name=f"{kind}-{seed}",
        print=printed,
        parts=parts,
        lens=lens,
        pose=framed_pose(rng, design, lens, float(np.radians(rng.uniform(*tilt_deg)))),
        light=light,
        phone=_phone(rng, lens, light),
        table_reflectance=float(rng.uniform(0.08, 0.4)),
        seed=seed,
        stated_planes=(_stated_plane(rng, thickness),),
        stated_print=stated_print(rng, printed, design),
    )
    point = point_at_plate if kind == "plate" else point_at_gap
    features, measurements = point(rng, scene, TOP)
    return replace(scene, features=features, measurements=measurements)


def another_photo(scene: Scene, seed: int, *, tilt_deg: Range = (15.0, 35.0)) -> Scene:
    """The same set-up and phone from elsewhere, focused anew; nothing is pointed at."""
    rng = np.random.default_rng([scene.seed, seed, 2])
    lens = _refocused(rng, scene.lens)
    tilt = float(np.radians(rng.uniform(*tilt_deg)))
    pose = framed_pose(rng, sheet_named(scene.print.sheet), lens, tilt)
    name, noise_seed = f"{scene.name}-{seed}", scene.seed * 1000 + seed
    return replace(
        scene, name=name, lens=lens, pose=pose, seed=noise_seed, features=(), measurements=()
    )


def board_scene(
    scene: Scene, seed: int, *, sheet: str = "board-a4-A", tilt_deg: Range = (0.0, 40.0)
) -> Scene:
    """A photo of a calibration board with the phone and lens of this scene."""
    board = Print(sheet=sheet, growth_mm=scene.print.growth_mm)
    return another_photo(replace(scene, print=board, parts=()), seed, tilt_deg=tilt_deg)


def _refocused(rng: np.random.Generator, lens: Lens) -> Lens:
    """Focusing moves the focal length by about 0.2 % from photo to photo."""
    return replace(lens, f_px=lens.f_px * float(rng.normal(1.0, FOCUS_SHARE)))


def _print(rng: np.random.Generator, design: Sheet, parts: tuple[Part, ...]) -> Print:
    direction = float(rng.uniform(0, 2 * np.pi))
    axis = np.array([np.cos(direction), np.sin(direction)])
    both = bool(rng.random() < 0.4)
    under = np.concatenate([p.outline.polygon() for p in parts]) @ axis
    flat = float(np.max(np.abs(under) if both else under)) + 2.0
    reach = float(np.abs(axis) @ np.array(design.page[2:]))
    return Print(
        sheet=design.identity,
        scale_x=float(rng.uniform(0.99, 1.01)),
        scale_y=float(rng.uniform(0.99, 1.01)),
        growth_mm=float(rng.uniform(0.02, 0.05)),
        curl=Curl(float(rng.uniform(0, 0.5)), direction, flat, max(reach, flat + 20), both),
        paper_reflectance=float(rng.uniform(0.8, 0.88)),
        ink_reflectance=float(rng.uniform(0.03, 0.06)),
        dot_gain=float(rng.uniform(0.0, 0.2)),
    )


def _lens(rng: np.random.Generator, long_lens: bool) -> Lens:
    """A phone's main camera, or its 2× one, held upright or across."""
    across = bool(rng.random() < 0.5)
    width, height = (_LONG_PX, _SHORT_PX) if across else (_SHORT_PX, _LONG_PX)
    bend = 2.0 if long_lens else 1.0
    offset = 30 * np.sqrt(rng.random()) * _direction(rng)
    return Lens(
        f_px=float(rng.uniform(2850, 3150)) * (2 if long_lens else 1),
        cx=(width - 1) / 2 + float(offset[0]),
        cy=(height - 1) / 2 + float(offset[1]),
        size_px=(width, height),
        k1=float(rng.uniform(-0.06, 0.06)) * bend,
        k2=float(rng.uniform(-0.06, 0.06)) * bend,
        k3=float(rng.uniform(-0.02, 0.02)) * bend,
        k4=float(rng.normal(0, 0.005)),
        p1=float(rng.normal(0, 3e-4)),
        p2=float(rng.normal(0, 3e-4)),
        s1=float(rng.normal(0, 1e-4)),
        s3=float(rng.normal(0, 1e-4)),
        vignetting=float(rng.uniform(0.0, 0.25)),
    )


def _direction(rng: np.random.Generator) -> np.ndarray:
    turn = rng.uniform(0, 2 * np.pi)
    return np.array([np.cos(turn), np.sin(turn)])


def _light(rng: np.random.Generator) -> Light:
    slant = float(np.tan(np.radians(rng.uniform(10, 50))))
    towards = slant * _direction(rng)
    gradient = float(rng.uniform(0, 8e-4)) * _direction(rng)
    return Light(
        towards=(float(towards[0]), float(towards[1]), 1.0),
        radius_rad=float(rng.uniform(0.03, 0.3)),
        shadow_darkness=float(rng.uniform(0.2, 0.7)),
        gradient_per_mm=(float(gradient[0]), float(gradient[1])),
    )


def _phone(rng: np.random.Generator, lens: Lens, light: Light) -> Phone:
    """A phone that exposes so that the paper just does not burn out."""
    brightest = 0.88 * (1 + 150 * hypot(*light.gradient_per_mm))
    focal_35mm = lens.f_px * _DIAGONAL_35MM / hypot(*lens.size_px)
    return Phone(
        blur_px=float(rng.uniform(0.6, 1.1)),
        noise=float(rng.uniform(0.004, 0.02)),
        exposure=float(rng.uniform(0.7, 0.97)) / brightest,
        tone_curve=str(rng.choice(TONE_CURVES)),
        sharpening=float(rng.uniform(0, 0.8)),
        sharpening_radius_px=float(rng.uniform(0.8, 1.6)),
        jpeg_quality=int(rng.integers(88, 97)),
        focal_length_mm=round(focal_35mm / 4.6, 2),
        focal_length_35mm=round(focal_35mm * rng.normal(1.0, 0.01)),
        orientation=int(rng.choice([1, 3, 6, 8])),
    )


def _stated_plane(rng: np.random.Generator, height_mm: float) -> PlaneEntry:
    said = float(rng.normal(height_mm, HEIGHT_PLUS_MINUS_MM / 2))
    return PlaneEntry(TOP, max(round(said, 3), 0.1), HEIGHT_PLUS_MINUS_MM)


def stated_print(rng: np.random.Generator, printed: Print, design: Sheet | Page) -> PrintEntry:
    """What a caliper reads on the two bars, drawn from its stated spread."""
    true = [bar.length_mm * s for bar, s in zip(design.bars, _scales(printed), strict=True)]
    x, y = (round(float(rng.normal(t, BAR_PLUS_MINUS_MM / 2)), 3) for t in true)
    return PrintEntry(design.identity, x, y, BAR_PLUS_MINUS_MM)


def _scales(printed: Print) -> tuple[float, float]:
    return printed.scale_x, printed.scale_y
