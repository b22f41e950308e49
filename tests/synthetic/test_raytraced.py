"""The ray-traced photos show parts and sheet exactly where the scene says."""

import cv2
import numpy as np
import pytest
import shapely

from photomeasure.errors import PhotomeasureError
from photomeasure.synthetic import sample_parts
from photomeasure.synthetic.raytraced import load_tracer, render_linear
from photomeasure.synthetic.raytraced_print import TEXELS_PER_MM, print_texture
from photomeasure.synthetic.raytraced_solids import face_mesh, inset, page_mesh, wall_mesh
from photomeasure.synthetic.samples import samples
from photomeasure.synthetic.scene import Print
from photomeasure.vision.sheets import sheet


@pytest.fixture(scope="module")
def rendered():
    """A piece of the sample "flange-front" at 12 MP: its scene, its corner, its light."""
    try:
        load_tracer()
    except PhotomeasureError as error:
        pytest.skip(str(error))
    scene, staging = samples()[0].scene, samples()[0].staging
    x0, y0 = (int(v) for v in scene.image_from_sheet(np.array([[0.0, 120.0]]))[0] - (340, 110))
    light = render_linear(scene, staging, 16, (x0, y0, x0 + 680, y0 + 220))
    return scene, np.array([x0, y0]), light.mean(axis=2)


def _areas(mesh):
    vertices, faces = mesh
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2


def test_inset_moves_every_side_of_a_rectangle_by_the_same_distance():
    """A chamfer of 1 mm makes a 10 × 6 rectangle 8 × 4, corners included."""
    rectangle = np.array([(0, 0), (10, 0), (10, 6), (0, 6)], float)
    assert np.allclose(inset(rectangle, 1.0), [(1, 1), (9, 1), (9, 5), (1, 5)])


def test_the_face_of_a_part_has_the_area_of_its_outline_less_its_holes():
    """The triangles of the upper face cover it once: area of outline minus rims, to 1e-4."""
    part = sample_parts.cover()
    outline = shapely.Polygon(part.outline.polygon()).area
    holes = sum(np.pi * h.rim_radius_mm**2 for h in part.holes)
    assert _areas(face_mesh(part)).sum() == pytest.approx(outline - holes, rel=1e-4)


def test_walls_bores_and_chamfers_have_their_true_areas():
    """The chamfered bore's cone and all cylinders have their areas by formula, to 1e-4."""
    part = sample_parts.cover()
    t, c = part.thickness_mm, part.hole("bore").chamfer_mm
    cylinders = 2 * np.pi * (52.0 * t + sum(h.radius_mm * (t - h.chamfer_mm) for h in part.holes))
    cone = np.pi * (part.hole("bore").radius_mm + part.hole("bore").rim_radius_mm) * c * 2**0.5
    assert _areas(wall_mesh(part)).sum() == pytest.approx(cylinders + cone, rel=1e-4)


def test_the_page_mesh_curls_as_the_print_says():
    """Every vertex of the page stands where the print puts that point of the sheet."""
    printed = samples()[0].scene.print
    vertices, _, _ = page_mesh(printed)
    nominal = vertices[:, :2] / np.array([printed.scale_x, printed.scale_y])
    assert np.allclose(printed.space_from_sheet(nominal), vertices)
    assert vertices[:, 2].max() > 0.1


def test_print_texture_puts_bar_edges_where_scale_and_growth_say():
    """The left edge of the x bar lies at its scaled place less the growth, to 0.01 mm."""
    printed = Print("board-a4-A", 1.004, 0.997, 0.03)
    design = sheet(printed.sheet)
    left, right = (block for block in design.bars[0].blocks)
    light = print_texture(printed, 1)
    row = round((design.page[3] - (left[1] + left[3]) / 2 * printed.scale_y) * TEXELS_PER_MM)
    for block in (left, right):
        near = np.array([block[0] - 1.0, block[0] + 1.0]) * printed.scale_x - design.page[0]
        first, last = (round(v * TEXELS_PER_MM) for v in near)
        profile = light[row, first:last]
        dark = (profile[0] - profile) / (profile[0] - profile[-1])
        edge = (last - dark.sum()) / TEXELS_PER_MM + design.page[0]
        assert edge == pytest.approx(block[0] * printed.scale_x - 0.03, abs=0.01)


def test_saddles_are_seen_where_the_scene_projects_them(rendered):
    """In a 12 MP rendering the mean offset of the saddle corners stays below 0.03 px."""
    scene, corner, light = rendered
    local = scene.image_from_sheet(sheet(scene.print.sheet).saddles_mm) - corner
    inside = np.all((local > 14) & (local < np.array(light.shape[::-1]) - 14), axis=1)
    found = cv2.cornerSubPix(
        np.clip(light * 255, 0, 255).astype(np.uint8),
        local[inside].astype(np.float32).reshape(-1, 1, 2),
        (8, 8),
        (-1, -1),
        (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 60, 1e-4),
    )
    offset = found.reshape(-1, 2) - local[inside]
    assert len(offset) >= 12
    assert np.abs(offset.mean(axis=0)).max() < 0.03
    assert offset.std() < 0.08


def test_lit_paper_and_ink_have_near_their_reflectances(rendered):
    """Radiance 1 is a white, lit, level surface: paper and ink show about their own."""
    scene, _, light = rendered
    ink, paper = np.percentile(light, [20, 90])
    assert paper == pytest.approx(scene.print.paper_reflectance, rel=0.25)
    assert ink / paper == pytest.approx(
        scene.print.ink_reflectance / scene.print.paper_reflectance, rel=0.25
    )
