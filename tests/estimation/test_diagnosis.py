"""What is wrong with a target is named, and no number is stated that it would falsify."""

from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure.errors import CalibrationError, PhotoError
from photomeasure.estimation.diagnosis import diagnose, refuse_strained_lens
from photomeasure.estimation.foresight import FACE, expected_length
from photomeasure.estimation.honest import MISFIT, honest_views
from photomeasure.estimation.joint import ScalePrior
from photomeasure.estimation.moved import moved_targets
from photomeasure.estimation.prints import Contradiction, contradicted_prints
from photomeasure.estimation.views import estimate_views
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.vision.sheets import sheet

SADDLES = sheet("window-a4-A").saddles_mm
ENDS = np.array([[-50, 0], [50, 0], [0, -50], [0, 50.0]])
BARS = 3e-4


def seen(height_mm=0.0, *, tilt_deg=20.0, seed=1, **more):
    view = worlds.looking_down(tilt_deg, lean_deg=37.0 * seed, distance_mm=310.0)
    rng = np.random.default_rng(seed)
    return view, worlds.sighting(view, rng, height_mm=height_mm, **more)


def diagnosed(sighting, u_scale=BARS):
    fit, solution = estimate_views(
        [sighting], {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer(u_scale)}
    )
    return diagnose([sighting], fit, solution), solution


def slope(direction_deg, start_mm, rise):
    """Height that rises beyond a line, in mm per mm."""
    way = np.array([np.cos(np.radians(direction_deg)), np.sin(np.radians(direction_deg))])
    return rise * np.clip(SADDLES @ way - start_mm, 0, None)


def test_what_no_printer_does_is_not_put_down_to_the_bars():
    """A fifth longer one way is bent paper or a stretched picture; common practice, no source."""
    seen = Contradiction("window-a4-A", True, stated=0.002, seen=-0.2, u_seen=0.003, apart=-60.0)
    assert "no printer" in seen.words
    assert "Read both bars again" not in seen.words


@pytest.mark.parametrize("seed", range(4))
def test_a_flat_sheet_has_no_diagnosis(seed):
    """Noise alone, at any tilt, and paper that lifts by half a millimetre are not named."""
    for tilt in (3.0, 30.0):
        assert diagnosed(seen(tilt_deg=tilt, seed=seed)[1])[0] == ()
    bend = slope(90, 70, 1.0) ** 2 * (0.3 / 62.0**2)
    assert diagnosed(seen(bend, seed=seed)[1])[0] == ()


@pytest.mark.parametrize(
    ("height", "kinds", "where", "size"),
    [
        (slope(0, 40, 0.06), {"folded", "bent"}, "right side", 2.6),
        (slope(90, 0, 0.025), {"folded"}, "upper side", 3.1),
        (slope(55, 100, 0.05), {"lifted"}, "upper right corner", 2.3),
        (slope(-125, 100, 0.05), {"lifted"}, "lower left corner", 2.3),
    ],
)
def test_bent_paper_is_named_with_its_place(height, kinds, where, size):
    """A crease and lifted corners are told apart, placed, and sized within a factor of two."""
    (found,), _ = diagnosed(seen(height)[1])
    assert found.kind in kinds
    assert where in found.where
    assert size / 2 < abs(found.size[0]) < size * 2
    assert found.where in found.words
    assert "flat" in found.words


def test_a_sheet_in_two_pieces_is_named():
    """A sheet cut and taped 0.4 mm apart is told from a bent one, to a tenth."""
    view, whole = seen()
    places = SADDLES + np.outer(SADDLES[:, 1] > 45.0, [0.4, 0.0])
    px = image_from_plane(places, view, 0.0) + np.random.default_rng(2).normal(0, 0.03, (200, 2))
    observation = replace(whole.observation, saddles_px=px)
    (found,), _ = diagnosed(replace(whole, observation=observation))
    assert (found.kind, found.where) == ("torn", "its upper part")
    assert max(np.abs(found.size)) == pytest.approx(0.4, abs=0.04)


def test_a_picture_of_two_parts_is_named():
    """A step of 2 px between the left and right part of the picture is a bad panorama."""
    _, whole = seen()
    px = whole.observation.saddles_px.copy()
    px[px[:, 0] > 0.5 * worlds.SIZE[0], 1] += 2.0
    observation = replace(whole.observation, saddles_px=px)
    (found,), _ = diagnosed(replace(whole, observation=observation))
    assert found.kind == "stitched"
    assert max(np.abs(found.size)) == pytest.approx(2.0, abs=0.3)


@pytest.mark.parametrize("tilt_deg", [5.0, 20.0])
@pytest.mark.parametrize(
    ("stretch", "stated", "said"),
    [
        (1.0, (1.0, 1.0), ""),
        (1.02, (1.0, 1.0), "as stated of its print +0.00 %. Read both bars again"),
        (1.012, (1.0, 1.012), "look swapped"),
        (1.0, (152 / 150, 1.0), "wrong edges"),
    ],
)
def test_a_print_that_contradicts_its_bars_is_named(tilt_deg, stretch, stated, said):
    """The photo's own account of x against y is right within its doubt, and names the slip."""
    _, sighting = seen(tilt_deg=tilt_deg, scale=(stretch, 1.0))
    scale = ScalePrior(np.array(stated), np.full(2, 5e-4))
    fit, _ = estimate_views([sighting], {"lens": worlds.phone_prior()}, {"window-a4-A": scale})
    found = list(contradicted_prints(fit))
    if not said:
        assert found == []
        return
    (contradiction,) = found
    assert contradiction.seen == pytest.approx(stretch - 1, abs=2.5 * contradiction.u_seen)
    assert said in contradiction.words


