"""How much of a part's edge anyone could see, judged in the rendered scene itself."""

from __future__ import annotations

from dataclasses import replace

from photomeasure.benchmark.outlines import faint_share
from photomeasure.synthetic.outline_scenes import outline_scene

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
