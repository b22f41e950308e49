"""What can go wrong with a photo in a garage, how badly, and what would it look like?

A catalogue of named troubles. Each turns a random scene into a worse one, whose truth stays
exact; several can be laid on one scene. Clicks are drawn last, on the photo as it ends up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from photomeasure.registry import Registry
from photomeasure.synthetic import garage_camera, garage_light, garage_paper
from photomeasure.synthetic.pointing import point_at_gap, point_at_plate
from photomeasure.synthetic.random_scenes import TOP, random_scene
from photomeasure.synthetic.scene import Scene

Spoil = Callable[[np.random.Generator, Scene, float], Scene]
Trouble = tuple[str, int]
"""The name of an adversity and how bad it is: an index into its levels."""

MILD, BAD, EXTREME = range(3)


@dataclass(frozen=True)
class Adversity:
    """One way in which a garage photo goes wrong.

    levels : of `spoil`, mild, bad and extreme. meaning : of these numbers. faulty : whether
    the sheet or the file itself is at fault, so that even a mild case may be refused.
    """

    name: str
    meaning: str
    levels: tuple[float, float, float]
    spoil: Spoil
    faulty: bool = False


# Where the camera stands comes first: what follows is aimed at what it sees.
ADVERSITIES: Registry[Adversity] = Registry(
    "adversity",
    (
        Adversity("rim of a wide lens", "35 mm equivalent, mm", (26, 18, 13), garage_camera.rim),
        Adversity("digital zoom", "times", (1.5, 2, 4), garage_camera.zoom),
        Adversity(
            "cropped copy",
            "share of the side left",
            (0.85, 0.65, 0.45),
            garage_camera.crop,
            faulty=True,
        ),
        Adversity("chat copy", "long side, px", (2048, 1600, 1024), garage_camera.chat),
        Adversity("curled paper", "rise of the rim, mm", (1.5, 4, 10), garage_paper.curl),
        Adversity("wavy paper", "height of the ripples, mm", (0.3, 1, 3), garage_paper.ripple),
        Adversity("greasy sheet", "density of the stains", (0.2, 0.6, 1.5), garage_paper.grease),
        Adversity("torn sheet", "sides torn off", (0.5, 1, 2), garage_paper.tear),
        Adversity(
            "taped sheet", "one side moved by, mm", (0.15, 0.6, 2), garage_paper.tape, faulty=True
        ),
        Adversity("fit to page", "0.97; the last with no bar read", (0, 1, 2), garage_paper.fit),
        Adversity("uneven print", "y 1.5 % short; as above", (0, 1, 2), garage_paper.squeeze),
        Adversity("covered ring", "sides covered", (1, 2, 3), garage_light.cover),
        Adversity("shadow on ring", "share of light lost", (0.5, 0.75, 0.93), garage_light.shade),
        Adversity("lamination", "radiance of the reflection", (0.4, 2, 8), garage_light.laminate),
        Adversity("glare on steel", "radiance of the glare", (0.4, 1.5, 5), garage_light.shine),
        Adversity("black rubber", "reflectance", (0.05, 0.035, 0.025), garage_light.blacken),
        Adversity("hard lamp", "share of light lost", (0.6, 0.8, 0.95), garage_light.harden),
        Adversity("dim light", "noise, share of white", (0.04, 0.1, 0.25), garage_camera.dim),
        Adversity("motion blur", "length, px", (4, 10, 25), garage_camera.shake),
        Adversity("out of focus", "radius, px", (2, 5, 12), garage_camera.defocus),
        Adversity("strong JPEG", "quality", (60, 30, 12), garage_camera.squash),
    ),
)


def garage_scene(seed: int, troubles: Sequence[Trouble], kind: str = "plate") -> Scene:
    """A random scene with these troubles, always the same for the same words.

    kind : as of `random_scene`. Raises JobError for an unknown adversity.
    """
    scene = random_scene(seed, kind=kind)
    levels = {ADVERSITIES[name].name: level for name, level in troubles}
    for k, adversity in enumerate(ADVERSITIES):
        if adversity.name in levels:
            rng = np.random.default_rng([seed, k, 7])
            scene = adversity.spoil(rng, scene, adversity.levels[levels[adversity.name]])
    point = point_at_plate if kind == "plate" else point_at_gap
    features, measurements = point(np.random.default_rng([seed, 8]), scene, TOP)
    return replace(scene, features=features, measurements=measurements)
