"""What does a photo of hoses, tubes and bars on the sheet look like, and what is its truth?

A round body is convex, so its outline in the picture and its shadow on the paper are hulls of
its two end discs as seen and as thrown. Its surface is painted in strips along it that end
exactly where sight lines graze it; nothing of the program's own tangent formula is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.records.photo import Photo
from photomeasure.synthetic.coverage import Box, Canvas, Picture, box_of
from photomeasure.synthetic.flat import render
from photomeasure.synthetic.phone import develop, jpeg
from photomeasure.synthetic.scene import Scene
from photomeasure.synthetic.shading import lamp_points, slant_light
from photomeasure.synthetic.taking import photo_of

Array = NDArray[np.float64]

_RIM_POINTS = 180
_STRIPS = 120
_STEPS = 24  # along a strip, for the lens bends it


@dataclass(frozen=True, eq=False)
class RoundBody:
    """A straight round bar on or above the sheet, its axis level.

    axis_mm : (2, 2) ends of the axis, sheet frame. height_mm : of the axis. gloss : radiance
    that the lamp's reflection adds where it is brightest; gloss_rad : how wide it is.
    """

    axis_mm: Array
    height_mm: float
    radius_mm: float
    reflectance: float = 0.2
    gloss: float = 0.0
    gloss_rad: float = 0.2

    @property
    def along(self) -> Array:
        """(3,) unit vector of the axis."""
        way = np.append(self.axis_mm[1] - self.axis_mm[0], 0.0)
        return np.asarray(way / np.linalg.norm(way))

    def normals(self, turns_rad: Array) -> Array:
        """(N, 3) outward normals at angles round the axis, from straight up."""
        across = np.cross([0.0, 0.0, 1.0], self.along)
        up = np.array([0.0, 0.0, 1.0])
        return np.asarray(np.cos(turns_rad)[:, None] * up + np.sin(turns_rad)[:, None] * across)

    def line(self, normal: Array, count: int = _STEPS) -> Array:
        """(count, 3) points of the surface along the axis where it has this normal."""
        ends = np.column_stack([self.axis_mm, np.full(2, self.height_mm)])
        share = np.linspace(0.0, 1.0, count)[:, None]
        return np.asarray(ends[0] + share * (ends[1] - ends[0]) + self.radius_mm * normal)

    def rims(self) -> Array:
        """(N, 3) points of both end discs."""
        turns = np.linspace(0, 2 * np.pi, _RIM_POINTS, endpoint=False)
        ends = np.column_stack([self.axis_mm, np.full(2, self.height_mm)])
        return np.vstack([end + self.radius_mm * self.normals(turns) for end in ends])


def photo_of_tubes(scene: Scene, bodies: Sequence[RoundBody]) -> Photo:
    """The photo, through real JPEG bytes. The scene must have no parts of its own."""
    data = jpeg(develop(render_tubes(scene, bodies), scene.phone, scene.seed), scene.phone)
    return photo_of(scene, data)


def render_tubes(scene: Scene, bodies: Sequence[RoundBody]) -> Picture:
    """(H, W) float32 linear radiance of the sheet with round bodies on it."""
    picture = render(replace(scene, parts=()))
    frame: Box = (0, 0, *scene.lens.size_px)
    covers = [_outline(scene, body) for body in bodies]
    cover = shapely.union_all(covers)
    for body in bodies:
        _shade_paper(picture, scene, body, cover, frame)
    for body, outline in zip(bodies, covers, strict=True):
        _paint(picture, scene, body, box_of(outline, 2, frame))
    return picture


def _outline(scene: Scene, body: RoundBody) -> shapely.Geometry:
    """What the body hides, px: the hull of its end discs, taken before the lens bends it."""
    in_camera = body.rims() @ scene.pose.rotation.T + scene.pose.numbers[3:]
    hull = shapely.MultiPoint(in_camera[:, :2] / in_camera[:, 2:]).convex_hull
    fine = shapely.segmentize(hull, 2e-3)
    return shapely.transform(fine, scene.lens.pixels_from_normal)


def _shade_paper(
    picture: Picture, scene: Scene, body: RoundBody, cover: shapely.Geometry, frame: Box
) -> None:
    """Darken the paper where the body keeps the lamp from it; `cover` is hidden from sight."""
    shadows = [_shadow(scene, body, slope) for slope in lamp_points(scene.light)]
    box = box_of(shapely.union_all(shadows), 4, frame)
    lamp, hidden = Canvas(box), Canvas(box)
    lamp.add(shapely.difference(shadows, cover), 1.0 / len(shadows))
    hidden.add(cover)
    shaded = np.clip(lamp.picture() / np.maximum(1 - hidden.picture(), 1e-3), 0.0, 1.0)
    view = picture[box[1] : box[3], box[0] : box[2]]
    view *= 1 - scene.light.shadow_darkness * shaded


def _shadow(scene: Scene, body: RoundBody, slope: Array) -> shapely.Geometry:
    """The hard shadow on the paper for one point of the lamp, px."""
    rims = body.rims()
    thrown = rims[:, :2] - rims[:, 2:] * slope
    hull = shapely.segmentize(shapely.MultiPoint(thrown).convex_hull, 2.0)
    return shapely.transform(hull, lambda points: scene.image_from_plane(points, 0.0))


def _paint(picture: Picture, scene: Scene, body: RoundBody, box: Box) -> None:
    """Lay the body over the paper: strips of its surface, and the end that can be seen."""
    pieces = [*_strips(scene, body), *_end(scene, body)]
    cover, light = Canvas(box), Canvas(box)
    cover.add([region for region, _ in pieces])
    light.add([region for region, _ in pieces], np.array([value for _, value in pieces]))
    view = picture[box[1] : box[3], box[0] : box[2]]
    view *= 1 - np.clip(cover.picture(), 0.0, 1.0)
    view += light.picture()


def _strips(scene: Scene, body: RoundBody) -> list[tuple[shapely.Geometry, float]]:
    """Regions in px and their radiance, from grazing sight line to grazing sight line."""
    turns = np.linspace(*_in_sight(scene, body), _STRIPS + 1)
    lines = [scene.image_from_space(body.line(n)) for n in body.normals(turns)]
    middles = body.normals((turns[:-1] + turns[1:]) / 2)
    return [
        (shapely.Polygon(np.vstack([a, b[::-1]])), _radiance(scene, body, normal))
        for a, b, normal in zip(lines[:-1], lines[1:], middles, strict=True)
    ]


def _in_sight(scene: Scene, body: RoundBody) -> tuple[float, float]:
    """The angles round the axis between which the surface faces the camera."""
    to_eye = scene.pose.camera_mm - np.append(body.axis_mm[0], body.height_mm)
    across = np.cross([0.0, 0.0, 1.0], body.along)
    away = float(np.hypot(to_eye @ across, to_eye[2]))
    middle = float(np.arctan2(to_eye @ across, to_eye[2]))
    half = float(np.arccos(body.radius_mm / away))
    return middle - half, middle + half


def _end(scene: Scene, body: RoundBody) -> list[tuple[shapely.Geometry, float]]:
    """The flat end that faces the camera, if one does."""
    turns = np.linspace(0, 2 * np.pi, _RIM_POINTS, endpoint=False)
    for at, outward in zip(body.axis_mm, (-body.along, body.along), strict=True):
        middle = np.append(at, body.height_mm)
        if (scene.pose.camera_mm - middle) @ outward > 0:
            rim = middle + body.radius_mm * body.normals(turns)
            shade = body.reflectance * slant_light(scene.light, outward)
            return [(shapely.Polygon(scene.image_from_space(rim)), shade)]
    return []


def _radiance(scene: Scene, body: RoundBody, normal: Array) -> float:
    """Light that a strip sends back: dull, and the lamp mirrored in it."""
    dull = body.reflectance * slant_light(scene.light, normal)
    towards = np.array(scene.light.towards) / np.linalg.norm(scene.light.towards)
    eye = scene.pose.camera_mm - np.append(body.axis_mm.mean(axis=0), body.height_mm)
    halfway = towards + eye / np.linalg.norm(eye)
    halfway -= (halfway @ body.along) * body.along
    off = np.arccos(np.clip(normal @ halfway / np.linalg.norm(halfway), -1.0, 1.0))
    return dull + body.gloss * float(np.exp(-((off / body.gloss_rad) ** 2)))
