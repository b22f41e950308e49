"""How bright is each piece, and how dark the shadow that a part throws on the paper?

Light is a lamp of some width and a bright surrounding. Shadows are exact for each of many
points of the lamp, and summed. Values are linear radiance; 1 is a white level surface.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import hypot, pi, sqrt

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.synthetic.coverage import Box, Canvas, Picture, box_of
from photomeasure.synthetic.lens import normal_map, upsample
from photomeasure.synthetic.scene import Hole, Light, Part, Scene
from photomeasure.synthetic.solids import Surface, project, upper_outline
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]

_LAMP_POINTS = 32
_GRID_PX = 32
_SHADOW_SAG_MM = 0.02
_GOLDEN = pi * (3 - sqrt(5))
_SKY_REACH = 0.7  # how far a wall darkens the paper beside it, as a share of its height
_SKY_LOSS = 0.6  # how much of the surrounding's light a wall on all sides takes


def level_light(scene: Scene, region: Box) -> Picture:
    """(H, W) light on an open level surface, with the lens's vignetting."""
    flat = _coarse(region)
    ground = scene.plane_from_image(flat, 0.0)
    half = np.array(scene.lens.size_px) / 2
    lost = scene.lens.vignetting * np.sum((flat - half) ** 2, axis=1) / np.sum(half**2)
    light = np.clip(1 + ground @ np.array(scene.light.gradient_per_mm), 0.3, 1.7) * (1 - lost)
    return _fine(light, region)


def glare(scene: Scene, gloss: float, width_rad: float, height_mm: float, region: Box) -> Picture:
    """(H, W) radiance of the lamp's reflection in a level surface of this gloss.

    width_rad : half the angle by which the surface blurs it.
    """
    at = scene.plane_from_image(_coarse(region), height_mm)
    back = scene.pose.camera_mm - np.column_stack([at, np.full(len(at), height_mm)])
    mirrored = back / np.linalg.norm(back, axis=1)[:, None] * [-1.0, -1.0, 1.0]
    towards = np.array(scene.light.towards) / np.linalg.norm(scene.light.towards)
    width = hypot(width_rad, scene.light.radius_rad)
    off = np.arccos(np.clip(mirrored @ towards, -1.0, 1.0)) / width
    return _fine(gloss * np.exp(-(off**2)), region)


def past_screens(scene: Scene, height_mm: float, region: Box) -> Picture:
    """(H, W) share of the light that passes the screens and reaches a level at this height."""
    light = np.ones((region[3] - region[1], region[2] - region[0]), np.float32)
    towards = np.array(scene.light.towards)
    for screen in scene.light.screens:
        outline = np.array(screen.outline_mm) + height_mm * towards[:2] / towards[2]
        canvas = Canvas(region)
        in_sight = shapely.intersection(shapely.Polygon(outline), _in_sight(scene, height_mm))
        canvas.add(project(scene, in_sight, height_mm))
        soft_px = screen.penumbra_mm * scene.lens.f_px / float(scene.pose.numbers[5])
        light *= 1 - scene.light.shadow_darkness * cv2.GaussianBlur(
            canvas.picture(), (0, 0), soft_px
        )
    return light


def _in_sight(scene: Scene, height_mm: float) -> shapely.Polygon:
    """What the whole picture shows of a level plane, mm: beyond it a lens may fold back."""
    width, height = scene.lens.size_px
    frame = shapely.segmentize(shapely.box(-40, -40, width + 40, height + 40), 100)
    return shapely.transform(frame, lambda px: scene.plane_from_image(px, height_mm))


def face_light(scene: Scene, part: Part, region: Box) -> Picture:
    """(H, W) share of the light that reaches a part's face past screens and higher parts."""
    light = past_screens(scene, part.thickness_mm, region)
    for other in scene.parts:
        above = other.thickness_mm - part.thickness_mm
        if above <= other.edge_chamfer_mm:
            continue
        canvas = Canvas(region)
        slopes = lamp_points(scene.light)
        for slope in slopes:
            shadow = hard_shadow(replace(other, thickness_mm=above), -slope)
            canvas.add(project(scene, shadow, part.thickness_mm), 1.0 / len(slopes))
        light *= 1 - scene.light.shadow_darkness * canvas.picture()
    return light


def slope_light(scene: Scene, region: Box) -> Picture:
    """(H, W) light on the paper as a share of that on a level sheet: its slopes differ."""
    flat = _coarse(region)
    printed, light = scene.print, scene.light
    at = scene.plane_from_image(flat, 0.0) / np.array([printed.scale_x, printed.scale_y])
    rise = [
        (printed.curl.height_mm(at + step) - printed.curl.height_mm(at - step)) / 2.0
        for step in np.eye(2)
    ]
    towards = np.array(light.towards) / light.towards[2]
    direct = (1 - rise[0] * towards[0] - rise[1] * towards[1]) / np.hypot(1, np.hypot(*rise))
    share = 1 - light.shadow_darkness * (1 - np.clip(direct, 0.0, 1.5))
    page = np.array(sheet(printed.sheet).page).reshape(2, 2)
    on_paper = ((at > page[0]) & (at < page[1])).all(axis=1)
    return _fine(np.where(on_paper, share, 1.0), region)


