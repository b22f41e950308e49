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
from photomeasure.synthetic.scene import Part, Scene
from photomeasure.synthetic.shading import flat_shade, glare, hole_shade, level_light, paper_light
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
    tell(0.6, "parts")
    _paint(picture, scene, box, surfaces)
    tell(0.9, "light")
    picture *= level_light(scene, box)
    tell(1.0, "done")
    return picture


def _paper(scene: Scene, box: Box) -> Picture:
    """(H, W) reflectance of table, paper and ink."""
    design, printed = sheet(scene.print.sheet), scene.print
    grey, shades = ink.patches(design, printed)
    canvas = Canvas(box)
    paper = printed.paper_reflectance
    canvas.add(_seen(scene, ink.page(design)), paper - scene.table_reflectance)
    canvas.add(_seen(scene, ink.solid_ink(design, printed)), printed.ink_reflectance - paper)
    canvas.add(_seen(scene, grey), shades - paper)
    picture = canvas.picture()
    picture += scene.table_reflectance
    return picture


def _seen(scene: Scene, shapes: object) -> object:
    """Shapes in nominal mm of the sheet as polygons in px."""
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
            view += canvas.picture()
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
    return face + share * glare(scene, part, window) if part.gloss else face


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
