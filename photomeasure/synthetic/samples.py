"""Which photos lie in `sample_images/`, each in which folder, and what is in it?

Six photos of parts on a sheet and one of a card up on a frame, with three phones, one of them
used for six photos of a calibration board as well. Everything that the estimator does not model
is here: thin prism and higher-order distortion, ink that spreads, paper that curls, other tone
curves, sharpening, chamfers and soft shadows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from photomeasure.records.job import FeatureEntry, MeasurementEntry, PlaneEntry, PrintEntry
from photomeasure.records.shapes import Circle, Curve, Edge, Shape
from photomeasure.synthetic import sample_parts as parts
from photomeasure.synthetic.raytraced_look import Shade, Staging
from photomeasure.synthetic.sample_phones import PERRY, PIPPIN, PRESS, Handset, looking_at
from photomeasure.synthetic.sample_truth import between_clicks, clicks, true_measurement
from photomeasure.synthetic.scene import (
    Curl,
    Light,
    Part,
    PlacedCard,
    PointedFeature,
    Pose,
    Print,
    Scene,
)
from photomeasure.vision.sheets import prints_of

Named = tuple[str, str, float, Shape]
"""What a user points at: its name, its plane, the plane's true height in mm, its shape."""

Asked = tuple[str, str, dict[str, tuple[str, ...]]]
"""What a user asks for: its name, its kind, and the features for each role."""

PRINT_A4 = Print(
    "window-a4-A", 1.0030, 0.9980, 0.03, Curl(0.4, 0.955, 110.0, 182.0), ink_reflectance=0.045
)
PRINT_TURNED = Print(
    "window-a4-landscape-B", 0.9985, 1.0022, 0.04, Curl(0.35, 3.757, 100.0, 182.0)
)
PRINT_LETTER = Print(
    "window-letter-A", 1.0041, 1.0008, 0.025, Curl(0.3, 2.2, 110.0, 176.0), ink_reflectance=0.05
)
PRINT_CARD = Print(
    "card-50-B", 1.0024, 0.9991, 0.03, Curl(0.06, 0.7, 0.0, 25.0, True), ink_reflectance=0.045
)
PRINT_BOARD = Print("board-a4-A", 1.0030, 0.9980, 0.03, Curl(0.15, 0.955, 110.0, 182.0))


_FLANGE_PHOTOS = (("mill/flange-front", ""), ("mill/flange-left", " from the left"))


@dataclass(frozen=True)
class Sample:
    """One sample photo: its folder, its scene and how that is staged for the ray tracer."""

    folder: str
    scene: Scene
    staging: Staging


def _read_bars(printed: Print) -> PrintEntry:
    """What a person reads from the bars with a caliper: to 0.05 mm."""
    read = [round(150 * s / 0.05) * 0.05 for s in (printed.scale_x, printed.scale_y)]
    return PrintEntry(prints_of(printed.sheet)[0], round(read[0], 2), round(read[1], 2))


def _sample(
    path: str,
    handset: Handset,
    printed: Print,
    pose: Pose,
    *,
    light: Light,
    staging: Staging,
    dressed: Sequence[Part] = (),
) -> Sample:
    folder, name = path.split("/")
    distance = float(pose.tz)
    scene = Scene(
        name,
        printed,
        tuple(dressed),
        handset.focused(distance, staging.seed),
        pose,
        light,
        handset.phone,
        0.16,
        staging.seed,
        stated_print=_read_bars(printed) if printed.sheet else None,
    )
    return Sample(folder, scene, replace(staging, focus_mm=distance))


