"""How far from the truth is a gap in the plane of a card beside it?

Of each photo two errors are told: as measured, and with the true edges put in the place of the
located ones, so that what the card, the lens and the print do is told apart from what the
edges do. Twelve times as many scenes are measured without pixels, corners drawn instead of seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.benchmark.accuracy import BOARD_PHOTOS, record_of
from photomeasure.benchmark.cases import (
    Case,
    Shot,
    answered,
    phone_of,
    refused,
    report_on,
    scene_of,
)
from photomeasure.benchmark.tables import Result, Row, Settings, counted, error_row
from photomeasure.benchmark.without_pixels import draw_and_measure, exif_of, observed
from photomeasure.benchmark.workers import spread
from photomeasure.estimation.calibrate import calibrate_camera
from photomeasure.estimation.joint import Sighting
from photomeasure.estimation.lenses import lens_of
from photomeasure.geometry.camera import plane_from_image
from photomeasure.records.view import CameraRecord, Solution
from photomeasure.synthetic.random_scenes import board_scene
from photomeasure.synthetic.scene import Scene
from photomeasure.synthetic.taking import photo_of
from photomeasure.uncertainty.coverage import binomial_bounds

Array = NDArray[np.float64]

FIRST_SEED = 80_000
FIRST_RECORD_SEED = 85_000
FIRST_DRAWN_SEED = 100_000
DRAWN_SCENES = 12  # for each rendered one: a share of few intervals says little
RECORD_MM = (0.05, 0.20)
FREE_MM = (0.10, 0.35)
HELD = (0.92, 0.99)
CARD = "card-50"
OTHERS = ("card-25", "card-80")
_PHOTOS_OF_A_PHONE = 6
_LARGE_MM = 0.2


@dataclass(frozen=True, eq=False)
class _Measured:
    """A case, and its error where the true edges were put into the photo's view, mm."""

    case: Case
    geometry: float = np.nan


