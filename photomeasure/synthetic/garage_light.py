"""What stands in the light or shines back in a garage: rags, shadows, gloss, black rubber."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.synthetic.garage_paper import SIDES, reach_of_parts
from photomeasure.synthetic.scene import Part, Profile, Scene
from photomeasure.synthetic.wear import Screen
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]
Rng = np.random.Generator

_FAR_MM = 1000.0


def cover(rng: Rng, scene: Scene, sides: float) -> Scene:
    """A rag lies over this many neighbouring sides of the ring, up to the parts."""
    first, (low, high) = int(rng.integers(4)), reach_of_parts(scene)
    page = np.array(sheet(scene.print.sheet).page).reshape(2, 2)
    over = shapely.box(*(page[0] - 30), *(page[1] + 30))
    strips = []
    for k in range(int(sides)):
        out = SIDES[(first + k) % 4]
        edge = float((np.array([low, high]) * out).sum(axis=1).max())
        strips.append(_half_plane(out, edge + float(rng.uniform(0, 5))).intersection(over))
    rag = shapely.orient_polygons(shapely.union_all(strips), exterior_cw=False)
    points = [(float(x), float(y)) for x, y in shapely.get_coordinates(rag.exterior)[:-1]]
    reflectance = float(rng.uniform(0.08, 0.7))
    cloth = Part(
        "rag",
        Profile(tuple(points)),
        0.7,
        face_reflectance=reflectance,
        wall_reflectance=0.8 * reflectance,
        texture=0.08,
        grain_rad=float(rng.uniform(0, np.pi)),
    )
    return replace(scene, parts=(*scene.parts, cloth))


def shade(rng: Rng, scene: Scene, darkness: float) -> Scene:
    """Somebody stands in the light: a hard edge of shadow runs across ring and parts."""
    turn = float(rng.uniform(0, 2 * np.pi))
    out = np.array([np.cos(turn), np.sin(turn)])
    half = _half_plane(out, float(rng.uniform(-40, 60)))
    points = tuple((float(x), float(y)) for x, y in shapely.get_coordinates(half)[:-1])
    screen = Screen(points, float(rng.uniform(0.2, 1.5)))
    light = replace(scene.light, shadow_darkness=darkness, screens=(screen,))
    return replace(scene, light=light)


def laminate(rng: Rng, scene: Scene, gloss: float) -> Scene:
    """The sheet is laminated and shows the lamp somewhere in its ring."""
    low, high = reach_of_parts(scene)
    page = np.array(sheet(scene.print.sheet).page).reshape(2, 2)
    out = SIDES[int(rng.integers(4))]
    edge = float((np.array([low, high]) * out).sum(axis=1).max())
    rim = float((page * out).sum(axis=1).max())
    along = np.array([-out[1], out[0]]) * float(rng.uniform(-60, 60))
    seen_in = (edge + float(rng.uniform(0.3, 0.7)) * (rim - edge)) * out + along
    wear = replace(scene.print.wear, gloss=gloss, gloss_rad=float(rng.uniform(0.03, 0.09)))
    return _lit(replace(scene, print=replace(scene.print, wear=wear)), seen_in, 0.0)


def shine(rng: Rng, scene: Scene, gloss: float) -> Scene:
    """Polished steel shows the lamp beside what is measured."""
    part = scene.parts[0]
    hole = part.holes[int(rng.integers(len(part.holes)))]
    turn = float(rng.uniform(0, 2 * np.pi))
    beside = hole.rim_radius_mm * np.array([np.cos(turn), np.sin(turn)])
    seen_in = np.array(hole.centre_mm) + beside
    polished = tuple(
        replace(p, gloss=gloss, gloss_rad=0.06, face_reflectance=0.25) for p in scene.parts
    )
    return _lit(replace(scene, parts=polished), seen_in, part.thickness_mm)


def blacken(rng: Rng, scene: Scene, reflectance: float) -> Scene:
    """The parts are of black rubber, as dark at their walls as on their face."""
    black = tuple(
        replace(
            part,
            face_reflectance=reflectance,
            wall_reflectance=float(rng.uniform(0.6, 0.9)) * reflectance,
            chamfer_reflectance=float(rng.uniform(1.2, 1.6)) * reflectance,
            texture=0.1,
            gloss=0.5 * reflectance,
            gloss_rad=0.3,
        )
        for part in scene.parts
    )
    return replace(scene, parts=black)


def harden(rng: Rng, scene: Scene, darkness: float) -> Scene:
    """One bare bulb from the side: long, hard and dark shadows."""
    turn, slope = float(rng.uniform(0, 2 * np.pi)), float(rng.uniform(0.8, 1.4))
    towards = (slope * float(np.cos(turn)), slope * float(np.sin(turn)), 1.0)
    light = replace(scene.light, towards=towards, radius_rad=0.015, shadow_darkness=darkness)
    return replace(scene, light=light)


def _half_plane(out: Array, beyond_mm: float) -> shapely.Polygon:
    """Everything farther than this from the sheet's centre in a direction, to a far limit."""
    along = np.array([-out[1], out[0]]) * _FAR_MM
    near, far = beyond_mm * out, _FAR_MM * out
    return shapely.Polygon([near - along, far - along, far + along, near + along])


def _lit(scene: Scene, seen_in_mm: Array, height_mm: float) -> Scene:
    """The lamp hung where a level mirror at this point would show it to the camera."""
    back = scene.pose.camera_mm - np.array([*seen_in_mm, height_mm])
    towards = (-float(back[0] / back[2]), -float(back[1] / back[2]), 1.0)
    light = replace(scene.light, towards=towards, radius_rad=min(scene.light.radius_rad, 0.08))
    return replace(scene, light=light)