def _coarse(region: Box) -> Array:
    """(N, 2) px: nodes of a coarse grid over a region, two beyond it on every side."""
    x0, y0, x1, y1 = region
    columns = np.arange(x0 - 2 * _GRID_PX, x1 + 3 * _GRID_PX, _GRID_PX, dtype=float)
    rows = np.arange(y0 - 2 * _GRID_PX, y1 + 3 * _GRID_PX, _GRID_PX, dtype=float)
    return np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)


def _fine(values: Array, region: Box) -> Picture:
    """(H, W) smooth values at the coarse nodes, carried to every pixel."""
    width, height = region[2] - region[0], region[3] - region[1]
    columns = len(np.arange(region[0] - 2 * _GRID_PX, region[2] + 3 * _GRID_PX, _GRID_PX))
    grid = values.reshape(-1, columns).astype(np.float32)
    return upsample(grid, _GRID_PX, (2, 2), (width, height))


def _on_plane(scene: Scene, normal: Array, height_mm: float) -> Array:
    """(N, 2) mm where sight lines meet a level plane; far away beyond the horizon."""
    eye = scene.pose.camera_mm
    rays = np.column_stack([normal, np.ones(len(normal))]) @ scene.pose.rotation
    fall = np.minimum(rays[:, 2], -1e-3)
    return np.asarray(eye[:2] + rays[:, :2] * ((height_mm - eye[2]) / fall)[:, None])


def lamp_points(light: Light) -> Array:
    """(K, 2) x and y per unit of height towards each point of the lamp."""
    towards = np.array(light.towards)
    k = np.arange(_LAMP_POINTS) + 0.5
    radius = np.tan(light.radius_rad) * np.sqrt(k / _LAMP_POINTS)
    spread = np.column_stack([radius * np.cos(k * _GOLDEN), radius * np.sin(k * _GOLDEN)])
    slant = np.linalg.norm(towards) / towards[2]
    return np.asarray(towards[:2] / towards[2] + spread * slant)


def paper_light(scene: Scene, region: Box, cover: shapely.Geometry) -> Picture:
    """(H, W) share of the light that reaches the paper past the parts, where it is open to view.

    cover : what the parts hide of the paper, px. A pixel that is half hidden has the light of
    its open half; the shadow under the part itself would darken its rim and make it grow.
    """
    dark = scene.light.shadow_darkness
    light = past_screens(scene, 0.0, region)
    for part in scene.parts:
        shadows = shadow_regions(scene, part)
        box = box_of(shapely.union_all(shadows), 8 + _sky_px(scene, part) * 3, region)
        if box[0] >= box[2] or box[1] >= box[3]:
            continue
        lamp, hidden = Canvas(box), Canvas(box)
        lamp.add(shapely.difference(shadows, cover), 1.0 / len(shadows))
        hidden.add(cover)
        shaded = np.clip(lamp.picture() / np.maximum(1 - hidden.picture(), 1e-3), 0.0, 1.0)
        view = light[
            box[1] - region[1] : box[3] - region[1], box[0] - region[0] : box[2] - region[0]
        ]
        view *= 1 - dark * shaded - (1 - dark) * _SKY_LOSS * _sky_lost(scene, part, box)
    return light


def shadow_regions(scene: Scene, part: Part) -> list[shapely.Geometry]:
    """The part's hard shadow on the flat paper for each point of the lamp, px."""
    return [project(scene, hard_shadow(part, -slope), 0.0) for slope in lamp_points(scene.light)]


def hard_shadow(part: Part, shift: Array) -> shapely.Geometry:
    """The shadow in mm; light moves by `shift` (2,) in x and y for each mm it falls."""
    solid = shapely.simplify(shapely.Polygon(part.outline.polygon()), _SHADOW_SAG_MM)
    neck = part.thickness_mm - part.edge_chamfer_mm
    thrown = shapely.union_all(
        [_swept(solid, shift * neck), _moved(upper_outline(part), shift * part.thickness_mm)]
    )
    return thrown.difference(shapely.union_all([_lit_hole(part, h, shift) for h in part.holes]))


def _swept(solid: shapely.Geometry, way: Array) -> shapely.Geometry:
    ring = shapely.get_coordinates(solid)
    quads = [shapely.Polygon([a, b, b + way, a + way]).buffer(0) for a, b in pairwise(ring)]
    return shapely.union_all([solid, _moved(solid, way), *quads])


def _moved(shape: shapely.Geometry, way: Array) -> shapely.Geometry:
    return shapely.transform(shape, lambda points: points + way)


