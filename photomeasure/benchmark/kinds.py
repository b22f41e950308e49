"""Do the stated 95 % intervals of every kind of measurement hold the truth?

Each scene is a part with something for every kind, seen by an unknown phone, without pixels
(see `without_pixels`); of each kind one number is asked, a different one from scene to scene,
so that the counts of a kind are independent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from photomeasure.benchmark.cases import Case, Shot, answered, refused
from photomeasure.benchmark.kinds_part import AXIS, FACE, KindsPart, Question, kinds_part
from photomeasure.benchmark.tables import Result, Row, Settings, counted
from photomeasure.benchmark.without_pixels import (
    DRAWN,
    TONE_PX,
    between,
    observed,
    seen_feature,
    solve,
)
from photomeasure.benchmark.workers import spread
from photomeasure.errors import PhotomeasureError
from photomeasure.estimation.features import CLICK_U_PX, Height, place_features
from photomeasure.measurements import MEASUREMENTS
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.measurements.kind import kind_of
from photomeasure.records.feature import Features
from photomeasure.records.job import FeatureEntry, MeasurementEntry, PlaneEntry
from photomeasure.records.shapes import Edge, Shape, Tube
from photomeasure.synthetic.pointing import PHOTO
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.scene import PointedFeature, Scene, TrueMeasurement
from photomeasure.synthetic.taking import job_of
from photomeasure.uncertainty.coverage import binomial_bounds

FIRST_SEED = 80_000
HELD = (0.92, 0.99)
SCENES = 4  # for each that is asked for
AXIS_PLUS_MINUS_MM = 0.5


def run(settings: Settings) -> Result:
    """One row a kind."""
    seeds = [FIRST_SEED + k for k in range(SCENES * settings.scenes)]
    found = spread(settings, "scenes for every kind", measure_all_kinds, seeds)
    cases = [case for one in found for case in one]
    return Result(
        "Share of stated 95 % intervals that hold the truth, by kind, without pixels",
        tuple(
            _row(kind, [c for c in cases if c.measurement == kind]) for kind in MEASUREMENTS.names
        ),
        (
            *counted([f"{c.measurement}: {c.reason}" for c in cases if c.reason]),
            f"Seeds from {FIRST_SEED}; tubes with the height of their axis ± "
            f"{AXIS_PLUS_MINUS_MM} mm, camera unknown, 15–35°.",
        ),
        tuple(cases),
    )


def measure_all_kinds(seed: int) -> list[Case]:
    """One number of each kind, a different one from seed to seed."""
    rng = np.random.default_rng([seed, 9])
    part = kinds_part(rng)
    asked = _one_of_each(part, seed)
    scene, axis_mm = _scene(rng, seed, part, asked)
    shot = Shot("kinds", seed)
    try:
        features = _features(rng, scene, axis_mm)
    except PhotomeasureError as error:
        return [replace(refused(shot, scene, a, error), way=DRAWN) for a in scene.measurements]
    return [_case(shot, scene, one, features) for one in scene.measurements]


def _one_of_each(part: KindsPart, seed: int) -> list[Question]:
    by_kind = groupby(sorted(part.questions, key=lambda q: q.kind), key=lambda q: q.kind)
    groups = [list(questions) for _, questions in by_kind]
    return [group[seed % len(group)] for group in groups]


def _scene(
    rng: np.random.Generator, seed: int, part: KindsPart, asked: Sequence[Question]
) -> tuple[Scene, float]:
    """The scene with what is pointed at, and the true height of the tubes' axes."""
    scene = random_scene(seed, kind="plate")
    largest = max(s.radius for s in part.shapes.values() if isinstance(s, Tube))
    axis_mm = largest + float(rng.uniform(0, 10))
    stated = round(float(rng.normal(axis_mm, AXIS_PLUS_MINUS_MM / 2)), 3)
    used = {name for question in asked for names in question.of.values() for name in names}
    pointed = [
        PointedFeature(
            FeatureEntry(
                name,
                kind_of(shape),
                PHOTO,
                part.planes.get(name, FACE),
                _clicks(rng, scene, shape, axis_mm),
            ),
            shape,
        )
        for name, shape in part.shapes.items()
        if name in used
    ]
    questions = [
        TrueMeasurement(MeasurementEntry(q.kind, q.kind, tuple(q.of.items())), q.quantity, q.truth)
        for q in asked
    ]
    planes = (*scene.stated_planes, PlaneEntry(AXIS, stated, AXIS_PLUS_MINUS_MM))
    return (
        replace(
            scene, features=tuple(pointed), measurements=tuple(questions), stated_planes=planes
        ),
        axis_mm,
    )