def _pointed(
    sample: Sample,
    planes: Sequence[tuple[str, float]],
    features: Sequence[Named],
    asked: Sequence[Asked],
) -> Sample:
    """The sample with what a user points at (name, plane, height, shape) and asks for."""
    scene = sample.scene
    pointed = tuple(
        _pointed_at(scene, name, plane, height, shape, number)
        for number, (name, plane, height, shape) in enumerate(features)
    )
    entries = [MeasurementEntry(name, kind, tuple(of.items())) for name, kind, of in asked]
    shapes = {feature.entry.name: feature.shape for feature in pointed}
    scene = replace(
        scene,
        features=pointed,
        measurements=tuple(true_measurement(entry, shapes) for entry in entries),
        stated_planes=tuple(PlaneEntry(name, round(height, 1), 0.1) for name, height in planes),
    )
    return replace(sample, scene=scene)


def _pointed_at(
    scene: Scene, name: str, plane: str, height: float, shape: Shape, number: int
) -> PointedFeature:
    """A feature with its clicks; a straight edge is asked for as far as the clicks reach."""
    clicked = clicks(scene, shape, height, number)
    if isinstance(shape, Edge):
        shape = between_clicks(scene, shape, height, clicked)
    entry = FeatureEntry(name, _kind(shape), scene.name, plane, clicked)
    return PointedFeature(entry, shape)


def _kind(shape: Shape) -> str:
    return {Circle: "circle", Edge: "edge", Curve: "curve"}[type(shape)]


def samples() -> tuple[Sample, ...]:
    """Every sample photo: the parts first, then the calibration board."""
    on_sheets = (_cover(), _bracket_and_guard(), _disc_and_stand(), _shim())
    return (*_flanges(), *on_sheets, _pulley_and_guard(), *_boards())


def _flanges() -> tuple[Sample, Sample]:
    flange = parts.flange()
    loose = ((parts.nut((-128.0, 60.0)), "milled steel"), (parts.washer((130.0, -30.0)), "brass"))
    staging = Staging((("flange", "cast aluminium", "cast aluminium"),), loose, seed=3)
    light = Light((-0.5, 0.45, 1.0), 0.11, 0.55)
    poses = (
        looking_at((0.0, 0.0), 292.0, 20.0, -80.0, 3.0),
        looking_at((1.0, 2.0), 296.0, 24.0, 165.0, -4.0),
    )
    plane, top = "flange top", flange.thickness_mm
    made = []
    for (name, suffix), pose in zip(_FLANGE_PHOTOS, poses, strict=True):
        circles: list[Named] = [
            (f"{hole.name}{suffix}", plane, top, parts.rim(flange, hole.name))
            for hole in flange.holes
        ]
        sample = _sample(
            name, PIPPIN, PRINT_A4, pose, light=light, staging=staging, dressed=[flange]
        )
        made.append(_pointed(sample, [(plane, top)], circles, _of_flange(suffix)))
    return made[0], made[1]


def _of_flange(suffix: str) -> list[Asked]:
    """The same questions to each of its two photos, told apart by a suffix."""
    bore, *holes = (f"{name}{suffix}" for name in ("bore", *(f"hole {k}" for k in (1, 2, 3, 4))))
    return [
        (f"bolt circle{suffix}", "bolt_circle", {"holes": tuple(holes)}),
        (bore, "diameter", {"circle": (bore,)}),
        (holes[0], "diameter", {"circle": (holes[0],)}),
    ]


def _cover() -> Sample:
    cover = parts.cover()
    staging = Staging(
        (("cover", "ochre paint", "milled steel"),),
        ((parts.nut((-150.0, 20.0)), "brass"),),
        seed=5,
    )
    light = Light((0.6, 0.5, 1.0), 0.09, 0.6)
    pose = looking_at((-2.0, 0.0), 270.0, 17.0, 30.0, -93.0)
    bore = cover.hole("bore")
    neck_mm = cover.thickness_mm - bore.chamfer_mm
    holes = tuple(f"hole {k}" for k in range(1, 7))
    features: list[Named] = [
        *((h, "cover top", cover.thickness_mm, parts.rim(cover, h)) for h in holes),
        ("chamfer rim", "cover top", cover.thickness_mm, parts.rim(cover, "bore")),
        ("bore", "below chamfer", neck_mm, Circle(np.array(bore.centre_mm), bore.radius_mm)),
    ]
    asked: list[Asked] = [
        ("bolt circle", "bolt_circle", {"holes": holes}),
        ("bore", "diameter", {"circle": ("bore",)}),
        ("chamfer rim", "diameter", {"circle": ("chamfer rim",)}),
        ("hole 1", "diameter", {"circle": ("hole 1",)}),
    ]
    sample = _sample(
        "cover/bearing-cover", PRESS, PRINT_A4, pose, light=light, staging=staging, dressed=[cover]
    )
    planes = [("cover top", cover.thickness_mm), ("below chamfer", neck_mm)]
    return _pointed(sample, planes, features, asked)


