"""The whole line, from one 12-megapixel photo and a job to numbers that hold the truth."""

from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure import pipeline
from photomeasure.errors import JobError
from photomeasure.estimation.joint import Sighting
from photomeasure.estimation.lenses import lens_of
from photomeasure.estimation.views import estimate_views
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.geometry.orientation import turned_camera, turned_size
from photomeasure.pipeline import measure
from photomeasure.records.job import (
    CheckEntry,
    FeatureEntry,
    MeasurementEntry,
    PhotoEntry,
    PrintEntry,
    Rule,
)
from photomeasure.records.report import Verdict
from photomeasure.records.view import CameraRecord
from photomeasure.synthetic.taking import photo_of
from photomeasure.vision.detection import Detection, detect_sheets

TRUTH = {"slot": worlds.GAP_MM, "bore": worlds.BORE_MM, "bolts": worlds.BOLT_CIRCLE_MM}
RULES = (
    Rule("wide enough", "gap", "mm", "They would touch.", "the maker", "user", at_least=6.5),
    Rule("narrow enough", "gap", "in", "Chaff gets in.", "the maker", "user", at_most=0.25),
)
SMALL = worlds.flange_scene(0.5)


@pytest.fixture(scope="module")
def report():
    """The flange's job with rules and a caliper reading, and what was told meanwhile."""
    scene = worlds.flange_scene(1.0)
    asked = worlds.flange_job(scene).measurements
    judged = (replace(asked[0], rules=tuple(r.name for r in RULES)), *asked[1:])
    checks = (CheckEntry("bore", 24.0), CheckEntry("slot", 7.6))
    job = worlds.flange_job(
        scene, measurements=judged, rules=RULES, checks=checks, hazards=("moving",)
    )
    told: list[str] = []
    made = measure(job, lambda entry: worlds.photo(1.0), progress=told.append)
    return made, told


@pytest.mark.parametrize("name", list(TRUTH))
def test_the_truth_lies_within_what_was_stated(report, name):
    """Gap, bore and bolt circle of one photo by an unknown phone, within 3.5 u of the truth."""
    quantity = next(m for m in report[0].measurements if m.name == name).primary
    assert abs(quantity.value - TRUTH[name]) < 3.5 * quantity.u
    assert quantity.u < 0.05
    assert quantity.expanded > quantity.u


def test_verdicts_and_checks_come_out(report):
    """Both sides of a limit, an agreeing and a contradicting caliper."""
    made = report[0]
    assert [d.verdict for d in made.decisions] == [Verdict.CONFORMS, Verdict.DOES_NOT_CONFORM]
    assert [c.agrees for c in made.checks] == [True, False]
    assert made.cautions
    assert any("bolts" in line for line in made.not_checked)


def test_it_says_what_it_is_doing(report):
    """Every stage of more than a moment is told, with the photo it works on."""
    told = " / ".join(report[1])
    assert "photo" in told
    assert len(report[1]) >= 4


def test_every_source_is_in_the_budget(report):
    """The bore's budget names print, lens, corners, paper, height, tone, edge and noise."""
    bore = next(m for m in report[0].measurements if m.name == "bore").primary
    assert len(bore.budget) == 8
    assert sum(v**2 for v in bore.budget.values()) == pytest.approx(bore.u**2)


# The same picture told otherwise, at 3 megapixels ------------------------------------------


def edges_job(**changes):
    features = tuple(f for f in worlds.pointed(SMALL) if f.kind == "edge")
    asked = (MeasurementEntry("slot", "gap", (("a", ("upper",)), ("b", ("lower",)))),)
    return worlds.flange_job(SMALL, **({"features": features, "measurements": asked} | changes))


@pytest.fixture(scope="module")
def plain():
    """The gap as a job of one photo says it."""
    return measure(edges_job(), lambda entry: worlds.photo())


def test_bars_that_nobody_read_are_said_and_budgeted(plain):
    """Without bar readings the report warns and the print's part of the budget grows."""
    unread = measure(edges_job(prints=()), lambda entry: worlds.photo())
    assert all("check bars of window-a4-A" in d[0].words for d in unread.doubts.values())
    assert not any(plain.doubts.values())
    part = [r.measurements[0].primary.budget["print scale"] for r in (unread, plain)]
    assert part[0] > 3 * part[1]