def _lit_hole(part: Part, hole: Hole, shift: Array) -> shapely.Geometry:
    bore = shapely.simplify(shapely.Polygon(hole.ring(hole.radius_mm)), _SHADOW_SAG_MM)
    rim = shapely.simplify(shapely.Polygon(hole.ring(hole.rim_radius_mm)), _SHADOW_SAG_MM)
    neck = _moved(bore, shift * (part.thickness_mm - hole.chamfer_mm))
    return bore.intersection(neck).intersection(_moved(rim, shift * part.thickness_mm))


def _sky_px(scene: Scene, part: Part) -> int:
    scale = scene.lens.f_px / float(scene.pose.numbers[5])
    return max(2, round(_SKY_REACH * part.thickness_mm * scale))


def _sky_lost(scene: Scene, part: Part, box: Box) -> Picture:
    """(H, W) how much of the surroundings the part hides from the paper, 0 to 1."""
    solid = shapely.Polygon(
        part.outline.polygon(), [hole.ring(hole.radius_mm) for hole in part.holes]
    )
    canvas = Canvas(box)
    canvas.add(project(scene, solid, 0.0))
    footprint = canvas.picture()
    small = cv2.resize(footprint, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), _sky_px(scene, part) / 4)
    size = (footprint.shape[1], footprint.shape[0])
    return np.asarray(cv2.resize(soft, size, interpolation=cv2.INTER_CUBIC), np.float32)


def slant_light(light: Light, normal: Array) -> float:
    """Light on an open slanting surface as a share of that on a level one; normal (3,)."""
    lamp = np.array(light.towards) / light.towards[2]
    direct = min(1.3, max(0.0, float(normal @ lamp)))
    sky = 0.5 + 0.5 * float(normal[2])
    return float((1 - light.shadow_darkness) * sky + light.shadow_darkness * direct)


def flat_shade(scene: Scene, surface: Surface) -> float:
    """Light on a flat piece as a share of that on a level one."""
    part, light = surface.part, scene.light
    lamp = np.array(light.towards) / light.towards[2]
    share = surface.middle_mm[2] / part.thickness_mm
    sky = 0.35 + 0.35 * share + 0.3 * surface.normal[2]
    direct = min(1.3, max(0.0, float(surface.normal @ lamp)))
    return float((1 - light.shadow_darkness) * sky + light.shadow_darkness * direct)


def hole_shade(scene: Scene, surface: Surface, box: Box) -> Picture:
    """(H, W) light on the wall or chamfer of a hole as a share of that on a level surface."""
    part, hole = surface.part, surface.hole
    if hole is None:
        raise ValueError("Only a bore or a cone has a hole.")
    rays = normal_map(scene.lens, box)
    flat = rays.reshape(-1, 2).astype(float)
    neck = part.thickness_mm - hole.chamfer_mm
    if surface.kind == "cone":
        middle = _on_plane(scene, flat, neck + hole.chamfer_mm / 2)
        shade = _cone_light(scene.light, middle - np.array(hole.centre_mm))
    else:
        upper, lower = _on_plane(scene, flat, neck), _on_plane(scene, flat, 0.0)
        shade = _bore_light(scene.light, hole, neck, upper, lower)
    return shade.reshape(rays.shape[:2]).astype(np.float32)


def _cone_light(light: Light, arm: Array) -> Array:
    """Light on a 45° chamfer that falls towards the hole; arm (N, 2) from its axis, mm."""
    lamp = np.array(light.towards) / light.towards[2]
    inward = -arm / np.maximum(np.linalg.norm(arm, axis=1), 1e-9)[:, None]
    direct = np.clip((inward @ lamp[:2] + 1) / sqrt(2), 0.0, 1.3)
    return np.asarray((1 - light.shadow_darkness) * 0.9 + light.shadow_darkness * direct)


def _bore_light(light: Light, hole: Hole, neck: float, upper: Array, lower: Array) -> Array:
    """Light where sight lines from `upper` (z = neck) to `lower` (z = 0) hit the wall."""
    lamp, r = np.array(light.towards) / light.towards[2], hole.radius_mm
    start, way = upper - np.array(hole.centre_mm), lower - upper
    a, b = np.sum(way**2, axis=1), np.sum(start * way, axis=1)
    inside = np.sum(start**2, axis=1) - r**2
    root = np.sqrt(np.maximum(b**2 - a * inside, 0.0))
    along = np.clip((root - b) / np.maximum(a, 1e-12), 0.0, 1.0)
    hit = start + way * along[:, None]
    inward = -hit / np.maximum(np.linalg.norm(hit, axis=1), 1e-9)[:, None]
    depth = neck * along
    leaves = np.linalg.norm(hit + depth[:, None] * lamp[:2], axis=1)
    soft = np.maximum(depth * np.tan(light.radius_rad), 0.05)
    lit = np.clip(0.5 + (r - leaves) / (2 * soft), 0.0, 1.0)
    direct = np.clip(inward @ lamp[:2], 0.0, 1.3) * lit
    sky = 0.75 / (1 + depth / r)
    return np.asarray((1 - light.shadow_darkness) * sky + light.shadow_darkness * direct)
