"""What light reaches each pixel of a scene's picture, before the phone changes it?

No ray is traced: every outline is carried through the lens as a polygon and its covered
share of each pixel is exact, so that no edge is displaced. Light and texture are smooth.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import shapely

from photomeasure.synthetic import ink
from photomeasure.synthetic.coverage import Box, Canvas, Picture, box_of
from photomeasure.synthetic.scene import Part, PlacedCard, Scene
from photomeasure.synthetic.shading import (
    face_light,
    flat_shade,
    glare,
    hole_shade,
    level_light,
    paper_light,
    past_screens,
    slant_light,
    slope_light,
)
from photomeasure.synthetic.solids import Surface, visible_surfaces
from photomeasure.vision.sheets import sheet

Progress = Callable[[float, str], None]


def render(scene: Scene, region: Box | None = None, progress: Progress | None = None) -> Picture:
    """(H, W) float32 linear radiance of the picture or of a region x0, y0, x1, y1 of it.

    1 is a white, lit, level surface. `progress` is told the share done and what comes next.
    """
    tell = progress or (lambda share, step: None)
    box = region or (0, 0, *scene.lens.size_px)
    tell(0.0, "paper and ink")
    picture = _paper(scene, box)
    tell(0.4, "shadows")
    surfaces = visible_surfaces(scene)
    picture *= paper_light(scene, box, shapely.union_all([s.region for s in surfaces]))
    picture += _lamination(scene, box)
    tell(0.6, "parts")
    _paint(picture, scene, box, surfaces)
    for card in scene.cards:
        _paint_card(picture, scene, box, card)
    tell(0.9, "light")
    picture *= level_light(scene, box)
    tell(1.0, "done")
    return picture


def _paper(scene: Scene, box: Box) -> Picture:
    """(H, W) reflectance of table, paper and ink."""
    printed = scene.print
    if not printed.sheet:
        return np.full((box[3] - box[1], box[2] - box[0]), scene.table_reflectance, np.float32)
    design = sheet(printed.sheet)
    grey, shades = ink.patches(design, printed)
    canvas = Canvas(box)
    paper = printed.paper_reflectance
    canvas.add(_seen(scene, ink.page(design)), paper - scene.table_reflectance)
    canvas.add(_seen(scene, ink.solid_ink(design, printed)), printed.ink_reflectance - paper)
    canvas.add(_seen(scene, grey), shades - paper)
    picture = canvas.picture()
    picture += scene.table_reflectance
    return picture * slope_light(scene, box) * _past_stains(scene, box)


def _paint_card(picture: Picture, scene: Scene, box: Box, card: PlacedCard) -> None:
    """Lay a card over everything; it throws no shadow, as one that lies on a face."""
    design, printed = sheet(card.print.sheet), card.print

    def seen(shapes: object) -> object:
        return shapely.transform(
            shapes, lambda points: scene.image_from_space(card.space_from_card(points))
        )

    outline = seen(ink.page(design))
    window = box_of(outline, 2, box)
    if window[0] >= window[2] or window[1] >= window[3]:
        return
    grey, shades = ink.patches(design, printed)
    cover, canvas, paper = Canvas(window), Canvas(window), printed.paper_reflectance
    cover.add(outline)
    canvas.add(outline, paper)
    canvas.add(seen(ink.solid_ink(design, printed)), printed.ink_reflectance - paper)
    canvas.add(seen(grey), shades - paper)
    light = slant_light(scene.light, card.rotation[:, 2])
    view = _cut_out(picture, box, window)
    view *= 1 - cover.picture()
    view += canvas.picture() * np.float32(light)


def _past_stains(scene: Scene, box: Box) -> Picture:
    """(H, W) share of the light that stains leave; table and paper alike."""
    wear = scene.print.wear
    if not wear.stains:
        return np.ones((1, 1), np.float32)
    canvas = Canvas(box)
    outlines = [shapely.Polygon(scene.image_from_sheet(s.outline())) for s in wear.stains]
    canvas.add(outlines, np.array([s.darkness for s in wear.stains]))
    soft_px = wear.soft_mm * scene.lens.f_px / float(scene.pose.numbers[5])
    dark = cv2.GaussianBlur(canvas.picture(), (0, 0), soft_px)
    return np.asarray(np.exp(-dark), np.float32)


def _lamination(scene: Scene, box: Box) -> Picture:
    """(H, W) the lamp's reflection in the sheet, where there is any sheet."""
    wear = scene.print.wear
    if not wear.gloss:
        return np.zeros((1, 1), np.float32)
    canvas = Canvas(box)
    canvas.add(_seen(scene, ink.page(sheet(scene.print.sheet))))
    return canvas.picture() * glare(scene, wear.gloss, wear.gloss_rad, 0.0, box)


