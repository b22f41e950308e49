"""Every edge and saddle must lie where geometry says, to 0.005 px, before the phone."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely

from photomeasure.synthetic.coverage import Box, Picture
from photomeasure.synthetic.flat import render
from photomeasure.synthetic.ink import page
from photomeasure.synthetic.scene import Scene
from photomeasure.synthetic.shading import hard_shadow
from photomeasure.synthetic.solids import visible_surfaces
from photomeasure.vision.sheets import sheet
from tests.synthetic.scenes import cover, plate, scene

LIMIT_PX = 0.005
HALF = 12


@cache
def empty() -> Scene:
    return scene()


def strip(picture_scene: Scene, centre_px: np.ndarray) -> tuple[Box, Picture]:
    """A small region round a place in the picture."""
    x, y = np.rint(centre_px).astype(int)
    box = (x - HALF, y - HALF, x + HALF + 1, y + HALF + 1)
    return box, render(picture_scene, box)


def edge_in_row(row: Picture, x0: int) -> float:
    """Where a row of box pixels steps from its first to its last value: by area, exact."""
    share = (row - row[-1]) / (row[0] - row[-1])
    return float(x0 - 0.5 + share.sum())


def true_x(picture_scene: Scene, line_mm: np.ndarray, row: int) -> float:
    """x at which a nominal line of the sheet (2, 2) crosses the middle of a row, on average."""
    share = np.linspace(0, 1, 400)[:, None]
    seen = picture_scene.image_from_sheet(line_mm[0] + share * (line_mm[1] - line_mm[0]))
    order = np.argsort(seen[:, 1])
    heights = np.linspace(row - 0.5, row + 0.5, 21)
    return float(np.interp(heights, seen[order, 1], seen[order, 0]).mean())


@pytest.mark.parametrize("index", [0, 40, 81, 120, -1])
def test_edges_of_printed_squares_lie_where_the_lens_puts_them(index: int) -> None:
    box_mm = sheet("window-a4-A").squares[index]
    grown = box_mm[2] + empty().print.growth_mm / empty().print.scale_x
    middle = (box_mm[1] + box_mm[3]) / 2
    line = np.array([[grown, middle - 2.0], [grown, middle + 2.0]])
    box, picture = strip(empty(), empty().image_from_sheet(line.mean(axis=0)[None])[0])
    span = 4  # px on each side: inside the white margin round a marker
    rows = picture[HALF - 3 : HALF + 4]
    for k, row in enumerate(rows, start=box[1] + HALF - 3):
        start = round(true_x(empty(), line, k)) - span
        cut = row[start - box[0] : start - box[0] + 2 * span + 1]
        assert abs(edge_in_row(cut, start) - true_x(empty(), line, k)) < LIMIT_PX


def test_saddles_are_not_displaced_by_growth_curl_or_lens() -> None:
    """The two edges that meet at a saddle, above and below it, average to its own line."""
    design = sheet("window-a4-A")
    errors = []
    for saddle in design.saddles_mm[::35]:
        reach = np.array([0.0, 0.8])  # mm: short of any marker
        line = np.array([saddle - reach, saddle + reach])
        box, picture = strip(empty(), empty().image_from_sheet(saddle[None])[0])
        y = float(empty().image_from_sheet(saddle[None])[0, 1])
        offsets = []
        for k in (round(y) - 5, round(y) + 5):
            true = true_x(empty(), line, k)
            start = round(true) - 4
            row = picture[k - box[1], start - box[0] : start - box[0] + 9]
            offsets.append(edge_in_row(row, start) - true)
        errors.append(np.mean(offsets))
    assert np.abs(errors).max() < LIMIT_PX
    assert abs(np.mean(errors)) < LIMIT_PX / 2


def test_ink_lies_outside_its_design_by_the_growth() -> None:
    bare = scene()
    design, printed = sheet("window-a4-A"), bare.print
    x, y0, y1 = design.squares[0][2], design.squares[0][1], design.squares[0][3]
    middle = np.array([[x, (y0 + y1) / 2]])
    grown = middle + np.array([[printed.growth_mm / printed.scale_x, 0.0]])
    seen = bare.image_from_sheet(np.vstack([middle, grown]))
    box, picture = strip(bare, seen[0])
    row = picture[round(seen[0, 1]) - box[1], HALF - 4 : HALF + 5]
    found = edge_in_row(row, box[0] + HALF - 4)
    assert found - seen[0, 0] == pytest.approx(seen[1, 0] - seen[0, 0], abs=0.03)


def seen_by_marching(picture_scene: Scene, points_px: np.ndarray) -> list[str]:
    """What each sight line meets first, by stepping down it in space: the slow way."""
    heights = np.arange(8.5, 0.0, -0.008)
    left = np.array(["paper"] * len(points_px), dtype=object)
    for height in heights[::-1]:
        at = picture_scene.plane_from_image(points_px, height)
        for part in picture_scene.parts:
            if height > part.thickness_mm:
                continue
            below = part.thickness_mm - height
            inset = max(part.edge_chamfer_mm - below, 0.0)
            outline = shapely.Polygon(part.outline.polygon()).buffer(-inset, join_style="mitre")
            solid = shapely.contains_xy(outline, *at.T)
            for hole in part.holes:
                radius = hole.radius_mm + max(hole.chamfer_mm - below, 0.0)
                away = np.hypot(*(at - np.array(hole.centre_mm)).T)
                solid &= away > radius
            face = "face" if below < 0.01 else "side"
            left[solid] = f"{part.name} {face}"
    return left.tolist()


def test_faces_walls_holes_and_hiding_agree_with_sight_lines_marched_in_space() -> None:
    crowded = scene(plate(), cover(), lean_deg=190.0, tilt_deg=34.0)
    around = crowded.image_from_plane(np.array([[-60.0, -45.0], [60.0, 60.0]]), 4.0)
    rng = np.random.default_rng(5)
    points = rng.uniform(around.min(axis=0), around.max(axis=0), (2500, 2))
    surfaces = visible_surfaces(crowded)
    found = np.array(["paper"] * len(points), dtype=object)
    border = np.full(len(points), np.inf)
    dots = shapely.points(points)
    for surface in surfaces:
        inside = shapely.contains_xy(surface.region, *points.T)
        kind = "face" if surface.kind == "face" else "side"
        found[inside] = f"{surface.part.name} {kind}"
        border = np.minimum(border, shapely.distance(surface.region.boundary, dots))
    clear = border > 0.3  # the march steps by 0.008 mm, about 0.1 px
    told = np.array(seen_by_marching(crowded, points), dtype=object)
    assert clear.sum() > 2000
    assert {"plate side", "cover side", "paper"} <= set(told[clear])
    assert np.array_equal(found[clear], told[clear])


def test_seen_pieces_never_overlap() -> None:
    regions = [s.region for s in visible_surfaces(scene(plate(), cover()))]
    assert sum(r.area for r in regions) == pytest.approx(shapely.union_all(regions).area)


def test_the_rim_of_a_hole_lies_at_the_height_of_the_face() -> None:
    part = plate(edge_chamfer_mm=0.0)
    bare = scene(part)
    bore = part.hole("bore")
    face = next(s for s in visible_surfaces(bare) if s.kind == "face")
    rim = bare.image_from_plane(
        np.array(bore.centre_mm) + bore.radius_mm * np.array([[1.0, 0], [0, 1], [-0.6, -0.8]]),
        part.thickness_mm,
    )
    assert np.max(shapely.distance(face.region.boundary, shapely.points(rim))) < LIMIT_PX


def test_the_shadow_on_the_paper_agrees_with_light_marched_in_space() -> None:
    part = plate()
    shift = np.array([0.9, -0.5])
    shadow = hard_shadow(part, shift)
    rng = np.random.default_rng(3)
    ground = rng.uniform([-65, -50], [30, 60], (1500, 2))
    dark = np.zeros(len(ground), bool)
    for height in np.arange(0.005, part.thickness_mm, 0.01):
        at = ground - shift * height
        below = part.thickness_mm - height
        inset = max(part.edge_chamfer_mm - below, 0.0)
        outline = shapely.Polygon(part.outline.polygon()).buffer(-inset, join_style="mitre")
        solid = shapely.contains_xy(outline, *at.T)
        for hole in part.holes:
            radius = hole.radius_mm + max(hole.chamfer_mm - below, 0.0)
            solid &= np.hypot(*(at - np.array(hole.centre_mm)).T) > radius
        dark |= solid
    clear = shapely.distance(shadow.boundary, shapely.points(ground)) > 0.05
    assert np.array_equal(shapely.contains_xy(shadow, *ground.T)[clear], dark[clear])


def test_brightness_falls_from_lit_paper_to_shadow_to_ink() -> None:
    bare = scene(plate())
    around = bare.image_from_plane(np.array([[-20.0, -42.5]]), 0.0)[0]
    _, shaded = strip(bare, around)
    _, open_paper = strip(bare, bare.image_from_plane(np.array([[0.0, 95.0]]), 0.0)[0])
    square = sheet("window-a4-A").squares[100]
    middle = np.array([[(square[0] + square[2]) / 2, (square[1] + square[3]) / 2]])
    _, black = strip(bare, bare.image_from_sheet(middle)[0])
    assert open_paper.mean() == pytest.approx(0.85, abs=0.02)
    assert 0.3 < shaded.min() < 0.7
    assert black.mean() == pytest.approx(0.04, abs=0.002)


def test_beyond_the_page_lies_the_table() -> None:
    bare = scene()
    corner = shapely.get_coordinates(page(sheet("window-a4-A"))).max(axis=0)
    _, picture = strip(bare, bare.image_from_plane(corner[None] + 8.0, 0.0)[0])
    assert picture.mean() == pytest.approx(bare.table_reflectance, abs=1e-3)
