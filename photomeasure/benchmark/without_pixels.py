"""Do stated intervals hold the truth when corners and edges are drawn instead of seen?

Everything from corners to numbers is the program's own. Corners and edges come from the true
scene with errors drawn from what is stated of them, so thousands of scenes take minutes, and
what is found missing is missing in the estimate, not in the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from photomeasure.benchmark.cases import Case, Shot, answered, job_about, refused, scene_of
from photomeasure.errors import PhotomeasureError
from photomeasure.estimation.features import CLICK_U_PX, LOCAL_SHARE, Height, place_features
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.lenses import lens_of
from photomeasure.estimation.views import estimate_views
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import FeatureEntry
from photomeasure.records.photo import ExifFacts
from photomeasure.records.report import Measurement
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube
from photomeasure.records.view import CameraRecord, MarkerObservation, Solution
from photomeasure.synthetic.pointing import PHOTO
from photomeasure.synthetic.scene import Phone, PointedFeature, Scene, TrueMeasurement
from photomeasure.vision.sheets import bars_of, prints_of, sheet

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
_CURVE_ROWS = 10  # that one stretch of a curve's smooth line follows


@dataclass(frozen=True, eq=False)
class _Rim:
    """Points (N, 2) of a true rim in mm, unit vectors along it and away from the metal."""

    points_mm: Array
    along: Array
    outwards: Array


def measure_without_pixels(shot: Shot) -> Case:
    """One quantity of a scene, a different one from seed to seed."""
    return draw_and_measure(shot, None)[0]


def draw_and_measure(shot: Shot, record: CameraRecord | None) -> tuple[Case, Solution | None]:
    """The same with the view that was found, None where it was refused."""
    scene = scene_of(shot)
    asked = scene.measurements[shot.seed % len(scene.measurements)]
    rng = np.random.default_rng([shot.seed, 6])
    try:
        solution = solve(scene, observed(rng, scene), record)
        case = answered(shot, scene, asked, *_evaluated(rng, scene, solution, asked))
    except PhotomeasureError as error:
        return replace(refused(shot, scene, asked, error), way=DRAWN), None
    return replace(case, way=DRAWN), solution


def exif_of(phone: Phone) -> ExifFacts:
    """What a phone writes into its files."""
    return ExifFacts(
        make=phone.make,
        model=phone.model,
        focal_length_mm=phone.focal_length_mm,
        focal_length_35mm=phone.focal_length_35mm,
        orientation=phone.orientation,
    )


def solve(
    scene: Scene, observation: MarkerObservation, record: CameraRecord | None = None
) -> Solution:
    """The view, from corners and what the scene's user states. Raises PhotomeasureError."""
    size, stated = scene.lens.size_px, scene.stated_print
    if stated is None:
        raise ValueError(f"The scene {scene.name} states no bar readings.")
    known = {} if record is None else {"record": record}
    lens = lens_of(observation.photo, exif_of(scene.phone), size, next(iter(known), None), known)
    lengths = np.array([bar.length_mm for bar in bars_of(stated.sheet)])
    read = np.array([stated.bar_x_mm, stated.bar_y_mm])
    scale = ScalePrior(read / lengths, stated.plus_minus_mm / 2 / lengths)
    sighting = Sighting(observation, size, lens.orientation, lens.key, stated.sheet)
    _, solution = estimate_views([sighting], {lens.key: lens.prior}, {stated.sheet: scale})
    return solution


def observed(rng: np.random.Generator, scene: Scene) -> MarkerObservation:
    """All corners of the sheet, or of the card where no sheet lies there, with known noise."""
    u_px = between(rng, CORNER_PX)
    if scene.print.sheet:
        design = sheet(scene.print.sheet)
        seen = scene.image_from_sheet(design.saddles_mm)
    else:
        card = scene.cards[0]
        design = sheet(card.print.sheet)
        seen = scene.image_from_space(card.space_from_card(design.saddles_mm))
    seen = seen + rng.normal(0, u_px, seen.shape)
    return MarkerObservation(
        photo=PHOTO,
        sheet=design.identity,
        saddles_mm=design.saddles_mm,
        saddles_px=seen,
        u_px=u_px,
        expected=len(seen),
        square_px=design.square_mm * scene.lens.f_px / float(scene.pose.tz),
        prints=prints_of(design.identity),
    )


