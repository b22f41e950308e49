"""The coverage of every kind and the photos of tubes ask what is true, and judge it rightly."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from photomeasure.benchmark import kinds, tubes
from photomeasure.benchmark.cases import Case, Shot
from photomeasure.benchmark.kinds_part import kinds_part
from photomeasure.benchmark.tables import Settings
from photomeasure.measurements import MEASUREMENTS
from photomeasure.synthetic.tubes import _outline

ALONE = Settings(1, 1, lambda words: None)


@pytest.mark.parametrize("seed", range(12))
def test_every_truth_is_what_its_kind_says_of_true_shapes(seed) -> None:
    """Arithmetic in the part's frame, shapely and least squares against all kinds: without
    any error both agree, wherever the part lies."""
    part = kinds_part(np.random.default_rng([seed, 9]))
    for asked in part.questions:
        kind = MEASUREMENTS[asked.kind]
        shapes = {role: tuple(part.shapes[n] for n in names) for role, names in asked.of.items()}
        (output,) = [o for o in kind.outputs(shapes) if o.name == asked.quantity]
        error = kind.evaluate(shapes)[asked.quantity] - asked.truth
        if output.period:
            error = (error + output.period / 2) % output.period - output.period / 2
        assert error == pytest.approx(0.0, abs=2e-3), asked


def test_every_kind_is_asked() -> None:
    """No kind is left out, and several quantities of one kind take turns."""
    part = kinds_part(np.random.default_rng(1))
    assert {asked.kind for asked in part.questions} == set(MEASUREMENTS.names)
    first, second = (kinds._one_of_each(part, seed) for seed in (0, 1))
    assert [q.kind for q in first] == [q.kind for q in second]
    assert [q.quantity for q in first] != [q.quantity for q in second]


def test_one_scene_without_pixels_gives_a_number_of_every_kind() -> None:
    """Each with a finite U and an error of a few U at most."""
    cases = kinds.measure_all_kinds(kinds.FIRST_SEED)
    assert sorted(c.measurement for c in cases) == sorted(MEASUREMENTS.names)
    assert [c.reason for c in cases if c.value is None] == []
    assert all(abs(c.error) < 5 * c.expanded for c in cases)


def test_shares_of_hits_are_judged_by_kind(monkeypatch) -> None:
    """95 of 100 is met, 80 of 100 is not."""

    def measure(seed):
        hits = {"gap": seed % 20 != 0, "web": seed % 5 != 0}
        return [Case(Shot("kinds", seed), n, "mm", 1.0, 1.0, 0.1, hit) for n, hit in hits.items()]

    monkeypatch.setattr(kinds, "measure_all_kinds", measure)
    rows = kinds.run(Settings(25, 1, lambda words: None)).rows
    met = {row.what: row.met for row in rows}
    assert (met["gap"], met["web"], met["radius"]) == (True, False, None)


def test_tubes_are_pointed_at_where_sight_lines_graze_them() -> None:
    """Clicks lie on the outline that is rendered, which is a hull and no formula."""
    for seed in range(tubes.FIRST_SEED, tubes.FIRST_SEED + 5):
        scene, bodies = tubes.tubes_scene(seed)
        for body, pointed in zip(bodies, scene.features, strict=True):
            rim = _outline(scene, body).exterior
            away = [rim.distance(shapely.Point(c)) for c in pointed.entry.clicks_px]
            assert max(away) < 4.5 * tubes.CLICK_PX


def test_errors_of_tubes_are_judged_by_what_they_are(monkeypatch) -> None:
    """Diameters against 0.25 mm, angles against 0.2°."""

    def measure(shot):
        return [
            Case(shot, "diameter", "mm", 20.0, 20.1, 0.1, True),
            Case(shot, "angle", "deg", 40.0, 40.3, 0.1, False),
        ]

    monkeypatch.setattr(tubes, "measure_tubes", measure)
    rows = tubes.run(ALONE).rows
    assert [row.met for row in rows][:2] == [True, False]
    assert rows[0].measured == "median 0.100, 95 % 0.100 mm"
