"""A bench without a sheet: a thing of known size, and a shim with two holes beside it."""

import numpy as np

from photomeasure.synthetic.framing import pose_at
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.scene import Hole, Light, Part, Phone, Print, Scene

THICK_MM = 0.76  # of an ID-1 card, ISO/IEC 7810 (from memory); the plate is as thick
HOLES = (("left", (-35.0, -40.0)), ("right", (40.0, -36.0)))


def scene(thing: Part, tilt_deg: float = 18.0, distance_mm: float = 330.0) -> Scene:
    """A thing of known size above, a shim with two holes below, on a bench without a sheet."""
    width, height = 1512, 2016
    lens = Lens(1500.0, 758.0, 1003.0, (width, height), k1=0.02, k2=-0.02)
    tilt, lean = np.radians([tilt_deg, 250.0])
    forward = -np.array([np.sin(tilt) * np.cos(lean), np.sin(tilt) * np.sin(lean), np.cos(tilt)])
    right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
    right /= np.linalg.norm(right)
    turn = np.vstack([right, np.cross(forward, right), forward])
    holes = tuple(Hole(name, centre, 5.0) for name, centre in HOLES)
    shim = Part(
        "shim",
        rounded_rectangle(120, 50, 4, (0.0, -42.0)),
        THICK_MM,
        holes,
        face_reflectance=0.6,
        wall_reflectance=0.3,
    )
    return Scene(
        name="shim on the bench",
        print=Print(sheet=""),
        parts=(thing, shim),
        lens=lens,
        pose=pose_at(turn, np.zeros(3), distance_mm),
        light=Light(towards=(-0.3, 0.2, 1.0)),
        phone=Phone(noise=0.006, focal_length_35mm=26),
        table_reflectance=0.08,
    )


def rectangle(width, height, radius, centre=(0.0, 45.0)):
    outline = rounded_rectangle(width, height, radius, centre)
    return Part("thing", outline, THICK_MM, (), 0.0, 0.75, 0.4)


def corners(taken, width, height, centre=(0.0, 45.0)):
    """Where somebody clicks, in turn, for the corners of a rectangle."""
    places = np.array(centre) + np.array([(-1, 1), (1, 1), (1, -1), (-1, -1)]) * [
        width / 2,
        height / 2,
    ]
    return tuple(
        (round(x), round(y)) for x, y in taken.image_from_plane(places, THICK_MM).tolist()
    )
