"""A rendered photo can be made again, is asked about, and gives numbers or reasons."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure import pipeline
from photomeasure.benchmark import worst
from photomeasure.benchmark.cases import Case, Shot, ask, phone_of, reason_of, scene_of
from photomeasure.benchmark.plain import PLAIN, ask_plainly
from photomeasure.benchmark.without_pixels import DRAWN, measure_without_pixels
from photomeasure.benchmark.worst import render_case, render_cases, worst_of
from photomeasure.errors import GeometryError
from photomeasure.records.photo import Photo
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.taking import photo_of

SHOT = Shot("gap", 10_003)


@pytest.fixture(scope="module")
def photo() -> Photo:
    """The photo of SHOT."""
    return photo_of(scene_of(SHOT))


@pytest.fixture(scope="module")
def case(photo: Photo) -> Case:
    """What the program says of the gap in SHOT."""
    scene = scene_of(SHOT)
    (found,) = ask(SHOT, scene, photo, scene.measurements)
    return found


def test_a_photo_with_a_record_keeps_its_phone_and_changes_all_else() -> None:
    """The lens differs from the phone's by focusing only; part, pose and clicks are its own."""
    shot = Shot("plate", 15_001, 15_000)
    scene, phone = scene_of(shot), phone_of(shot)
    assert scene.lens.k1 == phone.lens.k1
    assert scene.lens.f_px == pytest.approx(phone.lens.f_px, rel=0.01)
    assert scene.lens.f_px != phone.lens.f_px
    assert scene.phone.orientation == phone.phone.orientation
    assert scene.parts == random_scene(15_001).parts
    assert len(scene.features) > 3
    assert scene_of(shot).features[0].entry == scene.features[0].entry


def test_a_rendered_gap_is_measured_to_a_tenth(case: Case) -> None:
    """The whole line from JPEG to number works on a photo of the benchmark."""
    assert case.reason == ""
    assert case.error == pytest.approx(0, abs=0.1)
    assert case.expanded > 0


def test_the_plain_recipe_is_asked_the_same(photo: Photo) -> None:
    """It answers the gap of the same photo, within the millimetres that it misses by."""
    (found,) = ask_plainly(SHOT, scene_of(SHOT), photo)
    assert found.way == PLAIN
    assert found.error == pytest.approx(0, abs=2.0)


def test_a_refusal_is_asked_again_one_by_one(photo: Photo, monkeypatch) -> None:
    """One bad feature must not take the other measurements of its photo with it."""
    scene = scene_of(SHOT)
    good, bad = scene.measurements[0], replace(scene.measurements[0], value=1.0)
    bad = replace(bad, entry=replace(bad.entry, name="bad"))
    measured = pipeline.measure

    def measure(job, *rest):
        if any(m.name == "bad" for m in job.measurements):
            raise GeometryError("hole-3 in photo: no rim within 14 px of the clicks. Click again.")
        return measured(job, *rest)

    monkeypatch.setattr(pipeline, "measure", measure)
    first, second = ask(SHOT, scene, photo, [bad, good])
    assert (first.value, first.reason) == (None, "no rim within # px of the clicks")
    assert second.value is not None


def test_a_mistake_in_the_program_is_named_as_such() -> None:
    """A crash counts as a refusal whose reason says what crashed."""
    assert reason_of(KeyError("x")) == "mistake in the program: KeyError: 'x'"


def test_every_quantity_without_pixels_lies_near_its_truth() -> None:
    """The drawn corners and edges have the right sides and places: errors are a few U."""
    shots = [Shot("plate", 50_000 + k) for k in range(4)] + [Shot("gap", 50_010)]
    cases = [measure_without_pixels(shot) for shot in shots]
    assert {c.measurement for c in cases} == {"bore", "first-hole", "bolt-circle", "pitch", "gap"}
    assert all(c.way == DRAWN and abs(c.error) < 3 * c.expanded for c in cases)


def test_every_case_is_a_line_of_csv(case: Case) -> None:
    """Numbers and refusals alike, with seed and reason."""
    none = replace(case, value=None, reason="no rim, none")
    lines = list(csv.DictReader(io.StringIO(render_cases([case, none]).decode())))
    assert [line["seed"] for line in lines] == ["10003", "10003"]
    assert float(lines[0]["error"]) == pytest.approx(case.error, abs=1e-5)
    assert (lines[1]["value"], lines[1]["reason"]) == ("", "no rim, none")


def test_the_worst_is_the_one_farthest_off_for_its_uncertainty(case: Case) -> None:
    """Refusals, the plain recipe and scenes without pixels are not looked at."""
    far = replace(case, value=case.truth + 9 * case.expanded)
    others = [replace(far, way=PLAIN), replace(far, value=None)]
    assert worst_of([case, *others, far], 1) == [far]


def test_the_picture_of_a_case_shows_truth_and_located_points(
    case: Case, photo: Photo, monkeypatch
) -> None:
    """Yellow, red and green are drawn on the right half and nowhere on the left."""
    monkeypatch.setattr(worst, "photo_of", lambda scene: photo)
    picture = cv2.imdecode(np.frombuffer(render_case(case), np.uint8), cv2.IMREAD_COLOR)
    left, right = np.split(picture, 2, axis=1)
    assert np.ptp(left.astype(int), axis=2).max() < 60
    for blue, green, red in ((40, 220, 250), (40, 40, 240), (40, 220, 40)):
        assert np.any(np.all(np.abs(right.astype(int) - [blue, green, red]) < 3, axis=2))
