"""What do the surfaces, the lamp and the room of a ray-traced picture look like?

Turns a scene into the tracer's dictionary. The light is scaled so that an open, level
white surface at the sheet's centre has radiance 1, split between lamp and room as the
scene's light says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.synthetic.raytraced_finishes import (
    FINISHES,
    TILE_MM,
    Finish,
    bitmap,
    rgb,
    surface,
)
from photomeasure.synthetic.raytraced_print import print_texture, room_texture, wood_texture
from photomeasure.synthetic.raytraced_solids import Faces, Mesh, face_mesh, page_mesh, wall_mesh
from photomeasure.synthetic.scene import Light, Part, PlacedCard, Print, Scene

Array = NDArray[np.float64]
Triple = tuple[float, float, float]

_LAMP_MM = 900.0
_BENCH_MM = 520.0
_PAPER_MM = 0.1
_LAMP_COLOUR = np.array([1.05, 1.0, 0.92])


@dataclass(frozen=True)
class Shade:
    """Something opaque between lamp and sheet: a square, level, turned about its centre."""

    at_mm: Triple
    side_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True)
class Staging:
    """What a ray-traced picture needs beyond its scene.

    finishes : part name, finish of its face and finish of its walls, of FINISHES. props :
    parts that lie about and are not measured, with their finish. aperture_mm : diameter of
    the thin lens; focus_mm : where it is sharp, measured along the optical axis. seed : of
    bench, paper, surfaces and room.
    """

    finishes: tuple[tuple[str, str, str], ...]
    props: tuple[tuple[Part, str], ...] = ()
    shade: Shade | None = None
    aperture_mm: float = 1.2
    focus_mm: float = 280.0
    seed: int = 1

    def surfaces(self, scene: Scene) -> Iterator[tuple[Mesh, Finish]]:
        """Every surface of parts and props with what it is made of."""
        finish = {name: (face, walls) for name, face, walls in self.finishes}
        dressed = [(part, *finish[part.name]) for part in scene.parts]
        for part, face, walls in [*dressed, *((part, name, name) for part, name in self.props)]:
            yield face_mesh(part), FINISHES[face]
            yield wall_mesh(part), FINISHES[walls]


def scene_dictionary(mi: Any, scene: Scene, staging: Staging) -> dict[str, Any]:
    """The whole scene in the tracer's words."""
    whole: dict[str, Any] = {
        "type": "scene",
        "room": _room(mi, scene.light, staging.seed),
        "lamp": _lamp(mi, scene.light),
        "bench": _bench(mi, scene.table_reflectance, staging.seed),
    }
    if scene.print.sheet:
        whole["page"] = _page(mi, scene.print, staging.seed)
    for number, card in enumerate(scene.cards):
        whole[f"card{number}"] = _page(mi, card.print, staging.seed + 40 + number, card)
    for number, ((vertices, faces), finish) in enumerate(staging.surfaces(scene)):
        on_tile = vertices[:, :2] / TILE_MM + 0.5
        look = surface(mi, finish, staging.seed + number)
        whole[f"surface{number}"] = _mesh(mi, vertices, faces, look, on_tile)
    if staging.shade:
        whole["shade"] = _shade(mi, staging.shade)
    return whole


def _page(mi: Any, printed: Print, seed: int, card: PlacedCard | None = None) -> Any:
    """A printed sheet on the bench, or a card where it was placed."""
    vertices, faces, uv = page_mesh(printed)
    if card is not None:
        vertices = vertices @ card.rotation.T + np.array(card.middle_mm)
    texture = bitmap(mi, print_texture(printed, seed), "clamp")
    return _mesh(mi, vertices, faces, {"type": "diffuse", "reflectance": texture}, uv)


def _lamp(mi: Any, light: Light) -> dict[str, Any]:
    towards = np.asarray(light.towards) / np.linalg.norm(light.towards)
    size = float(_LAMP_MM * np.tan(light.radius_rad))
    radiance = light.shadow_darkness / (np.tan(light.radius_rad) ** 2 * towards[2]) * _LAMP_COLOUR
    place = mi.ScalarTransform4f().look_at(
        origin=(towards * _LAMP_MM).tolist(), target=[0, 0, 0], up=[0.1, 1, 0.3]
    )
    return {
        "type": "disk",
        "to_world": place @ mi.ScalarTransform4f().scale(size),
        "emitter": {"type": "area", "radiance": rgb(*radiance)},
    }


def _room(mi: Any, light: Light, seed: int) -> dict[str, Any]:
    """The room all round, giving the share of light that the lamp does not."""
    texture = room_texture(seed)
    polar = np.pi * (np.arange(len(texture)) + 0.5) / len(texture)
    weight = np.clip(np.cos(polar), 0, None) * np.sin(polar)
    patch = np.pi / len(texture) * 2 * np.pi / texture.shape[1]
    given = float(np.sum(texture.mean(axis=2) * weight[:, None]) * patch)
    upright = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
    scale = float(np.pi * (1 - light.shadow_darkness) / given)
    return {"type": "envmap", "bitmap": mi.Bitmap(texture), "to_world": upright, "scale": scale}


def _bench(mi: Any, reflectance: float, seed: int) -> dict[str, Any]:
    wood = wood_texture(seed)
    place = mi.ScalarTransform4f().translate([0, 0, -_PAPER_MM])
    return {
        "type": "rectangle",
        "to_world": place @ mi.ScalarTransform4f().scale([_BENCH_MM, _BENCH_MM, 1]),
        "bsdf": {
            "type": "roughplastic",
            "diffuse_reflectance": bitmap(mi, wood * (reflectance / float(wood.mean()))),
            "alpha": 0.3,
        },
    }


def _shade(mi: Any, shade: Shade) -> dict[str, Any]:
    place = (
        mi.ScalarTransform4f()
        .translate(list(shade.at_mm))
        .rotate([0, 0, 1], shade.turn_deg)
        .scale(shade.side_mm / 2)
    )
    return {"type": "rectangle", "to_world": place, "bsdf": _dull_black()}


def _dull_black() -> dict[str, Any]:
    return {"type": "twosided", "under": {"type": "diffuse", "reflectance": rgb(0.1, 0.1, 0.1)}}


def _mesh(mi: Any, vertices: Array, faces: Faces, look: dict[str, Any], uv: Array) -> Any:
    """A mesh with flat faces, the same from both sides."""
    properties = mi.Properties()
    properties["bsdf"] = mi.load_dict({"type": "twosided", "under": look})
    mesh = mi.Mesh("mesh", len(vertices), len(faces), has_vertex_texcoords=True, props=properties)
    values = mi.traverse(mesh)
    values["vertex_positions"] = np.ravel(vertices.astype(np.float32))
    values["faces"] = np.ravel(faces.astype(np.uint32))
    upward = np.column_stack([uv[:, 0], 1 - uv[:, 1]])  # the tracer's row 0 lies at v = 0
    values["vertex_texcoords"] = np.ravel(upward.astype(np.float32))
    values.update()
    return mesh
