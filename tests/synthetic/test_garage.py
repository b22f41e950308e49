"""Whatever goes wrong with a photo, its truth stays exact."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from photomeasure.synthetic.coverage import Box
from photomeasure.synthetic.flat import render
from photomeasure.synthetic.garage import ADVERSITIES, EXTREME, MILD, garage_scene
from photomeasure.synthetic.phone import develop, resample
from photomeasure.synthetic.scene import Curl, Light, Part, Phone, Scene
from photomeasure.synthetic.shading import face_light
from photomeasure.synthetic.solids import project
from photomeasure.synthetic.taking import on_sensor
from photomeasure.synthetic.wear import Screen, Taped, Waves, Wear, disc_kernel, path_kernel
from photomeasure.vision.sheets import sheet
from tests.synthetic.scenes import cover, plate, scene
from tests.synthetic.test_flat import edge_in_row, strip, true_x

LIMIT_PX = 0.01


def saddle_off_px(bent: Scene, saddle_mm: np.ndarray) -> float:
    """By how much the edges above and below a saddle miss, on average, the line through it, px.

    Growth moves the one edge to the left and the other to the right by as much.
    """
    reach = np.array([0.0, 0.8])  # mm: short of any marker
    line = np.array([saddle_mm - reach, saddle_mm + reach])
    box, picture = strip(bent, bent.image_from_sheet(saddle_mm[None])[0])
    y = float(bent.image_from_sheet(saddle_mm[None])[0, 1])
    offsets = []
    for k in (round(y) - 5, round(y) + 5):
        true = true_x(bent, line, k)
        start = round(true) - 4
        row = picture[k - box[1], start - box[0] : start - box[0] + 9]
        offsets.append(edge_in_row(row, start) - true)
    return abs(sum(offsets)) / 2


@pytest.mark.parametrize(
    "relief",
    [Curl(10.0, 0.3, 70.0, 150.0), Waves(3.0, 70.0, 0.4, 1.0, (60.0, 90.0))],
    ids=["curled", "wavy"],
)
def test_saddles_of_bent_paper_are_where_the_truth_says(relief) -> None:
    """The crossing lies on the risen paper, not where flat paper would have it."""
    bent = replace(scene(), print=replace(scene().print, curl=relief))
    saddles = sheet("window-a4-A").saddles_mm
    heights = relief.height_mm(saddles)
    high = saddles[np.argsort(heights)[[-1, -8, -20]]]
    assert relief.height_mm(high).min() > 0.8
    for saddle in high:
        assert saddle_off_px(bent, saddle) < LIMIT_PX


def test_waves_lie_flat_under_the_parts() -> None:
    """Nothing rises inside the rectangle; outside the ripples reach their height."""
    waves = Waves(2.0, 60.0, 0.7, 0.3, (50.0, 80.0))
    inside = np.random.default_rng(1).uniform(-1, 1, (200, 2)) * [50.0, 80.0]
    outside = np.random.default_rng(2).uniform(-1, 1, (4000, 2)) * [100.0, 140.0]
    assert waves.height_mm(inside).max() == 0
    assert waves.height_mm(outside).max() == pytest.approx(2.0, abs=0.02)
    assert waves.height_mm(outside).min() >= 0


def test_a_taped_piece_moves_as_one() -> None:
    """Distances within the piece stay, the rest does not move."""
    taped = Taped(0.0, 60.0, (0.5, -0.3), 0.01)
    points = np.array([[70.0, 10.0], [90.0, -20.0], [10.0, 5.0], [59.0, 100.0]])
    moved = taped.moved(points)
    assert np.hypot(*(moved[0] - moved[1])) == pytest.approx(np.hypot(*(points[0] - points[1])))
    assert np.array_equal(moved[2:], points[2:])
    assert np.hypot(*(moved[0] - points[0])) > 0.4


def test_what_is_torn_away_shows_the_table() -> None:
    """Inside the hole there is table, beside it the sheet as it was."""
    hole = ((70.0, 60.0), (110.0, 60.0), (110.0, 90.0), (70.0, 90.0))
    whole = scene()
    torn = replace(whole, print=replace(whole.print, wear=Wear(torn_mm=(hole,))))
    x, y = np.rint(whole.image_from_sheet(np.array([[88.0, 75.0]]))[0]).astype(int)
    box = (x - 10, y - 10, x + 11, y + 11)
    table = render(replace(torn, print=replace(torn.print, paper_reflectance=0.5)), box)
    assert np.allclose(render(torn, box), table)  # whatever the paper is like
    assert not np.allclose(render(whole, box), table)


def test_a_screens_shadow_ends_where_its_outline_is() -> None:
    """Half the lamp's light is lost on the outline itself, all of it inside."""
    lit = scene()
    light = Light(shadow_darkness=0.6)
    outline = ((-200.0, -20.0), (-200.0, -200.0), (200.0, -200.0), (200.0, -20.0))
    dark = replace(lit, light=replace(light, screens=(Screen(outline, 0.5),)))
    lit = replace(lit, light=light)
    for y_mm, share in ((-10.0, 1.0), (-20.0, 0.7), (-30.0, 0.4)):
        x, y = np.rint(lit.image_from_plane(np.array([[0.0, y_mm]]), 0.0)[0]).astype(int)
        box: Box = (x - 40, y - 40, x + 41, y + 41)
        ratio = render(dark, box)[40, 40] / render(lit, box)[40, 40]
        assert ratio == pytest.approx(share, abs=0.03)


