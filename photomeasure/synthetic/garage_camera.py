"""What a phone and its owner do to a photo: rim of the lens, zoom, copies, blur, noise."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin

import numpy as np

from photomeasure.synthetic.framing import framed_pose, rim_pose
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.scene import Phone, Scene
from photomeasure.vision.sheets import sheet

Rng = np.random.Generator

_FULL_FRAME_MM = 36.0
_FILLED = 0.65  # of the picture's width that the sheet takes beside the rim
_CHAT_QUALITY = {2048: 82, 1600: 70, 1024: 55}
_SMOOTHING_PX = 1.5


def rim(rng: Rng, scene: Scene, focal_35mm: float) -> Scene:
    """The sheet in a corner of a wide lens's picture; the wider, the more it bends."""
    lens = scene.lens
    f_px = focal_35mm / _FULL_FRAME_MM * max(lens.size_px)
    bend = (26.0 / focal_35mm - 1.0) * 0.04  # the lens's own correction leaves some of it
    wide = replace(
        lens, f_px=f_px, k1=-bend, k2=0.6 * bend, k3=-0.1 * bend, k4=0.0, vignetting=0.3
    )
    design = sheet(scene.print.sheet)
    pose = rim_pose(rng, design, wide, scene.pose.tilt_rad, _FILLED)
    phone = replace(
        scene.phone,
        focal_length_35mm=round(focal_35mm),
        focal_length_mm=round(focal_35mm / 4.6, 2),
    )
    return replace(scene, lens=wide, pose=pose, phone=phone)


def zoom(rng: Rng, scene: Scene, times: float) -> Scene:
    """The middle of the sensor, blown up to the size of a whole picture."""
    lens = scene.lens
    long = replace(
        lens,
        f_px=lens.f_px * times,
        cx=(lens.cx - _middle(lens, 0)) * times + _middle(lens, 0),
        cy=(lens.cy - _middle(lens, 1)) * times + _middle(lens, 1),
        vignetting=lens.vignetting / times**2,
    )
    focal = scene.phone.focal_length_35mm
    phone = replace(
        scene.phone,
        resampled=times,
        focal_length_35mm=None if focal is None else round(focal * times),
    )
    return _framed(rng, replace(scene, phone=phone), long)


def crop(rng: Rng, scene: Scene, share: float) -> Scene:
    """Cut out of a larger picture off its middle; its EXIF still tells of the whole."""
    lens = scene.lens
    size = (round(lens.size_px[0] * share), round(lens.size_px[1] * share))
    spare = np.array(lens.size_px) - size
    corner = np.rint(rng.integers(0, 2, 2) * spare)
    cut = replace(lens, cx=lens.cx - corner[0], cy=lens.cy - corner[1], size_px=size)
    return _framed(rng, scene, cut)


def chat(rng: Rng, scene: Scene, long_side_px: float) -> Scene:
    """Sent by a chat: made small, compressed hard, its EXIF lost."""
    lens = scene.lens
    times = long_side_px / max(lens.size_px)
    small = replace(
        lens,
        f_px=lens.f_px * times,
        cx=(lens.cx + 0.5) * times - 0.5,
        cy=(lens.cy + 0.5) * times - 0.5,
        size_px=(round(lens.size_px[0] * times), round(lens.size_px[1] * times)),
    )
    phone = replace(
        scene.phone,
        resampled=times,
        jpeg_quality=_CHAT_QUALITY[round(long_side_px)],
        focal_length_mm=None,
        focal_length_35mm=None,
        orientation=1,
        make="",
        model="",
    )
    return replace(scene, lens=small, phone=phone)


def dim(rng: Rng, scene: Scene, noise: float) -> Scene:
    """Little light: noise, some of it smeared away by the phone, and a darker picture."""
    exposure = scene.phone.exposure * float(rng.uniform(0.5, 0.9))
    return _phone(scene, noise=noise, smoothing=_SMOOTHING_PX, exposure=exposure)


def shake(rng: Rng, scene: Scene, length_px: float) -> Scene:
    """The hand moves during the exposure, not quite straight and not evenly."""
    turn, bend = float(rng.uniform(0, 2 * pi)), float(rng.normal(0, 0.3))
    knee, rest = float(rng.uniform(0.3, 0.7)) * length_px, float(rng.uniform(0, 0.3)) * length_px
    first = (knee * cos(turn), knee * sin(turn))
    second = (
        first[0] + (length_px - knee) * cos(turn + bend),
        first[1] + (length_px - knee) * sin(turn + bend),
    )
    back = (second[0] - rest * cos(turn), second[1] - rest * sin(turn))
    return _phone(scene, shake_px=((0.0, 0.0), first, second, back))


def defocus(rng: Rng, scene: Scene, radius_px: float) -> Scene:
    """The phone focused on something else."""
    return _phone(scene, defocus_px=radius_px)


def squash(rng: Rng, scene: Scene, quality: float) -> Scene:
    """Saved small."""
    return _phone(scene, jpeg_quality=round(quality))


def _framed(rng: Rng, scene: Scene, lens: Lens) -> Scene:
    """The same tilt, at the distance at which this lens shows the whole ring."""
    pose = framed_pose(rng, sheet(scene.print.sheet), lens, scene.pose.tilt_rad)
    return replace(scene, lens=lens, pose=pose)


def _middle(lens: Lens, axis: int) -> float:
    return (lens.size_px[axis] - 1) / 2


def _phone(scene: Scene, **changes: object) -> Scene:
    phone: Phone = replace(scene.phone, **changes)  # type: ignore[arg-type]
    return replace(scene, phone=phone)
