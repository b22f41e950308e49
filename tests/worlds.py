"""A mill's flange plate and a guard on a sheet: scenes with known truth, and views without pixels.

`flange_scene` is what is rendered; `looking_down` and `sighting` make observations of a sheet
by the camera model alone, for tests of everything that sees no pixels.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.priors import LensPrior, lens_from_exif
from photomeasure.estimation.views import estimate_views
from photomeasure.geometry.camera import image_from_space
from photomeasure.records.job import (
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
)
from photomeasure.records.photo import ExifFacts, Photo
from photomeasure.records.view import MarkerObservation, View
from photomeasure.synthetic.framing import framed_pose, pose_at
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.scene import Hole, Light, Part, Phone, Print, Scene
from photomeasure.synthetic.taking import photo_of, take
from photomeasure.vision.sheets import sheet

BOLTS = ("bolt 1", "bolt 2", "bolt 3", "bolt 4")
BOLT_CIRCLE_MM, BORE_MM, BOLT_MM = 50.0, 24.0, 8.0
GAP_MM, THICKNESS_MM = 7.0, 4.0
TOP = "top"


def flange() -> Part:
    """A plate 90 x 80 mm with a bore and four bolt holes; the hole "bevelled" has a chamfer."""
    centre = np.array([0.0, -30.0])
    turns = np.radians([45, 135, 225, 315])
    bolts = centre + BOLT_CIRCLE_MM / 2 * np.column_stack([np.cos(turns), np.sin(turns)])
    holes = [Hole("bore", (0.0, -30.0), BORE_MM / 2)]
    places = zip(BOLTS, bolts.tolist(), strict=True)
    holes += [Hole(name, (x, y), BOLT_MM / 2) for name, (x, y) in places]
    holes.append(Hole("bevelled", (-38.0, -30.0), 2.5, 0.8))
    return Part(
        "flange",
        rounded_rectangle(90, 80, 5, (0.0, -30.0)),
        THICKNESS_MM,
        tuple(holes),
        face_reflectance=0.25,
        wall_reflectance=0.12,
    )


def guard() -> Part:
    """A dark bar that faces the flange's upper edge across GAP_MM."""
    outline = rounded_rectangle(90, 30, 3, (0.0, 10.0 + GAP_MM + 15.0))
    return Part("guard", outline, THICKNESS_MM, (), 0.0, 0.12, 0.1)


def flange_scene(scale: float = 0.5, *, seed: int = 5, tilt_deg: float = 25.0) -> Scene:
    """The set-up seen by a phone of 12 megapixels times scale²."""
    width, height = round(3024 * scale), round(4032 * scale)
    middle = ((width - 1) / 2 + 9 * scale, (height - 1) / 2 - 14 * scale)
    lens = Lens(3000.0 * scale, *middle, (width, height), k1=0.03, k2=-0.04, p1=3e-4, s1=1e-4)
    design = sheet("window-a4-A")
    pose = framed_pose(np.random.default_rng(seed), design, lens, float(np.radians(tilt_deg)))
    return Scene(
        name="flange and guard",
        print=Print(scale_x=1.003, scale_y=0.998, growth_mm=0.03),
        parts=(flange(), guard()),
        lens=lens,
        pose=pose,
        light=Light(towards=(-0.5, -0.4, 1.0)),
        phone=Phone(noise=0.006, focal_length_35mm=26, orientation=1),
        seed=seed,
    )


def clicks(scene: Scene, points_mm: np.ndarray, height_mm: float = THICKNESS_MM) -> tuple:
    """Where somebody with a steady hand clicks for points of a plane."""
    px = scene.image_from_plane(np.atleast_2d(points_mm).astype(float), height_mm)
    return tuple((float(x), float(y)) for x, y in np.round(px, 1))


def rim(hole: Hole, count: int, start_deg: float = 20.0) -> np.ndarray:
    """Places on a hole's upper rim."""
    turns = np.radians(start_deg) + 2 * np.pi * np.arange(count) / count
    around = np.column_stack([np.cos(turns), np.sin(turns)])
    return np.asarray(hole.centre_mm) + hole.rim_radius_mm * around


