"""Garage photos are judged by what was measured, how far off it is, and what was said."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from photomeasure.benchmark import edge_bound, garage
from photomeasure.benchmark.cases import Case, Shot, scene_of
from photomeasure.benchmark.edge_bound import bound_px, tilting_bound_px
from photomeasure.benchmark.garage import Judged, all_shots, judge
from photomeasure.benchmark.tables import Settings
from photomeasure.records.check import Fitness
from photomeasure.synthetic.garage import ADVERSITIES, BAD, MILD
from photomeasure.synthetic.taking import photo_of


def judged(name: str, level: int, off: float | None, said: str, **more: object) -> Judged:
    shot = Shot("gap", 1, troubles=((name, level),))
    case = Case(shot, "gap", "mm", 5.0)
    if off is not None:
        case = replace(case, value=5.0 + off, expanded=0.1, hit=off <= 0.1)
    return replace(Judged(shot, (case,), Fitness.MEASURE, said), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "fault"),
    [
        (judged("dim light", MILD, 0.05, ""), ""),
        (judged("dim light", BAD, 0.15, ""), ""),  # outside U, as one in twenty may be
        (judged("dim light", BAD, 0.25, ""), "a confident wrong number"),
        (judged("dim light", BAD, 0.25, "too much noise"), ""),
        (judged("dim light", BAD, None, "too much noise"), ""),
        (judged("dim light", BAD, None, "click elsewhere"), "refused without the reason"),
        (judged("dim light", MILD, None, "too much noise"), "refused though easy"),
        (
            judged("dim light", MILD, 0.0, "too much noise", verdict=Fitness.RETAKE),
            "refused though easy",
        ),
        (judged("cropped copy", MILD, None, "it was cropped"), ""),  # the file is at fault
    ],
)
def test_a_photo_is_judged_by_number_and_words(one: Judged, fault: str) -> None:
    """Far off needs the cause in words, a refusal as well; a mild photo must be measured."""
    assert one.fault == fault


def test_every_adversity_comes_at_every_level_with_a_cause() -> None:
    """One round has each once and the mixtures; a second round has other seeds."""
    shots = all_shots(2)
    half = len(shots) // 2
    single = [s.troubles[0] for s in shots[:half] if len(s.troubles) == 1]
    assert sorted(single) == sorted((a.name, level) for a in ADVERSITIES for level in range(3))
    assert [s.troubles for s in shots[:half]] == [s.troubles for s in shots[half:]]
    assert len({s.seed for s in shots}) == len(shots) >= 100
    assert set(garage.CAUSES) == set(ADVERSITIES.names)


def test_the_table_counts_numbers_refusals_and_faults(monkeypatch) -> None:
    """One row an adversity, the goals above, each fault below with its photo."""

    def of(shot: Shot) -> Judged:
        wrong = shot.troubles == (("dim light", BAD),)
        made = judged(*shot.troubles[0], 0.25 if wrong else 0.05, "")
        return replace(made, shot=shot)

    monkeypatch.setattr(garage, "_judge", of)
    result = garage.run(Settings(1, 1, lambda words: None))
    rows = {row.what.strip(): row for row in result.rows}
    assert rows["judged rightly"].met
    assert rows["confident wrong numbers"].measured == "1"
    assert rows["confident wrong numbers"].met is False
    assert rows["dim light"].measured.startswith("2 within U, 1 outside (worst 2.5 U), 0 refused")
    assert sum("a confident wrong number" in remark for remark in result.remarks) == 1


@pytest.mark.parametrize(
    ("name", "level"), [("shadow on ring", BAD), ("lamination", BAD), ("curled paper", BAD)]
)
def test_a_spoiled_photo_is_measured_within_its_uncertainty(name: str, level: int) -> None:
    """From the garage to the number: a gap beside shadow, highlight or curl holds the truth."""
    shot = next(s for s in all_shots(2) if s.kind == "gap" and s.troubles == ((name, level),))
    scene = scene_of(shot)
    found = judge(shot, scene, photo_of(scene))
    assert not found.fault
    (gap,) = found.measured
    assert abs(gap.error) < 1.5 * gap.expanded
    assert gap.expanded < 0.25


def test_a_photo_far_out_of_focus_is_refused_with_the_reason() -> None:
    """Neither the check nor the measuring gives in."""
    shot = next(s for s in all_shots(1) if s.troubles == (("out of focus", 2),))
    scene = scene_of(shot)
    found = judge(shot, scene, photo_of(scene))
    assert not found.measured
    assert found.verdict is Fitness.RETAKE
    assert found.named


def test_the_bound_is_the_published_one() -> None:
    """sd ≈ 1.883 √σ · noise/contrast for one line seen far to both sides.

    Gatherer 1993, Stanford CSL-TR-93-560; 2·√(σ√π)... = √(2√π)·√σ = 1.883·√σ.
    """
    assert sqrt(2 * sqrt(pi)) == pytest.approx(1.883, abs=5e-4)
    wide = bound_px(0.8, 0.01, 0.6, 1.0)
    assert wide == pytest.approx(1.883 * sqrt(0.8) * 0.01 / 0.6, rel=0.15)
    assert bound_px(0.8, 0.01, 0.6, 100.0) == pytest.approx(wide / 10)


def test_freedom_to_tilt_costs_more_the_wider_the_blur() -> None:
    """The information matrix with more unknowns never knows more."""
    costs = [tilting_bound_px(b, 0.01, 0.6, 1.0) / bound_px(b, 0.01, 0.6, 1.0) for b in (0.8, 2.0)]
    assert 1.2 < costs[0] < 1.7
    assert 2.5 < costs[1] < 4.0


def test_locating_comes_near_the_bound(monkeypatch) -> None:
    """Eight noisy pictures of an ideal step scatter between one and three times the bound."""
    monkeypatch.setattr(edge_bound, "_DRAWS", 8)
    monkeypatch.setattr(edge_bound, "_SLANTS_DEG", (17.0,))
    found = edge_bound.scatter(0.8)
    assert 0.6 < found.ratio < 3.0
    assert np.isfinite(found.tilting_px)