def _seen(scene: Scene, shapes: object) -> object:
    """Shapes in nominal mm of the sheet, less what is torn away, as polygons in px."""
    torn = [shapely.Polygon(outline) for outline in scene.print.wear.torn_mm]
    if torn:
        shapes = shapely.difference(shapes, shapely.union_all(torn))
    return shapely.transform(shapes, scene.image_from_sheet)


def _paint(picture: Picture, scene: Scene, box: Box, surfaces: list[Surface]) -> None:
    """Lay the visible pieces over the paper, each by its exact share of the pixels."""
    for part in scene.parts:
        own = [s for s in surfaces if s.part is part]
        window = box_of(shapely.union_all([s.region for s in own]), 2, box)
        if window[0] >= window[2] or window[1] >= window[3]:
            continue
        view = _cut_out(picture, box, window)
        view *= 1 - _covered(own, window)
        view += _face_radiance(scene, part, own, window)
        flat = [s for s in own if s.kind in ("wall", "chamfer")]
        if flat:
            canvas = Canvas(window)
            canvas.add([s.region for s in flat], [_flat_radiance(scene, s) for s in flat])
            view += canvas.picture() * past_screens(scene, part.thickness_mm / 2, window)
        for surface in (s for s in own if s.hole is not None):
            _paint_hole(picture, scene, box, surface)


def _cut_out(picture: Picture, box: Box, window: Box) -> Picture:
    return picture[
        window[1] - box[1] : window[3] - box[1], window[0] - box[0] : window[2] - box[0]
    ]


def _covered(surfaces: list[Surface], window: Box) -> Picture:
    canvas = Canvas(window)
    canvas.add([s.region for s in surfaces])
    return canvas.picture()


def _face_radiance(scene: Scene, part: Part, own: list[Surface], window: Box) -> Picture:
    faces = [s.region for s in own if s.kind == "face"]
    canvas = Canvas(window)
    canvas.add(faces)
    share = canvas.picture()
    face = share * np.float32(part.face_reflectance)
    if part.texture:
        face *= 1 + part.texture * _brushed(face.shape, part.grain_rad, scene.seed)
    face *= face_light(scene, part, window)
    if not part.gloss:
        return face
    return face + share * glare(scene, part.gloss, part.gloss_rad, part.thickness_mm, window)


def _brushed(shape: tuple[int, ...], grain_rad: float, seed: int) -> Picture:
    """(H, W) noise of variance 1 drawn out along the grain (angle in the picture)."""
    rough = np.random.default_rng(seed).standard_normal(shape, dtype=np.float32)
    kernel = np.zeros((31, 31), np.float32)
    reach = 15 * np.array([np.cos(grain_rad), np.sin(grain_rad)])
    ends = np.rint(15 + np.array([-reach, reach])).astype(int)
    cv2.line(kernel, ends[0].tolist(), ends[1].tolist(), 1.0, lineType=cv2.LINE_AA)
    drawn = cv2.filter2D(rough, -1, cv2.GaussianBlur(kernel, (0, 0), 0.8))
    return np.asarray(np.clip(drawn / drawn.std(), -3, 3), np.float32)


def _flat_radiance(scene: Scene, surface: Surface) -> float:
    part = surface.part
    own = part.wall_reflectance if surface.kind == "wall" else part.chamfer_reflectance
    return own * flat_shade(scene, surface)


def _paint_hole(picture: Picture, scene: Scene, box: Box, surface: Surface) -> None:
    window = box_of(surface.region, 1, box)
    if window[0] >= window[2] or window[1] >= window[3]:
        return
    part = surface.part
    own = part.wall_reflectance if surface.kind == "bore" else part.chamfer_reflectance
    canvas = Canvas(window)
    canvas.add(surface.region, own)
    view = _cut_out(picture, box, window)
    view += canvas.picture() * hole_shade(scene, surface, window)
