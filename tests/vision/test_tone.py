"""The photo's own printed edges tell its tone curve and how far the ink spread."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import worlds

from photomeasure.records.photo import Photo
from photomeasure.synthetic.flat import render
from photomeasure.synthetic.phone import TONES, develop
from photomeasure.synthetic.scene import Scene
from photomeasure.vision.detection import detect_sheets, grey_of
from photomeasure.vision.printed_edges import PrintedEdges, printed_edges
from photomeasure.vision.sheets import sheet
from photomeasure.vision.steps import fit_steps
from photomeasure.vision.tone import estimate_tone, without_bias

DESIGN = sheet("window-a4-A")


@cache
def sheet_light(growth_mm: float) -> tuple[Scene, np.ndarray]:
    """A sheet without a part, printed with this ink growth, in linear light."""
    scene = worlds.flange_scene(0.5)
    printed = replace(scene.print, growth_mm=growth_mm)
    bare = replace(scene, parts=(), print=printed)
    return bare, render(bare)


def taken(curve: str, growth_mm: float = 0.03, **phone):
    """Its grey picture by a phone with this curve, and the corners seen."""
    scene, light = sheet_light(growth_mm)
    made = develop(light, replace(scene.phone, tone_curve=curve, **phone), 1)
    photo = Photo("photo", made, "0" * 64)
    return scene, grey_of(photo), detect_sheets(photo)[0]


@pytest.mark.parametrize("curve", ["srgb", "film-strong", "lifted"])
def test_the_curve_is_recovered_up_to_exposure(curve):
    """Linearised paper, ink and patches keep their true ratios within 0.04 of white."""
    _, grey, seen = taken(curve)
    tone = estimate_tone(grey, DESIGN, seen)
    levels = np.linspace(0.05, 0.8, 16)
    codes = 255 * TONES[curve](levels)
    linear = np.interp(codes, np.arange(256), tone.table)
    factor = (linear @ levels) / (levels @ levels)
    assert np.abs(linear / factor - levels).max() < 0.04
    assert tone.edges > 10
    assert tone.misfit < 2.0


@pytest.mark.parametrize("growth_mm", [0.0, 0.05])
def test_ink_growth_is_told_from_the_tone_curve(growth_mm):
    """Growth comes out within 0.015 mm, and its stated doubt covers the miss."""
    _, grey, seen = taken("gamma22", growth_mm)
    tone = estimate_tone(grey, DESIGN, seen)
    assert tone.growth_mm == pytest.approx(growth_mm, abs=0.015)


@pytest.mark.parametrize("curve", ["gamma22", "film-soft"])
def test_an_edge_in_linear_light_lies_where_it_is(curve):
    """A grey part beside white, coded and sharpened, is placed within 0.08 px and its doubt."""
    scene, grey, seen = taken(curve)
    tone = estimate_tone(grey, DESIGN, seen)
    x = np.arange(-12.0, 13.0)
    for dark in (0.1, 0.4):
        step = np.where(x < 0, dark, 0.85).astype(np.float32)
        step[12] = (dark + 0.85) / 2  # the edge runs through this pixel's middle
        phone = replace(scene.phone, tone_curve=curve, noise=0.0)
        coded = develop(np.tile(step, (25, 1)), phone)[12, :, 0]
        linear = np.interp(coded[5:20].astype(float), np.arange(256), tone.table)
        steps = fit_steps(x[5:20], linear[None])
        (place,), u = without_bias(steps.offset_px, steps, np.ones(1), np.ones(1, bool), tone)
        assert abs(place) < min(0.08, 3 * np.hypot(u, 0.02))


def test_without_a_usable_edge_the_belief_stands():
    """Where nothing printed can be used, the commonest curve is taken with its wide doubt."""
    none = np.empty((0, 2))
    _, grey, seen = taken("srgb")
    hidden = replace(seen, saddles_mm=none, saddles_px=none)
    tone = estimate_tone(grey, DESIGN, hidden)
    assert tone.edges == 0
    known = estimate_tone(grey, DESIGN, seen)
    assert tone.covariance[0, 0] > 2 * known.covariance[0, 0]


def test_profiles_run_from_dark_to_light_for_every_ink():
    """Black squares and both greys give profiles, darker before the edge than after it."""
    _, grey, seen = taken("srgb")
    edges: PrintedEdges = printed_edges(grey, DESIGN, seen)
    assert set(edges.ink) == {0.35, 0.65, 1.0}
    assert (edges.dark < edges.light).all()
    assert np.mean(edges.dark[edges.ink == 1.0]) < np.mean(edges.dark[edges.ink == 0.35])