def _clicks(
    rng: np.random.Generator, scene: Scene, shape: Shape, axis_mm: float
) -> tuple[tuple[float, float], ...]:
    """The clicks that bound an edge or a tube, scattered as is stated of clicks."""
    height = axis_mm if isinstance(shape, Tube) else scene.parts[0].thickness_mm
    if isinstance(shape, Tube):
        way = shape.axis[1] - shape.axis[0]
        arm = shape.radius * np.array([-way[1], way[0]]) / np.linalg.norm(way)
        places = np.vstack([shape.axis + arm, shape.axis - arm])
    else:
        places = shape.ends if isinstance(shape, Edge) else np.zeros((1, 2))
    px = scene.image_from_plane(places, height)
    px = px + rng.normal(0, CLICK_U_PX, px.shape)
    return tuple((float(x), float(y)) for x, y in px)


def _features(rng: np.random.Generator, scene: Scene, axis_mm: float) -> Features:
    """All that was pointed at, in mm. Raises PhotomeasureError."""
    solution = solve(scene, observed(rng, scene))
    u_tone_px = between(rng, TONE_PX)
    tone = float(rng.normal(0, u_tone_px)), u_tone_px
    true_mm = {FACE: scene.parts[0].thickness_mm, AXIS: axis_mm}
    seen = [seen_feature(rng, scene, f, true_mm[f.entry.plane], tone) for f in scene.features]
    heights = {p.name: Height(p.height_mm, p.plus_minus_mm / 2) for p in scene.stated_planes}
    return place_features(seen, solution, heights)


def _case(shot: Shot, scene: Scene, asked: TrueMeasurement, features: Features) -> Case:
    job = replace(job_of(scene), measurements=(asked.entry,))
    try:
        measured = evaluate_measurements(job, features)
    except PhotomeasureError as error:
        return replace(refused(shot, scene, asked, error), way=DRAWN)
    (quantity,) = [q for q in measured[0].quantities if q.name == asked.quantity]
    near = replace(asked, value=_without_turns(asked, quantity.value, features))
    case = answered(shot, scene, near, measured, features)
    return replace(case, way=DRAWN, unit=quantity.unit)


def _without_turns(asked: TrueMeasurement, value: float, features: Features) -> float:
    """The true value, an angle in the turn in which it was found."""
    shapes = {role: tuple(features[n].shape for n in names) for role, names in asked.entry.of}
    outputs = MEASUREMENTS[asked.entry.kind].outputs(shapes)
    period = next(o.period for o in outputs if o.name == asked.quantity)
    return asked.value + (period * round((value - asked.value) / period) if period else 0.0)


def _row(kind: str, cases: Sequence[Case]) -> Row:
    """Share of hits with its exact bounds, and the median error and U."""
    told = [c for c in cases if c.value is not None]
    goal = f"{HELD[0]:.0%} to {HELD[1]:.0%}"
    if not told:
        return Row(kind, "nothing measured", goal, None, 0)
    hits = sum(c.hit for c in told)
    share, (low, high) = hits / len(told), binomial_bounds(hits, len(told))
    ratio = float(np.median([abs(c.error) / c.expanded for c in told]))
    measured = f"{share:.1%} ({low:.1%} to {high:.1%}), median |error| {ratio:.2f} U"
    return Row(kind, measured, goal, HELD[0] <= share <= HELD[1], len(told))
