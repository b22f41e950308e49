"""Do stated intervals hold the truth when corners and edges are drawn instead of seen?

Everything from corners to numbers is the program's own. Corners and edges come from the true
scene with errors drawn from what is stated of them, so thousands of scenes take minutes, and
what is found missing is missing in the estimate, not in the picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.benchmark.cases import Case, Shot, answered, job_about, refused, scene_of
from photomeasure.errors import PhotomeasureError
from photomeasure.estimation.features import Height, place_features
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import lens_of
from photomeasure.estimation.views import estimate_views
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.photo import ExifFacts
from photomeasure.records.report import Measurement
from photomeasure.records.shapes import Circle, Edge, Shape
from photomeasure.records.view import MarkerObservation, Solution
from photomeasure.synthetic.pointing import PHOTO
from photomeasure.synthetic.scene import PointedFeature, Scene, TrueMeasurement
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]

# Standard uncertainties in px between which each scene's own are drawn, evenly in the
# logarithm: about what the located features of rendered photos state.
CORNER_PX = (0.01, 0.02)
NOISE_PX = (0.04, 0.4)
SHIFT_PX = (0.02, 0.1)
TONE_PX = (0.003, 0.03)
DRAWN = "without pixels"
_POINTS = (40, 240)
_PX_A_POINT = 2.5
_ENDS_SHARE = 0.04  # as locating does, an edge is looked at between its corners
_STEP_MM = 0.05


@dataclass(frozen=True, eq=False)
class _Rim:
    """Points (N, 2) of a true rim in mm, unit vectors along it and away from the metal."""

    points_mm: Array
    along: Array
    outwards: Array


def measure_without_pixels(shot: Shot) -> Case:
    """One quantity of a scene, a different one from seed to seed."""
    scene = scene_of(shot)
    asked = scene.measurements[shot.seed % len(scene.measurements)]
    rng = np.random.default_rng([shot.seed, 6])
    try:
        solution = solve(scene, _observation(rng, scene))
        case = answered(shot, scene, asked, *_evaluated(rng, scene, solution, asked))
    except PhotomeasureError as error:
        case = refused(shot, scene, asked, error)
    return replace(case, way=DRAWN)


def solve(scene: Scene, observation: MarkerObservation) -> Solution:
    """The view, from corners and what the scene's user states. Raises PhotomeasureError."""
    phone, size, stated = scene.phone, scene.lens.size_px, scene.stated_print
    if stated is None:
        raise ValueError(f"The scene {scene.name} states no bar readings.")
    exif = ExifFacts(
        make=phone.make,
        model=phone.model,
        focal_length_mm=phone.focal_length_mm,
        focal_length_35mm=phone.focal_length_35mm,
        orientation=phone.orientation,
    )
    lens = lens_of(observation.photo, exif, size, None, {})
    lengths = np.array([bar.length_mm for bar in sheet(stated.sheet).bars])
    read = np.array([stated.bar_x_mm, stated.bar_y_mm])
    scale = ScalePrior(read / lengths, stated.plus_minus_mm / 2 / lengths)
    sighting = Sighting(observation, size, lens.orientation, lens.key)
    _, solution = estimate_views([sighting], {lens.key: lens.prior}, {stated.sheet: scale})
    return solution


def _observation(rng: np.random.Generator, scene: Scene) -> MarkerObservation:
    """All corners, with noise of a size that is known."""
    design = sheet(scene.print.sheet)
    u_px = _between(rng, CORNER_PX)
    seen = scene.image_from_sheet(design.saddles_mm)
    seen = seen + rng.normal(0, u_px, seen.shape)
    return MarkerObservation(
        photo=PHOTO,
        sheet=design.identity,
        saddles_mm=design.saddles_mm,
        saddles_px=seen,
        u_px=u_px,
        expected=len(seen),
        square_px=design.square_mm * scene.lens.f_px / float(scene.pose.tz),
    )


