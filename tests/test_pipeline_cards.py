"""Cards through the whole line: each its own plane, all of one photo one camera."""

from dataclasses import replace

import card_world
import cv2
import numpy as np
import pytest
from card_world import FACE, FLAT, GAP_MM, LEANING, THICKNESS_MM

from photomeasure import pipeline
from photomeasure.errors import JobError, PhotoError
from photomeasure.geometry.camera import image_from_plane, lowered, rotation_matrix
from photomeasure.pipeline import measure
from photomeasure.records.job import PlaneEntry, PrintEntry
from photomeasure.vision.detection import Detection, detect_targets


def measured(job):
    return measure(job, lambda entry: card_world.photo())


@pytest.fixture(scope="module")
def report():
    """The gap beside the flat card."""
    return measured(card_world.job())


def test_the_gap_in_the_plane_of_a_card_lies_within_its_interval(report):
    """A gap 9 mm wide, beside a 50 mm card, an unknown phone, 8 px/mm."""
    gap = report.measurements[0].primary
    assert abs(gap.value - GAP_MM) < gap.expanded
    assert gap.expanded < 0.2
    assert {f.target for f in report.features.features} == {FLAT}


def test_every_card_is_a_view_and_those_of_one_photo_share_its_camera(report):
    """Two views, one camera, whose numbers are perfectly correlated."""
    first, second = report.solution.views
    assert {first.sheet, second.sheet} == {FLAT, LEANING}
    np.testing.assert_array_equal(first.camera, second.camera)
    c = report.solution.covariance
    f1, f2 = first.start, second.start
    assert c[f1, f2] == pytest.approx(c[f1, f1], rel=1e-9)


def test_where_a_card_stands_agrees_with_the_scene(report):
    """From one card to the other, through the camera, as the scene placed them.

    Both poses come from one photo of an unknown lens, so what is common to them cancels.
    """
    views = {v.sheet: v for v in report.solution.views}
    placed = {card.print.sheet: card for card in card_world.scene().cards}

    def to_camera(pose):
        return rotation_matrix(pose[:3]), pose[3:]

    (r1, t1), (r2, t2) = (to_camera(views[i].pose) for i in (FLAT, LEANING))
    found_turn, found_step = r1.T @ r2, r1.T @ (t2 - t1)
    one, other = placed[FLAT], placed[LEANING]
    true_turn = one.rotation.T @ other.rotation
    true_step = one.rotation.T @ np.subtract(other.middle_mm, one.middle_mm)
    apart = np.degrees(np.arccos(np.clip((np.trace(found_turn.T @ true_turn) - 1) / 2, -1, 1)))
    assert apart < 0.7
    assert np.linalg.norm(found_step - true_step) < 0.015 * np.linalg.norm(true_step)


def test_the_pose_of_a_card_agrees_with_opencv(report):
    """OpenCV's planar solver (IPPE), given our camera and corners, finds the same pose."""
    view = next(v for v in report.solution.views if v.sheet == FLAT)
    seen = next(o for o in report.observations if o.sheet == FLAT)
    f, cx, cy, k1, k2, p1, p2, k3 = view.camera
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    printed = seen.saddles_mm * card_world.SCALES
    points = np.column_stack([printed, np.zeros(len(printed))])
    found, turn, shift = cv2.solvePnP(
        points, seen.saddles_px, matrix, np.array([k1, k2, p1, p2, k3]), flags=cv2.SOLVEPNP_IPPE
    )
    assert found
    apart = rotation_matrix(turn.ravel()).T @ rotation_matrix(view.pose[:3])
    assert np.degrees(np.arccos(np.clip((np.trace(apart) - 1) / 2, -1, 1))) < 0.5
    np.testing.assert_allclose(shift.ravel(), view.pose[3:], atol=0.5)


def test_a_card_nothing_lies_on_is_told(report):
    """The other card is in the report, as one that no feature is measured from."""
    assert ("photo", FLAT) in report.targets
    assert ("photo", LEANING) not in report.targets


def test_bars_of_the_page_count_for_every_card_cut_from_it(report):
    """No card is said to lack bar readings; without them the page is named."""
    assert not any("bars" in w for w in report.warnings)
    unread = measured(card_world.job(prints=()))
    told = [d.words for ds in unread.doubts.values() for d in ds]
    assert any("bars of cards-a4-A were not measured" in words for words in told)
    parts = [r.measurements[0].primary.budget["print scale"] for r in (report, unread)]
    assert parts[1] > 3 * parts[0]