def small_record(orientation: int) -> CameraRecord:
    """The scene's lens as recorded from photos in this orientation."""
    lens = SMALL.lens
    upright = np.array([lens.f_px, lens.cx, lens.cy, lens.k1, lens.k2, lens.p1, lens.p2, 0.0])
    u = np.array([1, 1, 1, 1e-3, 1e-3, 1e-5, 1e-5, 1e-3])
    # The photo is upright as EXIF 6 turned it: undo that, then turn as the record's photos.
    sensor = turned_size(lens.size_px, 6)
    to_upright, offset = turned_camera(sensor, 6)
    on_sensor = np.linalg.solve(to_upright, upright - offset)
    turn, moved = turned_camera(sensor, orientation)
    size = turned_size(sensor, orientation)
    covariance = np.diag(u**2)
    return CameraRecord("", size, orientation, turn @ on_sensor + moved, covariance, 0.05, 6, 800)


@pytest.mark.parametrize("made_in", [1, 3, 6])
def test_a_record_serves_photos_turned_otherwise(plain, made_in):
    """A record made with the phone across gives the same gap in a photo held upright."""
    photo = worlds.photo()
    turned = replace(photo, exif=replace(photo.exif, orientation=6))
    job = edges_job(photos=(PhotoEntry("photo", "photo.jpg", camera="a"),))
    made = measure(job, lambda entry: turned, {"a": small_record(made_in)})
    gap = made.measurements[0].primary
    assert gap.value == pytest.approx(plain.measurements[0].primary.value, abs=0.02)
    assert made.solution.covariance[0, 0] < 0.5 * plain.solution.covariance[0, 0]


@pytest.mark.parametrize("orientation", range(1, 9))
def test_all_eight_orientations_give_the_same_millimetres(plain, orientation):
    """How the file was turned upright changes what is believed of the lens, not a length."""
    seen, photo = plain.observations[0], worlds.photo()
    facts = replace(photo.exif, orientation=orientation)
    taken = lens_of("photo", facts, photo.size_px, None, {})
    s = Sighting(seen, photo.size_px, taken.orientation, taken.key)
    scale = worlds.printer()
    _, solution = estimate_views([s], {taken.key: taken.prior}, {seen.sheet: scale})
    straight = lens_of("photo", replace(photo.exif, orientation=1), photo.size_px, None, {})
    first = Sighting(seen, photo.size_px, 1, straight.key)
    _, same = estimate_views([first], {straight.key: straight.prior}, {seen.sheet: scale})
    ends = np.array([[-60.0, -40.0], [60.0, 50.0]])
    px = image_from_plane(ends, same.views[0].parameters, 6.0)
    found = plane_from_image(px, solution.views[0].parameters, 6.0)
    assert np.linalg.norm(found[1] - found[0]) == pytest.approx(150.0, abs=1e-4)


def test_a_second_photo_narrows_the_lens(plain):
    """Two photos of one phone share a lens: its focal length is known better, the gap stays."""
    other = worlds.flange_scene(0.5, seed=9, tilt_deg=30.0)
    photos = {"photo": worlds.photo(), "other": replace(photo_of(other), name="other")}
    entries = (PhotoEntry("photo", "photo.jpg"), PhotoEntry("other", "other.jpg"))
    made = measure(edges_job(photos=entries), lambda entry: photos[entry.name])
    assert [v.photo for v in made.solution.views] == ["photo", "other"]
    gap, before = (r.measurements[0].primary.value for r in (made, plain))
    assert gap == pytest.approx(before, abs=0.02)
    assert made.solution.covariance[0, 0] < 0.8 * plain.solution.covariance[0, 0]


def test_features_of_two_sheets_do_not_meet(monkeypatch):
    """A gap between a feature on one sheet and one on another is refused, both named."""
    seen = detect_sheets(worlds.photo())[0]

    def as_named(photo, needed):
        copy = "window-a4-B" if photo.name == "other" else seen.sheet
        return Detection((replace(seen, photo=photo.name, sheet=copy, prints=()),))

    monkeypatch.setattr(pipeline, "detect_targets", as_named)
    job = edges_job(
        photos=(PhotoEntry("photo", "photo.jpg"), PhotoEntry("other", "photo.jpg")),
        prints=(),
    )
    first, second = job.features
    job = replace(job, features=(first, replace(second, photo="other")))
    with pytest.raises(JobError, match="window-a4-A and window-a4-B"):
        measure(job, lambda entry: worlds.photo())


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"measurements": ()}, "has no measurements"),
        ({"prints": (PrintEntry("window-a5-A", 150, 150),)}, "'window-a5-A', which does not"),
        ({"features": ()}, "is of 'upper', which the job has not"),
        (
            {"features": (FeatureEntry("x", "point", "elsewhere", "sheet", ((1.0, 1.0),)),)},
            "in photo 'elsewhere', which the job has not",
        ),
    ],
)
def test_a_job_with_loose_ends_is_refused_before_a_photo_is_opened(changes, words):
    """The public API checks a job made in code as strictly as a file is."""
    with pytest.raises(JobError, match=words):
        measure(edges_job(**changes), lambda entry: pytest.fail("a photo was opened"))
