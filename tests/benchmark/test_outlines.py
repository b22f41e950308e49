"""What the benchmark of outlines shows and how it judges, by scenes whose truth is known."""

from __future__ import annotations

from dataclasses import replace

from photomeasure import outlining
from photomeasure.benchmark.outlines import faint_share
from photomeasure.benchmark.outlines_spoiled import against, chamfered_rims
from photomeasure.records.outline import PartEntry
from photomeasure.synthetic.outline_scenes import chamfered_scene, littered_scene, outline_scene
from photomeasure.synthetic.taking import photo_of

SEED = 70_009  # an angle of cork on white paper


def test_cork_on_white_paper_has_contrast_all_round():
    """25 % of the light beside 85 %, or its wall in the shade: steps of 0.1 and more."""
    assert faint_share(outline_scene(SEED)) < 0.01


def test_a_part_as_light_as_its_paper_has_none_along_much_of_its_edge():
    """The same part, thin and painted like the paper, shows its edge by a thin shadow alone."""
    scene = outline_scene(SEED)
    paper = scene.print.paper_reflectance
    (angle,) = scene.parts
    white = replace(
        angle, thickness_mm=0.2, face_reflectance=paper, wall_reflectance=paper, gloss=0.0
    )
    assert faint_share(replace(scene, parts=(white,))) > 0.5


def test_a_chamfer_along_an_outline_is_told_with_its_width():
    """Its other edge lies as far away as the chamfer of the rendered part is wide."""
    scene = chamfered_scene(94_101)
    entry = PartEntry("angle", "photo.jpg", scene.stated_planes[0].height_mm)
    part = outlining.outline(entry, photo_of(scene)).part
    (words,) = (r for r in part.remarks if "The outline" in r and "Another edge" in r)
    told = float(words.split("about ")[2].split()[0])
    assert abs(told - scene.parts[0].edge_chamfer_mm) < 0.1
    assert against(part, scene.name, *chamfered_rims(scene.parts[0])).below >= 1


def test_swarf_is_shown_beside_the_true_part():
    """The part itself is that of the plain scene; three chips lie about it."""
    plain, littered = outline_scene(SEED).parts[0], littered_scene(SEED).parts
    assert littered[0] == replace(plain, name=littered[0].name)
    assert [p.name for p in littered[1:]] == ["swarf"] * 3