def _evaluated(
    rng: np.random.Generator, scene: Scene, solution: Solution, asked: TrueMeasurement
) -> tuple[tuple[Measurement, ...], Features]:
    job = job_about(scene, [asked], with_record=False)
    names = {entry.name for entry in job.features}
    u_tone_px = between(rng, TONE_PX)
    tone_px = float(rng.normal(0, u_tone_px))
    top = scene.parts[0].thickness_mm
    seen = [
        seen_feature(rng, scene, pointed, top, (tone_px, u_tone_px))
        for pointed in scene.features
        if pointed.entry.name in names
    ]
    heights = {p.name: Height(p.height_mm, p.plus_minus_mm / 2) for p in scene.stated_planes}
    features = place_features(seen, solution, heights)
    return evaluate_measurements(job, features), features


def seen_feature(
    rng: np.random.Generator,
    scene: Scene,
    pointed: PointedFeature,
    height_mm: float,
    tone: tuple[float, float],
) -> ImageFeature:
    """A feature as if located: its true rim, moved by errors of the stated sizes.

    height_mm : the true one of its plane. tone : the error in px that all features of the
    photo share, and its standard uncertainty.
    """
    entry = pointed.entry
    tone_px, u_tone_px = tone
    u_noise_px, u_shift_px = between(rng, NOISE_PX), between(rng, SHIFT_PX)
    if isinstance(pointed.shape, Point | Row):
        return _seen_points(rng, scene, pointed, height_mm)
    points_px, normals_px = _rim_px(scene, pointed.shape, height_mm)
    common = tone_px + float(rng.normal(0, u_shift_px))
    moved = common + _noise_px(rng, entry.kind, u_noise_px, len(points_px))
    moved += _local_px(rng, entry.kind, LOCAL_SHARE * u_shift_px, len(points_px))
    points_px = points_px + moved[:, None] * normals_px
    return ImageFeature(
        name=entry.name,
        kind=entry.kind,
        photo=entry.photo,
        plane=entry.plane,
        points_px=points_px,
        normals_px=normals_px,
        u_noise_px=u_noise_px,
        u_shift_px=u_shift_px,
        u_tone_px=u_tone_px,
        spread_px=u_noise_px,
        closed=entry.kind == "circle",
        extent_px=np.array(_ends(entry)).reshape(-1, 2),
    )


def _ends(entry: FeatureEntry) -> Sequence[tuple[float, float]]:
    """The clicks that say how far an edge or a tube's sides reach."""
    clicks = entry.clicks_px
    return {"edge": [clicks[0], clicks[-1]], "tube": clicks}.get(entry.kind, [])


def _noise_px(rng: np.random.Generator, kind: str, u_px: float, count: int) -> Array:
    """(N,) noise from row to row; a curve follows a smooth line through its rows."""
    noise = rng.normal(0, u_px, count)
    return uniform_filter1d(noise, _CURVE_ROWS) if kind == "curve" else noise


