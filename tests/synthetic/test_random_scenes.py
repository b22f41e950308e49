from __future__ import annotations

import numpy as np
import pytest
import shapely

from photomeasure.records.shapes import Circle, Edge
from photomeasure.synthetic.random_scenes import KINDS, another_photo, board_scene, random_scene
from photomeasure.synthetic.scene import Scene
from photomeasure.synthetic.taking import job_of
from photomeasure.vision.sheets import sheet

SCENES = [random_scene(seed, kind=kind) for kind in KINDS for seed in range(15)]


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_gives_the_same_scene(kind: str) -> None:
    first, again = (random_scene(7, kind=kind) for _ in range(2))
    assert first.parts == again.parts
    assert first.pose == again.pose
    assert [f.entry for f in first.features] == [f.entry for f in again.features]
    assert first.parts != random_scene(8, kind=kind).parts


@pytest.mark.parametrize("scene", SCENES, ids=lambda s: s.name)
def test_the_whole_ring_is_in_the_picture_and_the_tilt_is_as_asked(scene: Scene) -> None:
    seen = scene.image_from_sheet(sheet(scene.print.sheet).saddles_mm)
    assert np.all(seen > 15)
    assert np.all(seen < np.array(scene.lens.size_px) - 15)
    assert 14.9 < np.degrees(scene.pose.tilt_rad) < 35.1
    assert np.ptp(seen, axis=0).max() > 0.55 * max(scene.lens.size_px)


@pytest.mark.parametrize("scene", SCENES, ids=lambda s: s.name)
def test_parts_lie_in_the_window_on_flat_paper_clear_of_each_other(scene: Scene) -> None:
    window = sheet(scene.print.sheet).window
    assert window is not None
    outlines = [shapely.Polygon(p.outline.polygon()) for p in scene.parts]
    assert all(shapely.box(*window).contains(outline) for outline in outlines)
    for part, outline in zip(scene.parts, outlines, strict=True):
        assert np.all(scene.print.curl.height_mm(part.outline.polygon()) == 0)
        for hole in part.holes:
            rim = shapely.Point(hole.centre_mm).buffer(hole.rim_radius_mm + 1)
            assert outline.contains(rim)
    assert len(outlines) == 1 or outlines[0].distance(outlines[1]) > 1.0


def test_clicks_scatter_by_three_pixels_round_what_they_mean() -> None:
    misses = []
    for scene in SCENES:
        top = scene.parts[0].thickness_mm
        for feature in scene.features:
            if isinstance(feature.shape, Circle) and not feature.wrong_rim:
                clicks = np.array(feature.entry.clicks_px)
                if len(clicks) < 3:
                    continue
                at = scene.plane_from_image(clicks, top)
                arms = at - feature.shape.centre
                rim = feature.shape.centre + feature.shape.radius * (
                    arms / np.linalg.norm(arms, axis=1)[:, None]
                )
                misses += np.linalg.norm(
                    scene.image_from_plane(rim, top) - clicks, axis=1
                ).tolist()
    # across the rim only one of the two components counts: rms 3 px
    assert np.sqrt(np.mean(np.square(misses))) == pytest.approx(3.0, abs=0.5)


def test_some_users_click_nearer_the_wrong_rim() -> None:
    circles = [f for s in SCENES for f in s.features if isinstance(f.shape, Circle)]
    assert 0 < sum(f.wrong_rim for f in circles) < 0.3 * len(circles)


def test_true_values_agree_with_the_true_shapes() -> None:
    for scene in SCENES:
        shapes = {f.entry.name: f.shape for f in scene.features}
        for asked in scene.measurements:
            named = [shapes[n] for _, names in asked.entry.of for n in names]
            if asked.entry.kind == "bolt_circle":
                centres = np.array([s.centre for s in named if isinstance(s, Circle)])
                away = np.hypot(*(centres - np.array(scene.parts[0].holes[0].centre_mm)).T)
                assert 2 * away == pytest.approx(asked.value)
            if asked.entry.kind == "angle":
                a, b = (s.ends[1] - s.ends[0] for s in named if isinstance(s, Edge))
                assert a @ b == pytest.approx(0.0, abs=1e-6)


def test_stated_heights_and_bars_differ_from_the_truth_as_stated() -> None:
    heights, bars = [], []
    for scene in (random_scene(k) for k in range(200)):
        heights.append(scene.stated_planes[0].height_mm - scene.parts[0].thickness_mm)
        assert scene.stated_print is not None
        bars.append(scene.stated_print.bar_x_mm - 150 * scene.print.scale_x)
    assert np.std(heights) == pytest.approx(0.05, rel=0.2)
    assert np.std(bars) == pytest.approx(0.05, rel=0.2)


def test_the_job_holds_what_the_user_says_and_not_the_truth() -> None:
    scene = SCENES[0]
    job = job_of(scene)
    assert [f.name for f in job.features] == [f.entry.name for f in scene.features]
    assert job.planes == scene.stated_planes
    assert job.planes[0].height_mm != scene.parts[0].thickness_mm


def test_an_unknown_kind_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="plate, gap"):
        random_scene(1, kind="sphere")


def test_another_photo_keeps_the_set_up_and_moves_the_phone() -> None:
    scene = SCENES[0]
    other = another_photo(scene, 1)
    assert other.parts == scene.parts
    assert other.print == scene.print
    assert other.lens.k1 == scene.lens.k1
    assert other.lens.f_px == pytest.approx(scene.lens.f_px, rel=0.01)
    assert np.linalg.norm(other.pose.camera_mm - scene.pose.camera_mm) > 5
    assert other.seed != scene.seed


def test_a_board_photo_shows_the_whole_board_through_the_same_lens() -> None:
    scene = SCENES[0]
    board = board_scene(scene, 3)
    seen = board.image_from_sheet(sheet("board-a4-A").saddles_mm)
    assert np.all((seen > 0) & (seen < np.array(board.lens.size_px) - 1))
    assert board.parts == ()
    assert board.lens.k1 == scene.lens.k1