def test_bars_of_two_pages_that_both_carry_a_card_are_refused():
    """Nobody can know from which page it was cut."""
    both = (PrintEntry("cards-a4-A", 150.0, 150.0), PrintEntry("cards-letter-A", 150.0, 150.0))
    with pytest.raises(JobError, match=f"cards-a4-A and cards-letter-A, and {FLAT}|{LEANING}"):
        measured(card_world.job(prints=both))


def test_a_plane_that_could_be_of_two_cards_is_asked_for():
    """The targets are listed, with the line to write."""
    planes = (PlaneEntry(FACE, 0.0, 0.1),)
    with pytest.raises(JobError, match=f"{LEANING} or {FLAT} in photo 'photo'") as told:
        measured(card_world.job(planes=planes))
    assert f'on = "{LEANING}"' in str(told.value)


def test_a_card_is_a_plane_of_its_own():
    """Its name may stand as a feature's plane; unknown walls then cost certainty."""
    made = measured(card_world.job(plane=FLAT, planes=()))
    gap = made.measurements[0].primary
    assert abs(gap.value - GAP_MM) < gap.expanded
    assert sum("How far down walls go" in w for w in made.warnings) == 2
    assert made.heights_mm[FLAT] == 0.0


def test_features_on_two_cards_are_not_measured_from_each_other(monkeypatch):
    """One plane's name, two photos, another card in each: both cards are named."""
    job = card_world.job(planes=())
    first, second = job.features
    features = (replace(first, plane="sheet"), replace(second, plane="sheet", photo="other"))
    photos = (*job.photos, replace(job.photos[0], name="other"))
    found = {o.sheet: o for o in detect_targets(card_world.photo()).sheets}

    def one_each(photo, **options):
        seen = found[FLAT if photo.name == "photo" else LEANING]
        return Detection((replace(seen, photo=photo.name),))

    monkeypatch.setattr(pipeline, "detect_targets", one_each)
    with pytest.raises(JobError, match=f"{LEANING} and {FLAT}"):
        measured(replace(job, features=features, photos=photos))


def test_a_card_that_is_not_there_is_asked_for_with_a_distance():
    """It says from where it could be read: pinhole, f 26/36 of 2016 px, 6.7 mm as 30 px."""
    planes = (PlaneEntry(FACE, 0.0, 0.1, on="card-50-A"),)
    with pytest.raises(PhotoError, match=r"card-50-A.* was not found.* about 0.33 m"):
        measured(card_world.job(planes=planes))


def test_a_target_that_cannot_be_explained_is_left_out_if_nothing_lies_on_it(monkeypatch):
    """A crumpled card in the corner does not spoil the job; it is said."""
    found = detect_targets(card_world.photo())
    rng = np.random.default_rng(0)

    def crumpled(seen):
        if seen.sheet != LEANING:
            return seen
        return replace(seen, saddles_px=seen.saddles_px + rng.normal(0, 8, seen.saddles_px.shape))

    bad = Detection(tuple(crumpled(o) for o in found.sheets))
    monkeypatch.setattr(pipeline, "detect_targets", lambda photo, **options: bad)
    made = measured(card_world.job())
    assert [v.sheet for v in made.solution.views] == [FLAT]
    assert any(w.startswith("Left out: ") and LEANING in w for w in made.warnings)


def test_the_view_from_the_floor_is_the_same_view():
    """A plane seen from a frame below it lies where it lay (floor 12 mm under the card)."""
    view = np.array([1500, 750, 1000, 0.02, -0.03, 2e-4, 0, 0, 2.9, 0.2, 0.1, 3, -4, 180.0])
    points = np.array([[0.0, 0.0], [30.0, -20.0], [-15.0, 40.0]])
    np.testing.assert_allclose(
        image_from_plane(points, lowered(view, THICKNESS_MM), THICKNESS_MM + 0.5),
        image_from_plane(points, view, 0.5),
        atol=1e-9,
    )


def test_how_a_card_leans_is_in_the_budget_and_may_be_stated(report):
    """± 0.3° unless stated; ten times as large it counts as much more, at 0 not at all."""
    usual = report.measurements[0].primary.budget["plane lean"]
    flat, crooked = (
        measured(card_world.job(planes=(PlaneEntry(FACE, 0.0, 0.1, FLAT, THICKNESS_MM, deg),)))
        for deg in (0.0, 3.0)
    )
    assert usual > 0.0
    assert crooked.measurements[0].primary.budget["plane lean"] == pytest.approx(
        10 * usual, rel=0.2
    )
    assert "plane lean" not in flat.measurements[0].primary.budget