def _evaluated(
    rng: np.random.Generator, scene: Scene, solution: Solution, asked: TrueMeasurement
) -> tuple[tuple[Measurement, ...], Features]:
    job = job_about(scene, [asked], with_record=False)
    names = {entry.name for entry in job.features}
    u_tone_px = _between(rng, TONE_PX)
    tone_px = float(rng.normal(0, u_tone_px))
    seen = [
        _seen(rng, scene, pointed, tone_px, u_tone_px)
        for pointed in scene.features
        if pointed.entry.name in names
    ]
    heights = {p.name: Height(p.height_mm, p.plus_minus_mm / 2) for p in scene.stated_planes}
    features = place_features(seen, solution, heights)
    return evaluate_measurements(job, features), features


def _seen(
    rng: np.random.Generator,
    scene: Scene,
    pointed: PointedFeature,
    tone_px: float,
    u_tone_px: float,
) -> ImageFeature:
    """A feature as if located: its true rim, moved by errors of the stated sizes."""
    entry = pointed.entry
    u_noise_px, u_shift_px = _between(rng, NOISE_PX), _between(rng, SHIFT_PX)
    points_px, normals_px = _rim_px(scene, pointed.shape)
    shift = tone_px + rng.normal(0, u_shift_px) + rng.normal(0, u_noise_px, (len(points_px), 1))
    ends = [entry.clicks_px[0], entry.clicks_px[-1]] if entry.kind == "edge" else []
    return ImageFeature(
        name=entry.name,
        kind=entry.kind,
        photo=entry.photo,
        plane=entry.plane,
        points_px=points_px + shift * normals_px,
        normals_px=normals_px,
        u_noise_px=u_noise_px,
        u_shift_px=u_shift_px,
        u_tone_px=u_tone_px,
        spread_px=u_noise_px,
        closed=entry.kind == "circle",
        extent_px=np.array(ends).reshape(-1, 2),
    )


def _rim_px(scene: Scene, shape: Shape) -> tuple[Array, Array]:
    """(N, 2) points of a true rim on the upper face in px, and normals towards the paper."""
    top = scene.parts[0].thickness_mm
    coarse = scene.image_from_plane(_rim(shape, _POINTS[0]).points_mm, top)
    length = float(np.linalg.norm(np.diff(coarse, axis=0), axis=1).sum())
    rim = _rim(shape, int(np.clip(length / _PX_A_POINT, *_POINTS)))
    points = scene.image_from_plane(rim.points_mm, top)
    tangents = scene.image_from_plane(rim.points_mm + _STEP_MM * rim.along, top) - points
    ahead = scene.image_from_plane(rim.points_mm + _STEP_MM * rim.outwards, top) - points
    normals = np.column_stack([tangents[:, 1], -tangents[:, 0]])
    normals *= np.sign(np.sum(normals * ahead, axis=1))[:, None]
    return points, normals / np.linalg.norm(normals, axis=1)[:, None]


def _rim(shape: Shape, count: int) -> _Rim:
    """Points all round a hole, or along an edge whose part lies on its left."""
    if isinstance(shape, Circle):
        turns = 2 * np.pi * np.arange(count) / count
        arms = np.column_stack([np.cos(turns), np.sin(turns)])
        along = np.column_stack([-arms[:, 1], arms[:, 0]])
        return _Rim(shape.centre + shape.radius * arms, along, -arms)
    if not isinstance(shape, Edge):
        raise TypeError(f"{shape!r} is neither a hole nor an edge.")
    start, end = shape.ends
    share = np.linspace(_ENDS_SHARE, 1 - _ENDS_SHARE, count)[:, None]
    along = np.tile((end - start) / np.linalg.norm(end - start), (count, 1))
    outwards = np.column_stack([along[:, 1], -along[:, 0]])
    return _Rim(start + share * (end - start), along, outwards)


def _between(rng: np.random.Generator, limits: tuple[float, float]) -> float:
    low, high = np.log(limits)
    return float(np.exp(rng.uniform(low, high)))