def _bracket_and_guard() -> Sample:
    bracket, guard = parts.bracket(), parts.guard()
    staging = Staging(
        (("bracket", "milled steel", "cut edge"), ("guard", "blue paint", "blue paint")),
        ((parts.washer((132.0, 70.0)), "milled steel"),),
        seed=8,
    )
    light = Light((-0.4, 0.7, 1.0), 0.1, 0.55)
    pose = looking_at((0.0, 0.0), 290.0, 16.0, -120.0, 5.0)
    plane, top = "plates top", bracket.thickness_mm
    features: list[Named] = [
        ("bracket edge", plane, top, parts.side(bracket, 2)),
        ("guard edge", plane, top, parts.side(guard, 0)),
        ("guard flank", plane, top, parts.side(guard, 3)),
        *((f"hole {k}", plane, top, parts.rim(bracket, f"hole {k}")) for k in (1, 2)),
    ]
    asked: list[Asked] = [
        ("gap", "gap", {"a": ("bracket edge",), "b": ("guard edge",)}),
        ("flank angle", "angle", {"edge_a": ("bracket edge",), "edge_b": ("guard flank",)}),
        ("hole spacing", "distance", {"a": ("hole 1",), "b": ("hole 2",)}),
        ("hole 1", "diameter", {"circle": ("hole 1",)}),
    ]
    name, dressed = "guard/bracket-and-guard", [bracket, guard]
    sample = _sample(name, PIPPIN, PRINT_A4, pose, light=light, staging=staging, dressed=dressed)
    return _pointed(sample, [(plane, top)], features, asked)


def _disc_and_stand() -> Sample:
    disc, stand = parts.drive_disc(), parts.stand()
    staging = Staging(
        (("drive disc", "black rubber", "black rubber"), ("stand", "milled steel", "cut edge")),
        ((parts.nut((175.0, -40.0), 17.0), "milled steel"),),
        Shade((-325.0, 185.0, 330.0), 150.0, 25.0),
        seed=11,
    )
    light = Light((-0.55, 0.3, 1.0), 0.07, 0.62)
    pose = looking_at((-12.0, -4.0), 258.0, 19.0, -150.0, 2.0)
    plane, top = "disc top", disc.thickness_mm
    features: list[Named] = [
        ("disc rim", plane, top, parts.arc(disc.hole("bore").centre_mm, 41.1, (-55.0, 50.0))),
        ("stand edge", plane, top, parts.side(stand, 3)),
        *((f"hole {k}", plane, top, parts.rim(stand, f"hole {k}")) for k in (1, 2, 3)),
    ]
    asked: list[Asked] = [
        ("running gap", "gap", {"a": ("disc rim",), "b": ("stand edge",)}),
        ("hole spacing", "distance", {"a": ("hole 1",), "b": ("hole 3",)}),
        ("hole 2", "diameter", {"circle": ("hole 2",)}),
    ]
    name, dressed = "stand/disc-and-stand", [disc, stand]
    sample = _sample(
        name, PRESS, PRINT_TURNED, pose, light=light, staging=staging, dressed=dressed
    )
    return _pointed(sample, [(plane, top)], features, asked)


