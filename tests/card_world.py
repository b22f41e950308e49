"""Cards in a scene with known truth: one flat on a face beside a gap, one leaning beside it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from scipy.spatial.transform import Rotation

from photomeasure.records.job import (
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
)
from photomeasure.records.photo import Photo
from photomeasure.synthetic.framing import looking, pose_at
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.scene import Curl, Light, Part, Phone, PlacedCard, Print, Scene
from photomeasure.synthetic.taking import photo_of

FLAT, LEANING = "card-50-C", "card-25-B"
GAP_MM, THICKNESS_MM = 9.0, 12.0
SCALES = (1.003, 0.998)
FACE = "face"


def _card(identity: str, middle: tuple[float, float, float], turn: np.ndarray) -> PlacedCard:
    bow = Curl(0.05, 0.6, 0.0, 25.0, both_sides=True)
    printed = Print(identity, *SCALES, growth_mm=0.03, curl=bow)
    return PlacedCard(printed, middle, tuple(float(v) for v in turn))


@cache
def scene() -> Scene:
    """A bracket with the flat card on it, a guard across the gap, the other card on a slope."""
    parts = (
        Part("bracket", rounded_rectangle(90, 70, 3, (0.0, -35.0)), THICKNESS_MM, (), 0.0, 0.4),
        Part(
            "guard",
            rounded_rectangle(90, 30, 3, (0.0, GAP_MM + 15.0)),
            THICKNESS_MM,
            (),
            0.0,
            0.15,
        ),
    )
    slope = Rotation.from_euler("xz", [35, 20], degrees=True).as_rotvec()
    tilt, lean = np.radians([18.0, 250.0])
    towards = np.array([np.sin(tilt) * np.cos(lean), np.sin(tilt) * np.sin(lean), np.cos(tilt)])
    lens = Lens(1520.0, 760.0, 1000.0, (1512, 2016), k1=0.02, k2=-0.03, p1=2e-4)
    return Scene(
        name="gap beside a card",
        print=Print(sheet=""),
        parts=parts,
        lens=lens,
        pose=pose_at(looking(-towards, 0.1), np.array([0.0, -10.0, THICKNESS_MM]), 185.0),
        light=Light(towards=(-0.4, 0.3, 1.0)),
        phone=Phone(noise=0.006, focal_length_35mm=26),
        seed=4,
        cards=(
            _card(FLAT, (-10.0, -36.0, THICKNESS_MM), np.array([0.0, 0.0, 0.3])),
            _card(LEANING, (62.0, 45.0, 20.0), slope),
        ),
    )


@cache
def photo() -> Photo:
    """The scene as the program reads it."""
    return replace(photo_of(scene()), name="photo")


def _clicks(side: np.ndarray) -> tuple[tuple[float, float], ...]:
    start, end = side
    ends = np.array([start + 0.1 * (end - start), start + 0.9 * (end - start)])
    px = scene().image_from_plane(ends, THICKNESS_MM)
    return tuple((float(x), float(y)) for x, y in np.round(px, 1))


def job(plane: str = FACE, **changes: object) -> Job:
    """The gap in the plane of the flat card."""
    bracket, guard = scene().parts
    said = Job(
        title="Guard and bracket",
        photos=(PhotoEntry("photo", "photo.jpg"),),
        features=(
            FeatureEntry("bracket", "edge", "photo", plane, _clicks(bracket.outline.edge(4))),
            FeatureEntry("guard", "edge", "photo", plane, _clicks(guard.outline.edge(0))),
        ),
        measurements=(MeasurementEntry("gap", "gap", (("a", ("bracket",)), ("b", ("guard",)))),),
        planes=(PlaneEntry(FACE, 0.0, 0.1, on=FLAT, depth_mm=THICKNESS_MM),),
        prints=(PrintEntry("cards-a4-A", 150 * SCALES[0], 150 * SCALES[1], 0.1),),
    )
    return replace(said, **changes)
