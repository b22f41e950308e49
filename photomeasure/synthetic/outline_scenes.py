"""Which flat parts might be laid on the sheet to have their outline taken?

A random photo of a plate, with the plate replaced by a part of lines and arcs in some
material: a cover with rounded corners, an angle, a plate with a notch, a flange with ears.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.random_scenes import another_photo, random_scene
from photomeasure.synthetic.scene import Hole, Part, Profile, Scene

Array = NDArray[np.float64]

SHAPES = ("cover", "angle", "notched", "flange")
_CLEAR_MM = 4.0
_BROKEN_MM, _CHAMFER_MM = (0.2, 0.5), (0.3, 1.0)  # along the outline, round holes


@dataclass(frozen=True)
class Material:
    """The looks of a stuff: reflectance between, texture, gloss, share of the wall's light."""

    name: str
    face: tuple[float, float]
    texture: float
    gloss: float
    wall: float


MATERIALS = (
    Material("bare aluminium", (0.45, 0.6), 0.05, 0.3, 0.8),
    Material("black rubber", (0.04, 0.08), 0.02, 0.0, 0.9),
    Material("gasket paper", (0.25, 0.5), 0.03, 0.0, 0.8),
    Material("cork", (0.2, 0.35), 0.08, 0.0, 0.8),
    Material("painted steel", (0.1, 0.5), 0.01, 0.25, 0.9),
)


def outline_scene(
    seed: int,
    *,
    tilt_deg: tuple[float, float] = (15.0, 35.0),
    thickness_mm: tuple[float, float] = (0.5, 10.0),
    phone: Scene | None = None,
) -> Scene:
    """One photo of one part; its Part is the truth. Deterministic for each seed.

    phone : a scene whose lens and phone take it, focused anew.
    """
    scene = random_scene(seed, tilt_deg=tilt_deg, thickness_mm=thickness_mm)
    if phone is not None:
        exposure, noise = scene.phone.exposure, scene.phone.noise
        taken = replace(phone.phone, exposure=exposure, noise=noise)
        dressed = replace(scene, lens=phone.lens, phone=taken)
        scene = another_photo(dressed, seed, tilt_deg=tilt_deg)
    rng = np.random.default_rng([seed, 9])
    plate = scene.parts[0]
    corners = np.array(plate.outline.points_mm)
    sides = corners[[1, 3, 5, 7]] - corners[[0, 2, 4, 6]]
    turn = float(np.arctan2(sides[0][1], sides[0][0]))
    centre = corners.mean(axis=0)
    c, s = np.cos(turn), np.sin(turn)
    size = np.ptp((corners - centre) @ np.array([[c, -s], [s, c]]), axis=0)
    shape = SHAPES[seed % len(SHAPES)]
    plain, holes = _DRAWN[shape](rng, size)
    material = MATERIALS[int(rng.integers(len(MATERIALS)))]
    face = float(rng.uniform(*material.face))
    part = Part(
        f"{shape} of {material.name}",
        _placed(plain, turn, centre),
        plate.thickness_mm,
        tuple(
            Hole(f"hole-{k}", _at(h.centre_mm, turn, centre), h.radius_mm)
            for k, h in enumerate(holes, 1)
        ),
        face_reflectance=face,
        wall_reflectance=face * material.wall,
        texture=material.texture,
        grain_rad=plate.grain_rad,
        gloss=material.gloss * float(rng.uniform(0.3, 1.0)),
    )
    return replace(scene, parts=(part,), features=(), measurements=())


def chamfered_scene(seed: int) -> Scene:
    """A photo of a painted or bare steel part, all of whose upper edges are broken by a chamfer.

    The part's own outline and holes lie at the chamfers' lower ends; those of its face lie
    `edge_chamfer_mm` within the outline and `chamfer_mm` round the holes.
    """
    scene = outline_scene(seed, thickness_mm=(2.0, 10.0))
    rng = np.random.default_rng([seed, 10])
    part = scene.parts[0]
    face = float(rng.uniform(0.1, 0.5))
    broken = tuple(replace(h, chamfer_mm=float(rng.uniform(*_CHAMFER_MM))) for h in part.holes)
    part = replace(
        part,
        name=f"{part.name.split()[0]} of chamfered steel",
        holes=broken,
        edge_chamfer_mm=float(rng.uniform(*_BROKEN_MM)),
        face_reflectance=face,
        wall_reflectance=0.9 * face,
        chamfer_reflectance=face * float(rng.uniform(0.9, 1.3)),
        texture=0.01,
        gloss=float(rng.uniform(0.05, 0.25)),
    )
    return replace(scene, parts=(part,))