def test_a_high_part_shades_a_low_one_but_not_the_reverse() -> None:
    """The shadow on the low face is the high part's own, from its extra height."""
    high = plate(thickness_mm=8.0, edge_chamfer_mm=0.0)
    low = Part("low", cover().outline, 3.0)
    light = Light(towards=(-1.0, 0.0, 1.0), radius_rad=0.001, shadow_darkness=0.7)
    both = replace(scene(high, low), light=light)
    edge = float(high.outline.polygon()[:, 0].max())
    box = (0, 0, *both.lens.size_px)
    on_low = face_light(both, low, box)
    reach = shapely.box(edge + 0.5, -2.0, edge + 4.5, 2.0)  # 5 mm of height, light at 45°
    shaded = np.rint(shapely.get_coordinates(project(both, reach, 3.0).centroid)).astype(int)[0]
    beyond = np.rint(both.image_from_plane(np.array([[edge + 9.0, 0.0]]), 3.0)[0]).astype(int)
    assert on_low[shaded[1], shaded[0]] == pytest.approx(0.3, abs=0.02)
    assert on_low[beyond[1], beyond[0]] == pytest.approx(1.0, abs=0.02)
    assert np.all(face_light(both, high, box) == 1)


def test_kernels_spread_light_evenly_and_in_place() -> None:
    """A disc and a path keep all light and do not move the picture."""
    for kernel in (disc_kernel(4.3), path_kernel(((0.0, 0.0), (7.0, 2.0), (9.0, 6.0)))):
        half = kernel.shape[0] // 2
        at = np.arange(-half, half + 1)
        assert kernel.sum() == pytest.approx(1.0, abs=1e-5)
        assert abs(float(kernel.sum(axis=0) @ at)) < 0.01
        assert abs(float(kernel.sum(axis=1) @ at)) < 0.01
    # an even disc of radius r has the variance r²/4 along each axis
    disc = disc_kernel(20.0)
    at = np.arange(-(disc.shape[0] // 2), disc.shape[0] // 2 + 1)
    assert float(disc.sum(axis=0) @ at**2) == pytest.approx(100.0, rel=0.02)


@pytest.mark.parametrize("times", [2.0, 1600 / 4032])
def test_a_resampled_picture_keeps_its_truth(times: float) -> None:
    """An edge of the printed ring lies where the final lens says, zoomed in or made small."""
    lens = scene().lens
    size = (round(4032 * times), round(3024 * times)) if times < 1 else lens.size_px
    if times < 1:
        lens = replace(
            lens,
            f_px=lens.f_px * times,
            cx=(lens.cx + 0.5) * times - 0.5,
            cy=(lens.cy + 0.5) * times - 0.5,
            size_px=size,
        )
    phone = Phone(blur_px=0.6, noise=0.0, sharpening=0.0, resampled=times)
    whole = replace(scene(), lens=lens, phone=phone)
    before = on_sensor(whole)
    pixels = resample(develop(render(before), before.phone), whole.lens.size_px)
    design = sheet("window-a4-A")
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    seen = whole.image_from_sheet(design.saddles_mm[::20])
    inside = ((seen > 30) & (seen < np.array(size) - 30)).all(axis=1)
    seen = seen[inside]
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 0.001)
    found = cv2.cornerSubPix(
        grey, np.float32(seen).reshape(-1, 1, 2).copy(), (4, 4), (-1, -1), criteria
    )
    off = found.reshape(-1, 2) - seen
    assert len(seen) >= 4
    assert np.abs(np.median(off, axis=0)).max() < 0.1


@pytest.mark.parametrize("adversity", ADVERSITIES, ids=lambda a: a.name)
@pytest.mark.parametrize("kind", ["plate", "gap"])
def test_every_adversity_makes_a_scene_with_clicks_in_the_picture(adversity, kind) -> None:
    """Always the same one, at every level; the sheet under the parts stays flat."""
    for level in (MILD, EXTREME):
        made = garage_scene(60_500, [(adversity.name, level)], kind)
        again = garage_scene(60_500, [(adversity.name, level)], kind)
        assert replace(made, features=()) == replace(again, features=())
        assert [f.entry for f in made.features] == [f.entry for f in again.features]
        clicks = np.concatenate([np.array(f.entry.clicks_px) for f in made.features])
        assert np.all(clicks > 0)
        assert np.all(clicks < np.array(made.lens.size_px))
        under = np.concatenate([p.outline.polygon() for p in made.parts[: 1 + (kind == "gap")]])
        assert np.all(made.print.curl.height_mm(under) == 0)


def test_several_adversities_lie_on_one_scene() -> None:
    """Each leaves its own mark, in whatever order they are named."""
    names = [("greasy sheet", 0), ("covered ring", 1), ("dim light", 1)]
    made = garage_scene(60_501, names)
    again = garage_scene(60_501, names[::-1])
    assert replace(made, features=()) == replace(again, features=())
    assert made.print.wear.stains
    assert made.parts[-1].name == "rag"
    assert made.phone.noise == 0.1