def run(settings: Settings) -> Result:
    """The 50 mm card with and without a camera record; the others by a quarter as many."""
    few = max(2, settings.scenes // 4)
    recorded = _phones(CARD, FIRST_RECORD_SEED, settings.scenes)
    for k, other in enumerate(OTHERS, 1):
        recorded += _phones(other, FIRST_RECORD_SEED + 1000 * k, few)
    free = [Shot(CARD, FIRST_SEED + k) for k in range(settings.scenes)]
    found = [
        *(m for of_one in spread(settings, "phones", _with_record, recorded) for m in of_one),
        *spread(settings, "photos without a record", _without_record, free),
    ]
    many = DRAWN_SCENES * settings.scenes
    drawn_phones = _phones(CARD, FIRST_DRAWN_SEED, many)
    drawn_free = [Shot(CARD, FIRST_DRAWN_SEED + 50_000 + k) for k in range(many)]
    drawn = [
        *(m for of_one in spread(settings, "drawn", _drawn, drawn_phones) for m in of_one),
        *spread(settings, "drawn without a record", _drawn_free, drawn_free),
    ]
    rows = [
        *_rows("without pixels, record", _of(drawn, CARD, True), RECORD_MM),
        *_rows("without pixels, unknown", _of(drawn, CARD, False), FREE_MM),
        *_rows("camera record, 0–35°", _of(found, CARD, True), RECORD_MM),
        *_rows("camera unknown, 0–20°", _of(found, CARD, False), FREE_MM),
        *(r for other in OTHERS for r in _rows(f"{other}, record", _of(found, other, True), None)),
    ]
    return Result(
        "A gap of 5–40 mm in the plane of a card, within 100 mm of it, 10–14 px/mm",
        tuple(rows),
        (
            *counted([m.case.reason for m in (*found, *drawn) if m.case.reason]),
            f"Seeds from {FIRST_SEED} and from {FIRST_RECORD_SEED}; {CARD} where no other is "
            "named. The parts' thickness is stated within 0.6 mm.",
        ),
        tuple(m.case for m in (*found, *drawn)),
    )


def _phones(kind: str, first: int, count: int) -> list[list[Shot]]:
    """Shots by the phone that takes them."""
    shots = [Shot(kind, first + k, first + k // _PHOTOS_OF_A_PHONE) for k in range(count)]
    return [shots[k : k + _PHOTOS_OF_A_PHONE] for k in range(0, count, _PHOTOS_OF_A_PHONE)]


def _without_record(shot: Shot) -> _Measured:
    return _measure(shot, None)


def _with_record(shots: Sequence[Shot]) -> list[_Measured]:
    try:
        record = record_of(shots[0])
    except Exception as error:  # one bad phone must not end a run of many
        scenes = [(shot, scene_of(shot)) for shot in shots]
        return [_Measured(refused(s, scene, scene.measurements[0], error)) for s, scene in scenes]
    return [_measure(shot, record) for shot in shots]


def _measure(shot: Shot, record: CameraRecord | None) -> _Measured:
    scene = scene_of(shot)
    asked = scene.measurements[0]
    try:
        report = report_on(scene, photo_of(scene), [asked], record)
    except Exception as error:  # so is one bad photo
        return _Measured(replace(refused(shot, scene, asked, error), record=record))
    case = answered(shot, scene, asked, report.measurements, report.features)
    geometry = _gap_of_true_edges(scene, report.solution) - asked.value
    return _Measured(replace(case, record=record), geometry)


def _drawn_free(shot: Shot) -> _Measured:
    return _measure_drawn(shot, None)


def _drawn(shots: Sequence[Shot]) -> list[_Measured]:
    record = record_without_pixels(shots[0])
    return [_measure_drawn(shot, record) for shot in shots]


def _measure_drawn(shot: Shot, record: CameraRecord | None) -> _Measured:
    case, solution = draw_and_measure(shot, record)
    if solution is None:
        return _Measured(case)
    return _Measured(case, _gap_of_true_edges(scene_of(shot), solution) - case.truth)


def record_without_pixels(shot: Shot) -> CameraRecord:
    """The camera record of a shot's phone, from corners drawn on its photos of a board."""
    phone = phone_of(shot)
    rng = np.random.default_rng([phone.seed, 8])
    sightings, facts = [], []
    for k in range(BOARD_PHOTOS):
        board = board_scene(phone, k)
        taken = lens_of(str(k), exif_of(board.phone), board.lens.size_px, None, {})
        seen = replace(observed(rng, board), photo=str(k))
        sightings.append(Sighting(seen, board.lens.size_px, taken.orientation, taken.key))
        facts.append((exif_of(board.phone), taken))
    return calibrate_camera(sightings, facts).record


def _gap_of_true_edges(scene: Scene, solution: Solution) -> float:
    """The gap between the true edges where the photo truly shows them, by the view found."""
    (view,), height = solution.views, scene.parts[0].thickness_mm
    stated = scene.stated_planes[0].height_mm
    lines = []
    for pointed in scene.features:
        ends_px = scene.image_from_plane(pointed.shape.numbers.reshape(2, 2), height)
        lines.append(shapely.LineString(plane_from_image(ends_px, view.parameters, stated)))
    return float(shapely.distance(*lines))


def _of(found: Sequence[_Measured], kind: str, recorded: bool) -> list[_Measured]:
    return [
        m
        for m in found
        if m.case.shot.kind == kind and (m.case.shot.phone is not None) == recorded
    ]


def _rows(
    where: str, measured: Sequence[_Measured], goals: tuple[float, float] | None
) -> list[Row]:
    answers = [m for m in measured if m.case.value is not None]
    errors = np.array([m.case.error for m in answers])
    geometry = np.array([m.geometry for m in answers])
    median, most = goals or RECORD_MM
    as_measured = error_row(where, errors, median, most)
    with_true = error_row("  with the true edges", geometry, median, most)
    if goals is None:
        as_measured, with_true = (replace(r, goal="", met=None) for r in (as_measured, with_true))
    refusals = 1 - len(answers) / max(len(measured), 1)
    return [
        as_measured,
        replace(with_true, goal="", met=None),
        _held(answers, judged=goals is not None),
        _large([m.case for m in answers]),
        Row("  refused", f"{refusals:.1%}", n=len(measured)),
    ]


def _held(answers: Sequence[_Measured], judged: bool) -> Row:
    goal = f"{HELD[0]:.0%} to {HELD[1]:.0%}" if judged else ""
    if not answers:
        return Row("  intervals that hold", "nothing measured", goal, None, 0)
    hits = sum(m.case.hit for m in answers)
    low, high = binomial_bounds(hits, len(answers))
    size = np.median([m.case.expanded for m in answers])
    share = hits / len(answers)
    words = f"{share:.1%} ({low:.1%} to {high:.1%}), median U {size:.3f} mm"
    met = HELD[0] <= share <= HELD[1] if judged else None
    return Row("  intervals that hold", words, goal, met, len(answers))


def _large(cases: Sequence[Case]) -> Row:
    large = [c for c in cases if abs(c.error) > _LARGE_MM]
    told = sum(c.told for c in large)
    words = f"{len(large)}, told of several edges in {told}"
    return Row(f"  off by more than {_LARGE_MM:g} mm", words, n=len(cases))
