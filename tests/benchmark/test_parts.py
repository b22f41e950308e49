"""The parts of the benchmark compare with the truth they say, and run by name."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from photomeasure import cli
from photomeasure.benchmark import accuracy, corners, coverage, edges, parts, speed
from photomeasure.benchmark.cases import Case, Shot
from photomeasure.benchmark.edges import displacement_px, scene_of_patches
from photomeasure.benchmark.plain import PLAIN
from photomeasure.benchmark.tables import Result, Row, Settings
from photomeasure.errors import ExportError, JobError

ALONE = Settings(1, 1, lambda words: None)


def test_a_point_outside_an_edge_is_displaced_by_its_pixels() -> None:
    """Pixels at right angles to the true edge come back signed, whatever the tilt."""
    scene = scene_of_patches(40_000, "srgb", 0.0)
    for part in scene.parts:
        start, end = part.outline.edge(2)
        middle = (start + end) / 2
        inside = np.array(part.outline.points_mm).mean(axis=0)
        px = scene.image_from_plane(np.array([start, middle, end, inside]), 0.0)
        normal = np.array([px[2, 1] - px[0, 1], px[0, 0] - px[2, 0]])
        normal *= np.sign(normal @ (px[1] - px[3])) / np.linalg.norm(normal)
        away = displacement_px(scene, np.array([start, end]), px[1] + np.outer([-2, 3], normal))
        assert away == pytest.approx([-2, 3], abs=0.01)


def test_patches_of_all_reflectances_lie_in_the_window_in_changing_places() -> None:
    """Each seed puts the reflectances elsewhere, so that place and darkness do not mix."""
    first, second = (scene_of_patches(40_000 + k, "srgb", 0.0) for k in range(2))
    for scene in (first, second):
        assert [p.face_reflectance for p in scene.parts] == list(edges.REFLECTANCES)
    assert [p.outline for p in first.parts] != [p.outline for p in second.parts]


def test_corners_are_judged_against_rms_and_mean(monkeypatch) -> None:
    """The misses put in come out, near and far apart."""
    near = np.array([[0.02, -0.02], [-0.02, 0.02]])

    def find(shot):
        return corners._Found(near + 0.05 * shot[1], 4, 100.0)

    monkeypatch.setattr(corners, "_find", find)
    rows = corners.run(ALONE).rows
    assert [row.met for row in rows] == [True, True, None, None, False, False, None, None]
    assert rows[0].measured == "0.020 px"
    assert rows[3].measured == "50.0%"


def test_accuracy_counts_wrong_rims_refusals_and_the_plain_recipe(monkeypatch) -> None:
    """Errors are grouped by camera and kind; what is refused is counted, not hidden."""

    def both_ways(shot, record):
        free = shot.phone is None
        return [
            Case(shot, "bore", "mm", 10.0, 10.01 if free else 10.5, 0.02, True, wrong_rim=free),
            Case(shot, "gap", "mm", 5.0, reason="no edge"),
            Case(shot, "bore", "mm", 10.0, 10.2, way=PLAIN),
        ]

    monkeypatch.setattr(accuracy, "_both_ways", both_ways)
    monkeypatch.setattr(accuracy, "record_of", lambda shot: None)
    result = accuracy.run(ALONE)
    measured = {(k < 9, row.what.strip()): row for k, row in enumerate(result.rows)}
    assert measured[True, "bore"].met
    assert measured[True, "clicks nearer another rim"].n == 1
    assert measured[True, "refused"].measured == "50.0%"
    assert measured[True, "plain recipe on the same"].measured.startswith("median 0.200 mm, 20 t")
    assert measured[False, "bore"].met is False
    assert measured[False, "off by more than 0.06 mm"].measured.startswith("1, ")
    assert result.remarks[0] == "2 × no edge"


def test_coverage_counts_hits_and_refusals(monkeypatch) -> None:
    """19 hits of 20 are 95 % with their binomial bounds; one refusal of 21 is 4.8 %."""
    cases = [Case(Shot("gap", k), "gap", "mm", 1.0, 1.0, 0.1, k > 0) for k in range(20)]
    rows = coverage._rows("photos", [*cases, Case(Shot("gap", 20), "gap", "mm", 1.0)])
    assert rows[0].measured == "95.0% (75.1% to 99.9%), median U 0.100 mm"  # from a table
    assert (rows[0].met, rows[0].n) == (True, 20)
    assert (rows[-1].measured, rows[-1].met) == ("4.8%", True)


def test_every_quantity_comes_in_turn() -> None:
    """Of 30 scenes in a row each of the six quantities is asked five times."""
    shots = [coverage._shot(seed) for seed in range(coverage.FIRST_SEED, coverage.FIRST_SEED + 30)]
    asked = [0 if s.kind == "gap" else 1 + s.seed % 5 for s in shots]
    assert np.bincount(asked).tolist() == [5] * 6


def test_a_process_is_watched_without_its_parents_memory() -> None:
    """A bare interpreter takes little, one that fills 200 MB takes that more."""
    bare = speed.watch(["-S", "-c", ""])
    full = speed.watch(["-S", "-c", "x = bytearray(200_000_000); x[::4096] = x[::4096]"])
    assert 0 < bare.cpu_s <= bare.wall_s + 0.2
    assert bare.peak_mb < 60
    assert full.peak_mb - bare.peak_mb == pytest.approx(200, abs=20)


def test_a_command_that_fails_is_not_timed() -> None:
    """The message says with what it ended."""
    with pytest.raises(ExportError, match="ended with 9"):
        speed.watch(["-S", "-c", "import sys; sys.exit(9)"])


def test_parts_run_by_name_and_write_what_they_measured(tmp_path: Path, monkeypatch) -> None:
    """The table is given at once; the numbers lie in the folder."""
    case = Case(Shot("gap", 1), "gap", "mm", 1.0, reason="none")
    result = Result("Title", (Row("what", "1 mm"),), (), (case,))
    part = parts.Part("corners", lambda settings: result)
    monkeypatch.setattr(parts, "PARTS", {"corners": part})
    (text,) = parts.run_parts(["corners"], ALONE, tmp_path / "new")
    assert text.startswith("Title")
    assert (tmp_path / "new" / "corners.csv").read_text().count("\n") == 2


def test_an_unknown_part_is_refused_with_the_known_ones() -> None:
    """The message names what there is."""
    with pytest.raises(JobError, match="accuracy, coverage, kinds"):
        next(parts.run_parts(["velocity"], ALONE, None))


def test_the_command_prints_the_tables(monkeypatch, capsys) -> None:
    """`photomeasure benchmark PART` prints the table of that part."""
    ran: list[Settings] = []

    def run(settings: Settings) -> Result:
        ran.append(settings)
        return Result("Time", (Row("measure", "2 s"),))

    monkeypatch.setattr(parts, "PARTS", {"speed": parts.Part("speed", run)})
    words = ["photomeasure", "benchmark", "speed", "--scenes", "7", "--workers", "1"]
    monkeypatch.setattr(sys, "argv", words)
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    assert not stopped.value.code
    assert capsys.readouterr().out.startswith("Time\n")
    assert (ran[0].scenes, ran[0].workers) == (7, 1)