def _local_px(rng: np.random.Generator, kind: str, u_px: float, count: int) -> Array:
    """(N,) what an edge is, where that differs from place to place, as placing has it.

    From end to end of an edge and of either side of a tube, at both ends and the middle of a
    curve, from side to side of a circle.
    """
    if kind == "circle":
        turns = 2 * np.pi * np.arange(count) / count
        x, y = rng.normal(0, u_px, 2)
        return np.asarray(x * np.cos(turns) + y * np.sin(turns))
    if kind == "tube":
        return np.concatenate([_local_px(rng, "edge", u_px, count // 2) for _ in range(2)])
    knots = rng.normal(0, u_px, 3 if kind == "curve" else 2)
    return np.interp(np.linspace(0, 1, count), np.linspace(0, 1, len(knots)), knots)


def _seen_points(
    rng: np.random.Generator, scene: Scene, pointed: PointedFeature, height_mm: float
) -> ImageFeature:
    """Points as if clicked, by the scatter that is stated of clicks."""
    entry, places = pointed.entry, pointed.shape.numbers.reshape(-1, 2)
    points_px = scene.image_from_plane(places, height_mm)
    return ImageFeature(
        name=entry.name,
        kind=entry.kind,
        photo=entry.photo,
        plane=entry.plane,
        points_px=points_px + rng.normal(0, CLICK_U_PX, points_px.shape),
        normals_px=np.zeros_like(points_px),
        u_noise_px=CLICK_U_PX,
        u_shift_px=0.0,
        spread_px=0.0,
    )


def _rim_px(scene: Scene, shape: Shape, top: float) -> tuple[Array, Array]:
    """(N, 2) points of a true rim on its plane in px, and normals towards the paper."""
    if isinstance(shape, Tube):
        return _silhouette_px(scene, shape, top)
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
    if isinstance(shape, Curve):
        return _arc_rim(shape, count)
    if not isinstance(shape, Edge):
        raise TypeError(f"{shape!r} has no rim.")
    start, end = shape.ends
    share = np.linspace(_ENDS_SHARE, 1 - _ENDS_SHARE, count)[:, None]
    along = np.tile((end - start) / np.linalg.norm(end - start), (count, 1))
    outwards = np.column_stack([along[:, 1], -along[:, 0]])
    return _Rim(start + share * (end - start), along, outwards)


def _arc_rim(shape: Curve, count: int) -> _Rim:
    """Points along a chain, the part on the left of its way."""
    chain = shape.points
    places = np.linspace(0, len(chain) - 1, max(count, 2 * _POINTS[0]))
    points = np.column_stack([np.interp(places, np.arange(len(chain)), c) for c in chain.T])
    along = np.gradient(points, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    return _Rim(points, along, np.column_stack([along[:, 1], -along[:, 0]]))


def _silhouette_px(scene: Scene, tube: Tube, height_mm: float) -> tuple[Array, Array]:
    """(N, 2) px of both silhouettes of a tube, and normals outwards.

    A point of the surface with the unit normal m is on it where the sight line lies in the
    surface: (eye − axis)·m = radius.
    """
    axis = np.column_stack([tube.axis, np.full(2, height_mm)])
    along = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
    to_eye = scene.pose.camera_mm - axis[0]
    to_eye -= (to_eye @ along) * along
    away = float(np.linalg.norm(to_eye))
    beside = np.cross(along, to_eye / away)
    cosine = tube.radius / away
    share = np.linspace(_ENDS_SHARE, 1 - _ENDS_SHARE, _POINTS[1] // 2)[:, None]
    points, normals = [], []
    for side in (1.0, -1.0):
        normal = cosine * to_eye / away + side * np.sqrt(1 - cosine**2) * beside
        line = axis[0] + share * (axis[1] - axis[0]) + tube.radius * normal
        here = scene.image_from_space(line)
        ahead = scene.image_from_space(line + _STEP_MM * normal) - here
        way = scene.image_from_space(line + _STEP_MM * along) - here
        across = np.column_stack([way[:, 1], -way[:, 0]])
        across *= np.sign(np.sum(across * ahead, axis=1))[:, None]
        points.append(here)
        normals.append(across / np.linalg.norm(across, axis=1)[:, None])
    return np.vstack(points), np.vstack(normals)


def between(rng: np.random.Generator, limits: tuple[float, float]) -> float:
    """A number between two limits, evenly in the logarithm."""
    low, high = np.log(limits)
    return float(np.exp(rng.uniform(low, high)))