@pytest.mark.parametrize("seed", range(6))
def test_no_confident_wrong_number(seed):
    """However the paper is bent, 100 mm come out within the stated U, or are refused."""
    rng = np.random.default_rng(seed)
    lenses, scales = {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer(BARS)}
    inside, refused = 0, 0
    for rise in (0.01, 0.03, 0.08, 0.2):
        height = slope(rng.uniform(0, 360), rng.uniform(20, 90), rise)
        view, sighting = seen(height, tilt_deg=rng.uniform(5, 30), seed=seed)
        try:
            solution = honest_views([sighting], lenses, scales)
        except (PhotoError, CalibrationError):
            refused += 1
            continue
        px = image_from_plane(ENDS, view, FACE.mm)
        a, b, c, d = plane_from_image(px, solution.views[0].parameters, FACE.mm)
        error = max(abs(np.linalg.norm(b - a) - 100), abs(np.linalg.norm(d - c) - 100))
        assert error < 1.3 * expected_length(solution, solution.views[0])[0]
        inside += 1
    assert inside + refused == 4


def test_a_mild_bend_widens_the_uncertainty():
    """The misfit is a source of its own, and a warning says what it is."""
    _, sighting = seen(slope(90, 60, 0.02))
    lenses, scales = {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer(BARS)}
    _, plain = estimate_views([sighting], lenses, scales)
    solution = honest_views([sighting], lenses, scales)
    u = [expected_length(s, s.views[0])[0] for s in (plain, solution)]
    assert u[1] > u[0]
    assert MISFIT in solution.covariances
    assert "upper side" in solution.warnings[0]


def test_an_off_centre_crop_is_refused():
    """A picture cropped to one side contradicts that a lens looks through its middle."""
    _, whole = seen(tilt_deg=25.0)
    px = whole.observation.saddles_px - [0.0, 900.0]
    cropped = replace(
        whole, size_px=(3024, 3132), observation=replace(whole.observation, saddles_px=px)
    )
    prior = worlds.lens_from_exif(worlds.FACTS, (3024, 3132))
    with pytest.raises(PhotoError, match="cropped or straightened"):
        honest_views([cropped], {"lens": prior}, {"window-a4-A": worlds.printer(0.02)})


@pytest.mark.parametrize("shift", [0.0, 1.5])
def test_a_target_that_moved_between_two_photos_is_named(shift):
    """Two sheets side by side; one is pushed by 1.5 mm between the photos."""
    sightings = []
    for name, tilt, moved in (("one", 20.0, 0.0), ("two", -25.0, shift)):
        rng = np.random.default_rng(int(abs(tilt)))
        view = worlds.looking_down(tilt, distance_mm=700.0)
        sightings.append(worlds.sighting(view, rng, name=name))
        beside = worlds.sighting(view, rng, name=name, identity="window-a4-B")
        places = beside.observation.saddles_mm + np.array([215.0 + moved, 3.0])
        px = image_from_plane(places, view, 0.0) + rng.normal(0, 0.03, places.shape)
        observation = replace(beside.observation, saddles_px=px)
        sightings.append(replace(beside, observation=observation))
    scales = {f"window-a4-{c}": worlds.printer(BARS) for c in "AB"}
    _, solution = estimate_views(sightings, {"lens": worlds.phone_prior()}, scales)
    found = list(moved_targets(solution))
    if not shift:
        assert found == []
        return
    (moved,) = found
    assert moved.photos == ("one", "two")
    assert moved.shift_mm == pytest.approx(shift, abs=0.3)
    assert "window-a4-B moved against window-a4-A" in moved.words


@pytest.mark.parametrize(
    ("which", "off", "said"),
    [
        (0, 900.0, r"of 3\d\d\d px focal length; by its EXIF \d+ px are expected"),
        (1, 400.0, r"pointed \d+ px beside the middle of the picture; at most \d+ px can be"),
        (3, 0.5, r"bent by \d+ px more or less .* at the corners .* at most \d+ px can be"),
    ],
)
def test_a_strange_lens_is_told_in_pixels(which, off, said):
    """Longer than its EXIF says, looking aside, bent: seen, limit and remedy in plain words."""
    sight = seen()[1]
    fit, _ = estimate_views(
        [sight], {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer()}
    )
    strange = fit.vector.copy()
    strange[fit.unknowns.lens("lens")][which] += off
    with pytest.raises(PhotoError, match=said) as told:
        refuse_strained_lens(replace(fit, vector=strange))
    assert "uncertaint" not in str(told.value)
    assert "as the camera made it" in str(told.value)
