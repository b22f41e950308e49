"""What might a photo of a card stuck beside a gap look like?

Two parts of one thickness face each other on a bare table, and on one of them, beside the gap, a
card is stuck: its plane is that of both faces, up to the paper's thickness and a slight lean.
Below lie the table and a third part, whose edges are not in that plane. The same seed always
gives the same scene; phone, lens, light and clicks are drawn as for a sheet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from photomeasure.records.job import PlaneEntry
from photomeasure.synthetic.framing import looking, pose_at
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.pointing import point_at_gap
from photomeasure.synthetic.random_parts import made, rounded_rectangle, turned
from photomeasure.synthetic.random_scenes import random_scene, stated_print
from photomeasure.synthetic.scene import Curl, Part, PlacedCard, Pose, Print, Scene
from photomeasure.vision.sheets import page, prints_of, sheet

Array = NDArray[np.float64]
Range = tuple[float, float]

FACE = "face"
GAP_MM = (5.0, 40.0)
REACH_MM = 100.0  # how far from the card's middle the gap may lie
PX_PER_MM = (10.0, 14.0)
PAPER_MM, PAPER_U_MM = 0.12, 0.05  # how far the print lies above the face, and its scatter
DEPTH_U_MM = 0.3  # how well a user knows the thickness of a part up in a frame
LEAN_U_DEG = 0.15  # how flat a card is stuck on a face
BOW_RADIUS_MM = 2000.0  # of the strongest bend of a card
_LONGEST_EDGE_MM = 110.0
_MARGIN_PX = 60.0


@dataclass(frozen=True)
class _Layout:
    """The set-up before it is turned: parts, and where the card's middle lies."""

    parts: tuple[Part, ...]
    card_mm: tuple[float, float]


def card_scene(
    seed: int,
    *,
    card: str = "card-50-C",
    tilt_deg: Range = (0.0, 35.0),
    phone: Scene | None = None,
    depth_stated: bool = True,
) -> Scene:
    """A photo of a gap beside a card, with its truth and what its user states.

    phone : a scene whose lens and phone are used, focused anew; by default one of its own.
    depth_stated : whether the user says how thick the parts are, to DEPTH_U_MM.
    """
    rng = np.random.default_rng([seed, 7])
    drawn = phone or random_scene(seed)
    layout = _layout(rng, card)
    thickness = layout.parts[0].thickness_mm
    placed = _placed(rng, card, layout, thickness)
    lens = replace(drawn.lens, f_px=drawn.lens.f_px * float(rng.normal(1.0, 0.002)))
    tilt = float(np.radians(rng.uniform(*tilt_deg)))
    scene = Scene(
        name=f"{card}-{seed}",
        print=Print(sheet=""),
        parts=layout.parts,
        lens=lens,
        pose=_pose(rng, lens, layout, card, tilt),
        light=random_scene(seed).light,
        phone=drawn.phone,
        seed=seed,
        stated_planes=(_stated(rng, card, thickness, depth_stated),),
        stated_print=stated_print(rng, placed.print, page(prints_of(card)[0])),
        cards=(placed,),
    )
    features, measurements = point_at_gap(rng, scene, FACE)
    return replace(scene, features=features, measurements=measurements)


def _layout(rng: np.random.Generator, card: str) -> _Layout:
    """Two parts across a gap, a card on the first of them, a lower part beside."""
    thickness, gap = float(rng.uniform(6, 25)), float(np.exp(rng.uniform(*np.log(GAP_MM))))
    half = sheet(card).page[2]
    away = float(rng.uniform(half + 2, REACH_MM - gap - 5))
    aside = float(rng.uniform(-30, 30))
    length = float(rng.uniform(60, _LONGEST_EDGE_MM))
    depth = away + half + float(rng.uniform(4, 15))
    lean = float(np.radians(rng.uniform(-1.5, 1.5)))
    wide = max(length, 2 * (half + 4 + abs(aside)))
    near = rounded_rectangle(wide, depth, 3.0, (0.0, -depth / 2))
    beyond = gap + 0.45 * length * abs(float(np.sin(lean)))
    far = rounded_rectangle(length, 45.0, 3.0, (0.3 * aside, beyond + 22.5), lean)
    low = float(rng.uniform(0.35, 0.7)) * thickness
    beside = rounded_rectangle(40.0, 60.0, 3.0, (wide / 2 + 32.0, -20.0))
    parts = (
        made(rng, "bracket", near, thickness, ()),
        made(rng, "guard", far, thickness, ()),
        made(rng, "stop", beside, low, ()),
    )
    turn = float(rng.uniform(0, 2 * np.pi))
    c, s = float(np.cos(turn)), float(np.sin(turn))
    middle = (c * aside + s * away, s * aside - c * away)
    return _Layout(tuple(turned(part, turn) for part in parts), middle)