def littered_scene(seed: int) -> Scene:
    """A photo of a part with swarf: across the rim of a hole, on its face, and on the paper
    beside its edge."""
    scene = outline_scene(seed)
    rng = np.random.default_rng([seed, 11])
    part = scene.parts[0]
    hole = part.holes[int(rng.integers(len(part.holes)))]
    way = float(rng.uniform(0, 2 * np.pi))
    rim = hole.centre_mm + hole.radius_mm * np.array([np.cos(way), np.sin(way)])
    corners = np.array(part.outline.points_mm)
    k = int(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).argmax())
    start, end = corners[k], corners[(k + 1) % len(corners)]
    along = (end - start) / np.hypot(*(end - start))
    out = np.array([along[1], -along[0]])
    beside = start + float(rng.uniform(0.2, 0.8)) * (end - start)
    beside = beside + float(rng.uniform(0.3, 2.0)) * out
    on_face = start + float(rng.uniform(0.2, 0.8)) * (end - start) - 3.0 * out
    above = part.thickness_mm + 0.3
    swarf = (
        _chip(rng, rim, above),
        _chip(rng, on_face, above),
        _chip(rng, beside, 0.3),
    )
    name = f"{part.name} with swarf"
    return replace(scene, parts=(replace(part, name=name), *swarf))


def _chip(rng: np.random.Generator, at: Array, height_mm: float) -> Part:
    """A curled shaving, 2 to 5 mm long, whose top is so high above the table."""
    length, width = float(rng.uniform(2, 5)), float(rng.uniform(0.3, 0.8))
    curl = float(rng.uniform(0.1, 0.4))
    outline = Profile(
        ((-length / 2, 0.0), (length / 2, 0.0), (length / 2, width), (-length / 2, width)),
        (-curl, 0.0, curl, 0.0),
    )
    light = float(rng.uniform(0.2, 0.7))
    outline = _placed(outline, float(rng.uniform(0, 2 * np.pi)), at)
    return Part("swarf", outline, height_mm, face_reflectance=light, wall_reflectance=light)


def _at(point: tuple[float, float], turn: float, shift: Array) -> tuple[float, float]:
    c, s = np.cos(turn), np.sin(turn)
    x, y = point
    return float(c * x - s * y + shift[0]), float(s * x + c * y + shift[1])


def _placed(profile: Profile, turn: float, shift: Array) -> Profile:
    return Profile(tuple(_at(p, turn, shift) for p in profile.points_mm), profile.bulges)


def _drawn_cover(rng: np.random.Generator, size: Array) -> tuple[Profile, list[Hole]]:
    radius = float(rng.uniform(3, 0.15 * min(size)))
    outline = rounded_rectangle(float(size[0]), float(size[1]), radius)
    hole = float(rng.uniform(2, 4))
    inset = max(radius, hole + _CLEAR_MM)
    x, y = size / 2 - inset
    holes = [Hole("", (float(a * x), float(b * y)), hole) for a in (-1, 1) for b in (-1, 1)]
    bore = float(rng.uniform(0.2, 0.6)) * (min(size) / 2 - inset)
    return outline, [*holes, Hole("", (0.0, 0.0), max(bore, 3.0))]


def _drawn_angle(rng: np.random.Generator, size: Array) -> tuple[Profile, list[Hole]]:
    w, h = size / 2
    leg = float(rng.uniform(0.4, 0.55)) * min(size)
    corners = [(-w, -h), (w, -h), (w, leg - h), (leg - w, leg - h), (leg - w, h), (-w, h)]
    hole = float(rng.uniform(2, 4))
    places = [(leg / 2 - w, leg / 2 - h), (w - leg / 2, leg / 2 - h), (leg / 2 - w, h - leg / 2)]
    holes = [Hole("", (float(x), float(y)), hole) for x, y in places]
    return _filleted(np.array(corners), float(rng.uniform(3, 0.2 * leg + 2))), holes


