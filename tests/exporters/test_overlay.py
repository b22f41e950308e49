"""What is drawn on a picture lands where the camera puts it."""

import io

import numpy as np
import pytest
from mill_scene import BORE, HEIGHTS
from PIL import Image

from photomeasure.errors import GeometryError
from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.canvas import Canvas
from photomeasure.exporters.crop import crop_box
from photomeasure.exporters.overlay import drawn_px, grid, letters, overlay
from photomeasure.exporters.panel import entries
from photomeasure.exporters.png import FRAME_PX, fitted_picture, render_still
from photomeasure.exporters.svg import arrow_heads
from photomeasure.exporters.tags import Tag, place_tags
from photomeasure.geometry.camera import image_from_plane

ACCENT = np.array([255, 122, 61])


def _rim(view, scale, radius):
    """Picture px (from the corner) of a circle around the bore, on the flange face."""
    a = np.linspace(0, 2 * np.pi, 40, endpoint=False)[:, None]
    points = BORE.centre + radius * np.hstack([np.cos(a), np.sin(a)])
    return (image_from_plane(points, view.parameters, HEIGHTS["flange face"]) + 0.5) * scale


def _colours(pixels, points_px):
    x, y = np.floor(points_px).astype(int).T
    return pixels[y, x].astype(float)


def test_the_bores_stroke_runs_along_its_rim_in_the_picture(report):
    """0.8 mm inside the stroke the photo shows white paper or side wall, outside grey metal."""
    picture, view = report.pictures[0], report.solution.views[0]
    stroke = next(s for s in overlay(report, picture, 20).strokes if s.role == "feature")
    rim = _rim(view, picture.scale, BORE.radius)
    nearest = np.linalg.norm(stroke.points_px[:, None] - rim[None], axis=2).min(axis=0)
    assert nearest.max() < 1.5
    upper = rim[:, 1] < rim[:, 1].mean() - 0.3 * np.ptp(rim[:, 1])
    inside = _colours(picture.pixels, _rim(view, picture.scale, BORE.radius - 0.8)[upper])
    outside = _colours(picture.pixels, _rim(view, picture.scale, BORE.radius + 0.8)[upper])
    assert inside.mean() > 180
    assert outside.mean() < 140


