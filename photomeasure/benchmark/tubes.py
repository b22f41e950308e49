"""How far off are outside diameters and angles of tubes in rendered photos?

Two hoses, bars or tubes lie on the sheet, dull or shining, some lifted off it; the height of
each axis is stated within ± 0.5 mm and both sides are clicked within 3 px.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.benchmark.cases import FREE_TILT_DEG, Case, Shot, ask
from photomeasure.benchmark.tables import Result, Row, Settings, counted
from photomeasure.benchmark.workers import spread
from photomeasure.records.job import FeatureEntry, MeasurementEntry, PlaneEntry
from photomeasure.records.shapes import Tube
from photomeasure.synthetic.pointing import CLICK_PX, PHOTO
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.scene import PointedFeature, Scene, TrueMeasurement
from photomeasure.synthetic.tubes import RoundBody, photo_of_tubes

Array = NDArray[np.float64]

WAY = "photos of tubes"
FIRST_SEED = 90_000
DIAMETER_MM = 0.25
ANGLE_DEG = 0.2
AXIS_PLUS_MINUS_MM = 0.5
_RADII_MM = (4.0, 20.0)
_NAMES = ("first tube", "second tube")


def run(settings: Settings) -> Result:
    """Errors of both diameters and of the angle between the axes."""
    shots = [Shot("tubes", FIRST_SEED + k) for k in range(settings.scenes)]
    found = spread(settings, "photos of tubes", measure_tubes, shots)
    cases = [case for one in found for case in one]
    told = [c for c in cases if c.value is not None]
    diameters = [c for c in told if c.unit == "mm"]
    angles = [c for c in told if c.unit == "deg"]
    return Result(
        "Tubes of 8 to 40 mm lying in the sheet, camera unknown, 15–35°",
        (
            _row("outside diameter", diameters, DIAMETER_MM, "mm"),
            _row("angle between two tubes", angles, ANGLE_DEG, "deg"),
            _held("  intervals that hold, diameters", diameters),
            _held("  intervals that hold, angles", angles),
            Row("  refused", f"{1 - len(told) / len(cases):.1%}", n=len(cases)),
        ),
        (
            *counted([c.reason for c in cases if c.reason]),
            f"Seeds from {FIRST_SEED}; axis height stated within ± {AXIS_PLUS_MINUS_MM} mm.",
        ),
        tuple(cases),
    )


def measure_tubes(shot: Shot) -> list[Case]:
    """Both diameters and the angle of one photo."""
    scene, bodies = tubes_scene(shot.seed)
    cases = ask(shot, scene, photo_of_tubes(scene, bodies), scene.measurements)
    units = {m.entry.name: "deg" if m.quantity == "angle" else "mm" for m in scene.measurements}
    return [replace(case, unit=units[case.measurement], way=WAY) for case in cases]


def tubes_scene(seed: int) -> tuple[Scene, list[RoundBody]]:
    """A random phone and sheet with two tubes on it, clicks and truth."""
    rng = np.random.default_rng([seed, 7])
    scene = replace(random_scene(seed, kind="plate", tilt_deg=FREE_TILT_DEG), parts=())
    turns = rng.uniform(0, np.pi) + np.array([0.0, rng.uniform(np.radians(20), np.radians(160))])
    bodies = [_body(rng, turn, side) for turn, side in zip(turns, (-1.0, 1.0), strict=True)]
    planes = [
        PlaneEntry(
            f"axis of the {name}",
            round(float(rng.normal(body.height_mm, AXIS_PLUS_MINUS_MM / 2)), 3),
            AXIS_PLUS_MINUS_MM,
        )
        for name, body in zip(_NAMES, bodies, strict=True)
    ]
    pointed = tuple(
        _pointed(rng, scene, body, name, plane.name)
        for body, name, plane in zip(bodies, _NAMES, planes, strict=True)
    )
    asked = (*_diameters(bodies), _angle(float(np.degrees(turns[1] - turns[0])), bodies))
    return replace(
        scene, features=pointed, measurements=asked, stated_planes=tuple(planes)
    ), bodies


def _body(rng: np.random.Generator, turn: float, side: float) -> RoundBody:
    """A tube in the upper or lower half of the window of the sheet."""
    way = np.array([np.cos(turn), np.sin(turn)])
    middle = np.array([rng.uniform(-4, 4), side * rng.uniform(45, 52)])
    half = rng.uniform(25, 34)
    radius = float(rng.uniform(*_RADII_MM))
    lifted = float(rng.uniform(0, 8)) if rng.random() < 0.5 else 0.0
    return RoundBody(
        axis_mm=middle + np.outer([-half, half], way),
        height_mm=radius + lifted,
        radius_mm=radius,
        reflectance=float(np.exp(rng.uniform(np.log(0.05), np.log(0.5)))),
        gloss=float(rng.uniform(0.05, 0.5)) if rng.random() < 0.5 else 0.0,
        gloss_rad=float(rng.uniform(0.1, 0.4)),
    )


def _pointed(
    rng: np.random.Generator, scene: Scene, body: RoundBody, name: str, plane: str
) -> PointedFeature:
    """Two clicks along either grazing line, clear of the ends."""
    to_eye = scene.pose.camera_mm - np.append(body.axis_mm[0], body.height_mm)
    across = np.cross([0.0, 0.0, 1.0], body.along)
    away = float(np.hypot(to_eye @ across, to_eye[2]))
    middle = np.arctan2(to_eye @ across, to_eye[2])
    half = np.arccos(body.radius_mm / away)
    places = []
    for normal in body.normals(np.array([middle - half, middle + half])):
        line = body.line(normal, 101)
        places += [line[int(rng.integers(8, 16))], line[int(rng.integers(85, 93))]]
    clicks = scene.image_from_space(np.array(places))
    clicks = clicks + rng.normal(0, CLICK_PX, clicks.shape)
    pairs = tuple((round(float(x), 1), round(float(y), 1)) for x, y in clicks)
    entry = FeatureEntry(name, "tube", PHOTO, plane, pairs)
    return PointedFeature(entry, Tube(body.axis_mm, body.radius_mm))


def _diameters(bodies: Sequence[RoundBody]) -> list[TrueMeasurement]:
    return [
        TrueMeasurement(
            MeasurementEntry(f"diameter of the {name}", "outside_diameter", (("tube", (name,)),)),
            "outside_diameter",
            2 * body.radius_mm,
        )
        for name, body in zip(_NAMES, bodies, strict=True)
    ]


def _angle(turn_deg: float, bodies: Sequence[RoundBody]) -> TrueMeasurement:
    """The angle at the corner, where each axis runs to its farther end."""
    roles = tuple((role, (name,)) for role, name in zip(("edge_a", "edge_b"), _NAMES, strict=True))
    a, b = (body.axis_mm for body in bodies)
    ways = a[1] - a[0], b[1] - b[0]
    share, other = np.linalg.solve(np.column_stack([ways[0], -ways[1]]), b[0] - a[0])
    back = (share > 0.5) != (other > 0.5)
    truth = 180.0 - turn_deg if back else turn_deg
    return TrueMeasurement(MeasurementEntry("angle", "angle", roles), "angle", truth)


def _row(what: str, cases: Sequence[Case], limit: float, unit: str) -> Row:
    goal = f"95 % ≤ {limit:g} {unit}"
    if not cases:
        return Row(what, "nothing measured", goal, None, 0)
    half, large = np.quantile([abs(c.error) for c in cases], [0.5, 0.95])
    measured = f"median {half:.3f}, 95 % {large:.3f} {unit}"
    return Row(what, measured, goal, bool(large <= limit), len(cases))


def _held(what: str, cases: Sequence[Case]) -> Row:
    share = np.mean([c.hit for c in cases]) if cases else 0.0
    return Row(what, f"{share:.1%}", n=len(cases))