def _drawn_notched(rng: np.random.Generator, size: Array) -> tuple[Profile, list[Hole]]:
    w, h = size / 2
    a, b = float(rng.uniform(0.3, 0.5)) * w, float(rng.uniform(0.1, 0.6)) * h
    corners = [(-w, -h), (w, -h), (w, h), (a, h), (a, b), (-a, b), (-a, h), (-w, h)]
    hole = float(rng.uniform(2, 4))
    x, y = w - (w - a) / 2, h / 2
    places = [(-x, y), (x, y), (-x, -y), (x, -y)]
    holes = [Hole("", (float(p), float(q)), hole) for p, q in places]
    bore = 0.5 * float(rng.uniform(0.4, 0.8)) * (b + h - 2 * _CLEAR_MM)
    middle = (0.0, (b - h) / 2)
    room = min(float(np.hypot(p, q - middle[1])) for p, q in places) - hole - _CLEAR_MM
    bore = min(bore, room)
    radius = float(rng.uniform(2.5, 0.4 * min(w - a, 2 * a, h - b)))
    return _filleted(np.array(corners), radius), [*holes, Hole("", middle, bore)]


def _drawn_flange(rng: np.random.Generator, size: Array) -> tuple[Profile, list[Hole]]:
    """A body with an ear at both ends: circles and the lines that touch two of them."""
    w, h = size / 2
    body = float(min(h, 0.75 * w))
    ear = float(rng.uniform(0.25, 0.45)) * body
    outline = _hull([(0.0, 0.0), (-(w - ear), 0.0), (w - ear, 0.0)], [body, ear, ear])
    bore = float(rng.uniform(0.3, 0.7)) * body
    hole = float(np.clip(ear - _CLEAR_MM, 1.5, 5.0))
    ears = [Hole("", (float(side * (w - ear)), 0.0), hole) for side in (-1, 1)]
    return outline, [Hole("", (0.0, 0.0), bore), *ears]


_DRAWN = {
    "cover": _drawn_cover,
    "angle": _drawn_angle,
    "notched": _drawn_notched,
    "flange": _drawn_flange,
}


def _filleted(corners: Array, radius: float) -> Profile:
    """A polygon, anticlockwise, with every corner rounded."""
    points: list[tuple[float, float]] = []
    bulges: list[float] = []
    for k, corner in enumerate(corners):
        into = corner - corners[k - 1]
        out = corners[(k + 1) % len(corners)] - corner
        into, out = into / np.hypot(*into), out / np.hypot(*out)
        turn = float(np.arctan2(into[0] * out[1] - into[1] * out[0], into @ out))
        back = radius * abs(np.tan(turn / 2))
        for point in (corner - back * into, corner + back * out):
            points.append((float(point[0]), float(point[1])))
        bulges += [float(np.tan(turn / 4)), 0.0]
    return Profile(tuple(points), tuple(bulges))


def _hull(centres: list[tuple[float, float]], radii: list[float]) -> Profile:
    """The taut band round three circles in a row: middle, left, right; anticlockwise."""
    (middle, left, right), (big, small, _) = np.array(centres), radii
    reach = float(right[0] - middle[0])
    tilt = float(np.arcsin((big - small) / reach))
    up = np.array([np.sin(tilt), np.cos(tilt)])  # of the upper right line, outwards
    down, flip = up * [1, -1], np.array([-1, 1])
    points = [
        right + small * down, right + small * up, middle + big * up, middle + big * up * flip,
        left + small * up * flip, left + small * down * flip, middle + big * down * flip,
        middle + big * down,
    ]  # fmt: skip
    around = float(np.tan((np.pi - 2 * tilt) / 4))
    over = float(np.tan(2 * tilt / 4))
    bulges = (around, 0.0, over, 0.0, around, 0.0, over, 0.0)
    return Profile(tuple((float(x), float(y)) for x, y in points), bulges)