def _shim() -> Sample:
    shim = parts.shim()
    staging = Staging(
        (("shim", "brass", "cut edge"),),
        ((parts.washer((-128.0, 30.0)), "milled steel"),),
        seed=14,
    )
    light = Light((0.5, -0.4, 1.0), 0.12, 0.5)
    pose = looking_at((0.0, 0.0), 316.0, 3.0, 70.0, -2.0)
    plane, top = "shim top", shim.thickness_mm
    features: list[Named] = [
        ("slot left", plane, top, Edge(shim.outline.edge(1))),
        ("slot right", plane, top, Edge(shim.outline.edge(3))),
        *((f"hole {k}", plane, top, parts.rim(shim, f"hole {k}")) for k in (1, 2, 3)),
    ]
    asked: list[Asked] = [
        ("slot width", "gap", {"a": ("slot left",), "b": ("slot right",)}),
        ("hole spacing", "distance", {"a": ("hole 1",), "b": ("hole 3",)}),
        ("hole 2", "diameter", {"circle": ("hole 2",)}),
    ]
    sample = _sample(
        "shim/shim", PERRY, PRINT_LETTER, pose, light=light, staging=staging, dressed=[shim]
    )
    return _pointed(sample, [(plane, top)], features, asked)


def _pulley_and_guard() -> Sample:
    """Up on the frame, where no sheet goes: a card stuck on the guard beside the gap."""
    pulley, guard, frame = parts.pulley(), parts.belt_guard(), parts.frame_plate()
    staging = Staging(
        (
            ("pulley", "cast aluminium", "cast aluminium"),
            ("belt guard", "blue paint", "blue paint"),
            ("frame", "ochre paint", "ochre paint"),
        ),
        seed=31,
    )
    pose = looking_at((14.0, 2.0), 290.0, 14.0, -60.0, 3.0)
    plane, top = "guard face", guard.thickness_mm
    features: list[Named] = [
        ("pulley rim", plane, top, Circle(np.array([-38.0, 8.0]), 38.12)),
        ("guard edge", plane, top, parts.side(guard, 3)),
    ]
    asked: list[Asked] = [
        ("gap", "gap", {"a": ("pulley rim",), "b": ("guard edge",)}),
        ("pulley", "diameter", {"circle": ("pulley rim",)}),
    ]
    sample = _sample(
        "frame/pulley-and-guard",
        PIPPIN,
        Print(""),
        pose,
        light=Light((-0.45, 0.5, 1.0), 0.1, 0.5),
        staging=staging,
        dressed=[guard, pulley, frame],
    )
    sample = _pointed(sample, [(plane, top)], features, asked)
    card = PlacedCard(PRINT_CARD, (51.0, 4.0, top + 0.13), (0.0, 0.0, 0.11))
    stated = PlaneEntry(plane, -0.1, 0.1, on=PRINT_CARD.sheet, depth_mm=20.0)
    scene = replace(
        sample.scene,
        cards=(card,),
        stated_planes=(stated,),
        stated_print=_read_bars(PRINT_CARD),
    )
    return replace(sample, scene=scene)


def _boards() -> tuple[Sample, ...]:
    """The phone of the flange photos over the calibration board, from six sides."""
    views = [
        (0.0, 0.0, 292.0, 4.0, 0.0, 1.0),
        (0.0, -6.0, 300.0, 28.0, -90.0, -3.0),
        (0.0, 6.0, 300.0, 28.0, 90.0, 4.0),
        (6.0, 0.0, 304.0, 26.0, 0.0, -2.0),
        (-6.0, 0.0, 304.0, 26.0, 180.0, 6.0),
        (0.0, 0.0, 296.0, 32.0, 45.0, 182.0),
    ]
    light = Light((-0.5, 0.5, 1.0), 0.11, 0.5)
    return tuple(
        _sample(
            f"boards/board-{k + 1}",
            PIPPIN,
            PRINT_BOARD,
            looking_at((x, y), *numbers),
            light=light,
            staging=Staging((), seed=20 + k),
        )
        for k, (x, y, *numbers) in enumerate(views)
    )