def _placed(rng: np.random.Generator, card: str, layout: _Layout, thickness: float) -> PlacedCard:
    half = sheet(card).page[2]
    bow = float(rng.uniform(-1, 1)) * half**2 / (2 * BOW_RADIUS_MM)
    printed = Print(
        sheet=card,
        scale_x=float(rng.uniform(0.99, 1.01)),
        scale_y=float(rng.uniform(0.99, 1.01)),
        growth_mm=float(rng.uniform(0.02, 0.05)),
        curl=Curl(bow, float(rng.uniform(0, np.pi)), 0.0, half, both_sides=True),
        paper_reflectance=float(rng.uniform(0.8, 0.88)),
        ink_reflectance=float(rng.uniform(0.03, 0.06)),
        dot_gain=float(rng.uniform(0.0, 0.2)),
    )
    height = thickness + PAPER_MM + float(rng.normal(0, PAPER_U_MM))
    lean = np.radians([*rng.normal(0, LEAN_U_DEG, 2), 0.0])
    turn = Rotation.from_rotvec(lean) * Rotation.from_euler("z", rng.uniform(0, 2 * np.pi))
    return PlacedCard(printed, (*layout.card_mm, height), tuple(turn.as_rotvec().tolist()))


def _stated(
    rng: np.random.Generator, card: str, thickness: float, depth_stated: bool
) -> PlaneEntry:
    """The faces lie below the print by the paper's thickness."""
    depth = round(float(rng.normal(thickness, DEPTH_U_MM)), 1)
    return PlaneEntry(
        FACE, -PAPER_MM, 2 * PAPER_U_MM, on=card, depth_mm=depth if depth_stated else None
    )


def _pose(rng: np.random.Generator, lens: Lens, layout: _Layout, card: str, tilt: float) -> Pose:
    """Card and gap in the middle of the picture, at PX_PER_MM, farther where too large."""
    lean, roll = rng.uniform(0, 2 * np.pi, 2)
    towards = np.array([np.sin(tilt) * np.cos(lean), np.sin(tilt) * np.sin(lean), np.cos(tilt)])
    rotation = looking(-towards, float(roll))
    thickness = layout.parts[0].thickness_mm
    wanted = _wanted(layout, sheet(card).page[2], thickness)
    target = (wanted.min(axis=0) + wanted.max(axis=0)) / 2 + [*rng.uniform(-8, 8, 2), 0.0]
    distance = lens.f_px / float(rng.uniform(*PX_PER_MM))
    for _ in range(40):
        pose = pose_at(rotation, target, distance)
        in_camera = wanted @ pose.rotation.T + pose.numbers[3:]
        seen = lens.pixels_from_normal(in_camera[:, :2] / in_camera[:, 2:])
        low, high = seen.min(axis=0), np.array(lens.size_px) - 1 - seen.max(axis=0)
        if min(low.min(), high.min()) > _MARGIN_PX:
            return pose
        distance *= 1.03
    return pose


def _wanted(layout: _Layout, half: float, height: float) -> Array:
    """(N, 3) the card and both edges of the gap."""
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half * 1.3 + layout.card_mm
    edges = [layout.parts[0].outline.edge(4), layout.parts[1].outline.edge(0)]
    points = np.vstack([corners, *edges])
    return np.column_stack([points, np.full(len(points), height)])