def pointed(scene: Scene) -> tuple[FeatureEntry, ...]:
    """Bore, bolts and the two edges of the gap."""
    plate, bar = scene.parts
    bore = FeatureEntry("bore", "circle", "photo", TOP, clicks(scene, rim(plate.hole("bore"), 3)))
    bolts = [
        FeatureEntry(n, "circle", "photo", TOP, clicks(scene, np.array(plate.hole(n).centre_mm)))
        for n in BOLTS
    ]
    upper = FeatureEntry("upper", "edge", "photo", TOP, clicks(scene, plate.outline.edge(4)))
    lower = FeatureEntry("lower", "edge", "photo", TOP, clicks(scene, bar.outline.edge(0)))
    return (bore, *bolts, upper, lower)


def flange_job(scene: Scene, **changes: object) -> Job:
    """The job of one photo with a gap, a bore and a bolt circle."""
    job = Job(
        title="Motor flange on the mill",
        photos=(PhotoEntry("photo", "photo.jpg"),),
        features=pointed(scene),
        measurements=(
            MeasurementEntry("slot", "gap", (("a", ("upper",)), ("b", ("lower",)))),
            MeasurementEntry("bore", "diameter", (("circle", ("bore",)),)),
            MeasurementEntry("bolts", "bolt_circle", (("holes", BOLTS),)),
        ),
        planes=(PlaneEntry(TOP, THICKNESS_MM, 0.1),),
        prints=(PrintEntry("window-a4-A", 150 * 1.003, 150 * 0.998, 0.1),),
    )
    return replace(job, **changes)


@cache
def jpeg_of(scale: float) -> bytes:
    """The photo of the flange scene, rendered once a run."""
    return take(flange_scene(scale))


@cache
def photo(scale: float = 0.5) -> Photo:
    """The same as pixels."""
    return photo_of(flange_scene(scale), jpeg_of(scale))


# Views without pixels -----------------------------------------------------------------

SIZE = (3024, 4032)
FACTS = ExifFacts(make="Orchard", model="Pippin 3", focal_length_35mm=26)
CAMERA = np.array([3010.0, 1518.0, 2009.0, 0.02, -0.03, 2e-4, -3e-4, 0.01])


def looking_down(
    tilt_deg: float, lean_deg: float = 70.0, distance_mm: float = 330.0
) -> np.ndarray:
    """(14,) CAMERA tilted by so much towards a direction, the sheet's middle in its middle."""
    tilt, lean = np.radians([tilt_deg, lean_deg])
    forward = -np.array([np.sin(tilt) * np.cos(lean), np.sin(tilt) * np.sin(lean), np.cos(tilt)])
    right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
    right /= np.linalg.norm(right)
    turn = np.vstack([right, np.cross(forward, right), forward])
    return np.concatenate([CAMERA, pose_at(turn, np.zeros(3), distance_mm).numbers])


def sighting(
    view: np.ndarray,
    rng: np.random.Generator | None = None,
    *,
    name: str = "photo",
    identity: str = "window-a4-A",
    noise_px: float = 0.03,
    scale: tuple[float, float] = (1.0, 1.0),
    lens: str = "lens",
    height_mm: np.ndarray | float = 0.0,
) -> Sighting:
    """What a detector with this noise sees of a sheet with this print scale and paper."""
    design = sheet(identity).saddles_mm
    places = np.column_stack([design * scale, np.broadcast_to(height_mm, len(design))])
    px = image_from_space(places, view)
    if rng is not None:
        px = px + rng.normal(0, noise_px, px.shape)
    seen = MarkerObservation(name, identity, design, px, noise_px, len(design), 60.0)
    return Sighting(seen, SIZE, 1, lens)


def phone_prior() -> LensPrior:
    """What EXIF alone says of the phone."""
    return lens_from_exif(FACTS, SIZE)


def printer(u: float = 0.003) -> ScalePrior:
    """A printer whose scale is one within a standard uncertainty."""
    return ScalePrior(np.ones(2), np.full(2, u))


def estimated(photo: Photo, observation: MarkerObservation) -> View:
    """The view of one sheet in one photo, by what its EXIF says of the lens."""
    lens = lens_from_exif(photo.exif, photo.size_px)
    seen = Sighting(observation, photo.size_px, photo.exif.orientation, "lens")
    scales = {observation.sheet: printer()}
    return estimate_views([seen], {"lens": lens}, scales)[1].views[0]
