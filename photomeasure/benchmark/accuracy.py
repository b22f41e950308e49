"""How far from the truth are hole, bore, bolt circle and gap in one photo?

The error holds everything: bar readings and heights as stated, not as true; clicks that
scatter by 3 px and sometimes lie nearer another rim; paper, lens and phone as they come.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure import pipeline
from photomeasure.benchmark.cases import Case, Shot, ask, phone_of, refused, scene_of
from photomeasure.benchmark.plain import PLAIN, ask_plainly
from photomeasure.benchmark.tables import Result, Row, Settings, counted, error_row
from photomeasure.benchmark.workers import spread
from photomeasure.records.view import CameraRecord
from photomeasure.synthetic.random_scenes import KINDS, board_scene
from photomeasure.synthetic.taking import photo_of

Array = NDArray[np.float64]

FIRST_SEED = 10_000
FIRST_RECORD_SEED = 15_000
FREE_MM = (0.03, 0.10)
RECORD_MM = (0.02, 0.06)
PLAIN_TIMES = 20  # all parts have thickness, of which the plain recipe knows nothing
MEASURANDS = {
    "bore": "bore",
    "first-hole": "hole",
    "bolt-circle": "bolt circle",
    "gap": "gap",
}
BOARD_PHOTOS = 8
_PHOTOS_OF_A_PHONE = 6


def run(settings: Settings) -> Result:
    """All photos without a camera record, then as many with one."""
    free = [Shot(kind, FIRST_SEED + k) for k, kind in _numbered(settings.scenes)]
    recorded = [
        Shot(kind, FIRST_RECORD_SEED + k, FIRST_RECORD_SEED + k // _PHOTOS_OF_A_PHONE)
        for k, kind in _numbered(settings.scenes)
    ]
    phones = [
        recorded[k : k + _PHOTOS_OF_A_PHONE] for k in range(0, len(recorded), _PHOTOS_OF_A_PHONE)
    ]
    one_by_one = spread(settings, "photos without a camera record", _without_record, free)
    by_phone = spread(settings, "phones with a camera record", _with_record, phones)
    cases = [c for found in (*one_by_one, *by_phone) for c in found]
    rows = [
        *_rows("camera unknown, 15–35°", [c for c in cases if c.shot.phone is None], FREE_MM),
        *_rows("camera record, 0–35°", [c for c in cases if c.shot.phone is not None], RECORD_MM),
    ]
    return Result(
        "Errors of one photo, parts up to 200 mm and 0.8–10 mm thick",
        tuple(rows),
        (
            *counted([c.reason for c in cases if c.reason and c.way != PLAIN]),
            f"Seeds from {FIRST_SEED} and from {FIRST_RECORD_SEED}, plates and gaps in turn; a "
            f"record is made from {BOARD_PHOTOS} photos of a board and serves "
            f"{_PHOTOS_OF_A_PHONE} photos, each focused anew.",
        ),
        tuple(cases),
    )


def _numbered(count: int) -> list[tuple[int, str]]:
    return [(k, KINDS[k % len(KINDS)]) for k in range(count)]


def _without_record(shot: Shot) -> list[Case]:
    return _both_ways(shot, None)


def _with_record(shots: Sequence[Shot]) -> list[Case]:
    """All photos of one phone, after calibrating it; without a record all are refused."""
    try:
        record = record_of(shots[0])
    except Exception as error:  # one bad phone must not end a run of many
        scenes = [(shot, scene_of(shot)) for shot in shots]
        return [
            refused(shot, scene, a, error) for shot, scene in scenes for a in scene.measurements
        ]
    return [case for shot in shots for case in _both_ways(shot, record)]


def record_of(shot: Shot) -> CameraRecord:
    """The camera record that a user makes of a shot's phone from rendered photos of a board.

    Raises PhotomeasureError as calibrating does.
    """
    phone = phone_of(shot)
    boards = [board_scene(phone, k) for k in range(BOARD_PHOTOS)]
    return pipeline.calibrate([photo_of(board) for board in boards]).record


def _both_ways(shot: Shot, record: CameraRecord | None) -> list[Case]:
    scene = scene_of(shot)
    photo = photo_of(scene)
    return [*ask(shot, scene, photo, scene.measurements, record), *ask_plainly(shot, scene, photo)]


def _rows(where: str, cases: Sequence[Case], goals: tuple[float, float]) -> list[Row]:
    asked = [c for c in cases if c.measurement in MEASURANDS]
    ours = [c for c in asked if c.way != PLAIN]
    answered = [c for c in ours if c.value is not None]
    return [
        error_row(f"{where}: all", _errors(answered), *goals),
        *(
            error_row(
                f"  {words}", _errors([c for c in answered if c.measurement == name]), *goals
            )
            for name, words in MEASURANDS.items()
        ),
        error_row(
            "  clicks nearer another rim", _errors([c for c in answered if c.wrong_rim]), *goals
        ),
        *_warned(answered, goals[1]),
        Row("  refused", f"{1 - len(answered) / max(len(ours), 1):.1%}", n=len(ours)),
        *_compared(answered, [c for c in asked if c.way == PLAIN]),
    ]


def _errors(cases: Sequence[Case]) -> Array:
    return np.array([c.error for c in cases])


def _warned(answered: Sequence[Case], limit_mm: float) -> list[Row]:
    """Of the large errors, how many came with the word that several edges fit?"""
    large = [c for c in answered if abs(c.error) > limit_mm]
    told = sum(c.told for c in large)
    what = f"  off by more than {limit_mm:g} mm"
    return [Row(what, f"{len(large)}, told of several edges in {told}", n=len(answered))]


def _compared(ours: Sequence[Case], plain: Sequence[Case]) -> list[Row]:
    """The plain recipe on the same numbers, as far as both answered."""
    theirs = {(c.shot, c.measurement): c.error for c in plain if c.value is not None}
    both = [c for c in ours if (c.shot, c.measurement) in theirs]
    if not both:
        return [Row("  plain recipe", "no answer", n=len(plain))]
    median = float(np.median([abs(theirs[c.shot, c.measurement]) for c in both]))
    ratio = median / float(np.median(np.abs(_errors(both))))
    unanswered = 1 - len(theirs) / len(plain)
    measured = f"median {median:.3f} mm, {ratio:.0f} times ours; no answer in {unanswered:.0%}"
    goal = f"≥ {PLAIN_TIMES} times ours"
    return [Row("  plain recipe on the same", measured, goal, ratio >= PLAIN_TIMES, len(both))]