def test_a_still_shows_the_gaps_dimension_line_where_it_projects(report):
    """The middle of the gap's dimension line is drawn in the accent colour at its px."""
    picture, view = report.pictures[0], report.solution.views[0]
    gap = report.measurements[0]
    segment = gap.drawing[0]
    fitted = fitted_picture(report, picture)
    left, top, _, bottom = crop_box(report, fitted)
    ends = np.array([segment.start_mm, segment.end_mm])
    middle = (0.7 * ends[0] + 0.3 * ends[1])[None]
    at = (image_from_plane(middle, view.parameters, 6.0) + 0.5) * fitted.scale
    at += [-left, (FRAME_PX[1] - (bottom - top)) // 2 - top]
    still = render_still(report, fitted, entries(report, [gap]))
    assert still.shape == (1080, 1920, 3)
    np.testing.assert_allclose(_colours(still, at)[0], ACCENT, atol=3)


def test_stills_carry_at_most_three_measurements_and_are_1080p(report):
    """Five measurements in one photo make two stills; all are PNG of 1920 × 1080."""
    stills = EXPORTERS["png"].render(report)
    assert len(stills) == 5
    for name, content in stills.items():
        image = Image.open(io.BytesIO(content))
        assert (image.format, image.size, name[-4:]) == ("PNG", FRAME_PX, ".png")


def test_a_rectified_picture_has_its_bore_at_scale(report):
    """On the rectified picture 1 mm is `scale` px and y points up."""
    picture = report.pictures[2]
    stroke = next(s for s in overlay(report, picture, 20).strokes if s.role == "feature")
    low, high = stroke.points_px.min(axis=0), stroke.points_px.max(axis=0)
    np.testing.assert_allclose((low + high) / 2, [(0 + 68) * 4, (108 - 25) * 4], atol=0.2)
    np.testing.assert_allclose(high - low, 2 * BORE.radius * 4, atol=0.1)


def test_a_rectified_picture_draws_only_what_its_photo_showed(report):
    """The pin hole, seen in the left photo, is not drawn on the front photo's plane again."""
    drawn = overlay(report, report.pictures[2], 20)
    numbered = {tag.badge for tag in drawn.tags if tag.role == "value"}
    assert numbered == {"1", "2", "3", "4", "5"}


def test_a_rectified_picture_is_cropped_to_what_is_drawn(report):
    """Everything drawn that lies in the picture lies in its crop, with room around it."""
    picture = report.pictures[2]
    height, width = picture.pixels.shape[:2]
    left, top, right, bottom = crop_box(report, picture)
    points = drawn_px(report, picture)
    points = points[np.all((points >= 0) & (points <= [width, height]), axis=1)]
    assert np.all(points.min(axis=0) >= [left, top])
    assert np.all(points.max(axis=0) <= [right, bottom])
    assert (right - left) * (bottom - top) < width * height


def test_grid_lines_lie_every_ten_millimetres(report):
    """The line x = 50 mm stands at (50 + 68)·4 px and the one at y = 100 mm at 8·4 px."""
    lines, texts = grid(report.pictures[2])
    upright = {round(float(s.points_px[0, 0]), 3) for s in lines if np.ptp(s.points_px[:, 0]) == 0}
    assert len(upright) == 13
    assert (50 + 68) * 4 in upright
    assert (-1.0, 32.0, "100") in texts


def test_a_grid_on_a_photo_is_refused(report):
    """Only a rectified picture has a grid."""
    with pytest.raises(GeometryError, match="rectified"):
        grid(report.pictures[0])


def test_a_feature_is_drawn_only_where_it_was_seen(report):
    """The pin hole, pointed at in the left photo, gets no letter in the front one."""
    letter = letters(report)["pin hole"]
    badges = [{t.badge for t in overlay(report, p, 20).tags} for p in report.pictures[:2]]
    assert letter not in badges[0]
    assert letter in badges[1]


def test_tags_keep_to_their_room_and_apart():
    """Six tags around one spot neither overlap nor leave the room."""
    tags = [Tag("value", str(k), "11.13 ± 0.06 mm", (300.0, 200.0 + k)) for k in range(6)]
    room = (10.0, 10.0, 790.0, 590.0)
    boxes = [t.box for t in place_tags(tags, room, 16.0, np.empty((0, 2)))]
    for k, box in enumerate(boxes):
        assert room[0] <= box[0] < box[2] <= room[2]
        assert room[1] <= box[1] < box[3] <= room[3]
        for other in boxes[k + 1 :]:
            across = min(box[2], other[2]) - max(box[0], other[0])
            assert across <= 0 or min(box[3], other[3]) <= max(box[1], other[1])


def test_a_leader_goes_round_a_tag_that_stands_in_its_way():
    """The second tag is not placed where its leader would cross out the first."""
    tags = [
        Tag("value", "1", "11.13 mm", (300.0, 200.0)),
        Tag("value", "2", "9 mm", (300.0, 260.0)),
    ]
    first, second = place_tags(tags, (0.0, 0.0, 800.0, 600.0), 16.0, np.empty((0, 2)))
    near = np.clip(second.anchor_px, second.box[:2], second.box[2:])
    leader = np.linspace(second.anchor_px, near, 50)
    assert not np.any(np.all((leader > first.box[:2]) & (leader < first.box[2:]), axis=1))


def test_a_tag_hides_no_small_hole_beside_what_it_names():
    """Holes stand right and left of the anchor: the box goes above or below them."""
    a = np.linspace(0, 2 * np.pi, 24)[:, None]
    rim = 12 * np.hstack([np.cos(a), np.sin(a)])
    holes = np.vstack([rim + np.array([380, 200]), rim + np.array([220, 200])])
    tags = [Tag("value", "1", "11.13 ± 0.06 mm", (300.0, 200.0))]
    ((x0, y0, x1, y1),) = (t.box for t in place_tags(tags, (0, 0, 800, 600), 20.0, holes))
    x, y = holes.T
    assert not np.any((x > x0) & (x < x1) & (y > y0) & (y < y1))


def test_features_that_are_not_asked_for_are_not_hidden_either(report):
    """With one measurement on a still, its tag covers no rim of the other holes."""
    picture = fitted_picture(report, report.pictures[0])
    holes = [s.points_px for s in overlay(report, picture, 40).strokes if s.role == "feature"]
    small = np.vstack([c for c in holes if np.ptp(c, axis=0).max() < 100])
    for measurement in report.measurements[:5]:
        for tag in overlay(report, picture, 40, [measurement]).tags:
            inside = np.all((small > tag.box[:2]) & (small < tag.box[2:]), axis=1)
            assert not inside.any()


def test_a_canvas_smooths_a_slanted_line():
    """Between line and ground there are colours of both, and the frame keeps its size."""
    canvas = Canvas(Image.new("RGB", (40, 30), (0, 0, 0)))
    canvas.line([(2.0, 3.0), (37.0, 20.0)], (200, 200, 200), 2)
    seen = np.asarray(canvas.finished())
    assert seen.shape == (30, 40, 3)
    assert {0, 200} < set(seen[..., 0].ravel().tolist())


def test_arrow_heads_point_at_the_ends_of_a_dimension():
    """Each head's tip is an end of the line; a line without length has none."""
    heads = arrow_heads(np.array([[0.0, 0.0], [90.0, 0.0]]), 12.0)
    assert [tuple(h[0]) for h in heads] == [(0.0, 0.0), (90.0, 0.0)]
    assert arrow_heads(np.zeros((2, 2)), 12.0) == []


def test_letters_go_on_after_z():
    """The 27th feature is called aa."""
    from photomeasure.exporters.overlay import _letter  # noqa: PLC0415

    assert [_letter(k) for k in (0, 25, 26, 51)] == ["a", "z", "aa", "az"]
