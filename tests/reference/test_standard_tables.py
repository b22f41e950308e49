"""The tables that ship, against the standards' values typed in again, and arithmetic.

Sources: ISO 273:1979 read second-hand; ASME B18.2.8 in Machinery's Handbook, 31st edition,
p. 1741; ISO 2768-1:1989 class m and ISO 9013 class 1 read second-hand; ISO 2768-1 f, c, v,
ISO 261, ASME B1.1, ISO 286-1 and ISO 965-1 from memory.
"""

import pytest

from photomeasure.errors import JobError
from photomeasure.rules.holes import hole_remark, standard_holes
from photomeasure.rules.tables import TABLES
from photomeasure.rules.threads import fitting_threads, thread_remark, threads
from photomeasure.rules.tolerances import general_tolerance

ISO_273 = {
    "M2": (2.2, 2.4, 2.6), "M2.5": (2.7, 2.9, 3.1), "M3": (3.2, 3.4, 3.6), "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8), "M6": (6.4, 6.6, 7.0), "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0), "M12": (13.0, 13.5, 14.5), "M14": (15.0, 15.5, 16.5),
    "M16": (17.0, 17.5, 18.5), "M20": (21.0, 22.0, 24.0), "M24": (25.0, 26.0, 28.0),
}  # fmt: skip
TAP_DRILLS = {
    "M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0, "M8": 6.8, "M10": 8.5, "M12": 10.2, "M16": 14.0,
}  # fmt: skip


def test_every_table_names_its_source_and_edition():
    """No table comes without who says so, in which edition, and how it was read."""
    for table in TABLES:
        assert table.source, table.name
        read = ("from memory", "second-hand", "edition of the handbook")
        assert any(words in table.edition for words in read), table.name


def test_clearance_holes_are_those_of_iso_273():
    """Fine, medium and coarse, row by row; rows from memory say so."""
    rows = {row[0]: row[1:] for row in TABLES["iso-273"].rows}
    assert {thread: rows[thread][:3] for thread in ISO_273} == ISO_273
    assert {t for t, row in rows.items() if row[3] == "from memory"} == rows.keys() - ISO_273


def test_inch_clearance_holes_are_those_of_asme_b18_2_8():
    """Normal holes of the handbook; the half inch is from memory and says so."""
    rows = {row[0]: row[1:] for row in TABLES["asme-b18-2-8"].rows}
    assert [rows[s][0] for s in ("1/4", "5/16", "3/8", "7/16", "1/2")] == [
        "9/32", "11/32", "13/32", "15/32", "9/16"
    ]  # fmt: skip
    assert rows["1/2"][1] == "from memory"


def test_tap_drills_are_those_of_the_handbooks():
    """The coarse threads as read second-hand."""
    drills = {row[0]: row[1] for row in TABLES["tap-drills"].rows}
    assert {thread: drills[thread] for thread in TAP_DRILLS} == TAP_DRILLS


def test_a_tap_drill_is_the_diameter_less_the_pitch():
    """Within 0.06 mm, as drills come in steps of 0.1 mm (common practice, no source)."""
    by_name = {thread.name: thread for thread in threads()}
    coarse = {row[0]: row[2] for row in TABLES["iso-261"].rows}
    for name, drill, _ in TABLES["tap-drills"].rows:
        full = name if "×" in name else f"{name}×{coarse[name]:g}"
        thread = by_name[full]
        assert drill == pytest.approx(thread.diameter_mm - thread.pitch_mm, abs=0.06), name


@pytest.mark.parametrize(
    ("mm", "f", "m", "c", "v"),
    [
        (2, 0.05, 0.1, 0.2, None), (3, 0.05, 0.1, 0.2, None), (3.01, 0.05, 0.1, 0.3, 0.5),
        (30, 0.1, 0.2, 0.5, 1.0), (30.01, 0.15, 0.3, 0.8, 1.5), (120, 0.15, 0.3, 0.8, 1.5),
        (400, 0.2, 0.5, 1.2, 2.5), (1000, 0.3, 0.8, 2.0, 4.0), (2000, 0.5, 1.2, 3.0, 6.0),
        (0.5, 0.05, 0.1, 0.2, None), (4000, None, 2.0, 4.0, 8.0),
    ],
)  # fmt: skip
def test_general_tolerances_of_lengths(mm, f, m, c, v):
    """ISO 2768-1, table 1: a range holds its upper end; a class without a value is refused."""
    for grade, half in zip("fmcv", (f, m, c, v), strict=True):
        if half is None:
            with pytest.raises(JobError, match="gives no tolerance"):
                general_tolerance(f"ISO 2768-{grade}", mm, "mm")
        else:
            assert general_tolerance(f"ISO 2768-{grade}", mm, "mm") == half


@pytest.mark.parametrize(
    ("leg_mm", "minutes"), [(10, 60), (50, 30), (120, 20), (400, 10), (401, 5)]
)
def test_general_tolerances_of_angles(leg_mm, minutes):
    """ISO 2768-1, table 3, class m, by the shorter leg."""
    half = general_tolerance("ISO 2768-m", 90, "deg", leg_mm)
    assert half * 60 == pytest.approx(minutes)


@pytest.mark.parametrize(
    ("thickness", "row"),
    [
        (1, (0.10, 0.20, 0.20, 0.30)), (3, (0.20, 0.25, 0.25, 0.35)),
        (6.3, (0.25, 0.25, 0.30, 0.40)), (10, (0.30, 0.30, 0.35, 0.45)),
    ],
)  # fmt: skip
def test_laser_tolerances_are_those_of_iso_9013(thickness, row):
    """Class 1, by thickness and nominal length."""
    lengths = (10, 35, 125, 999)
    name = "ISO 9013 class 1"
    assert tuple(general_tolerance(name, mm, "mm", thickness) for mm in lengths) == row
    with pytest.raises(JobError, match="10 to 1000 mm"):
        general_tolerance(name, 5, "mm", thickness)
    with pytest.raises(JobError, match="thickness of 12 mm"):
        general_tolerance(name, 50, "mm", 12)


def test_a_hole_is_named_and_its_neighbours_said():
    """6.58 ± 0.06 mm is the M6 medium hole of ISO 273; fine and coarse are outside."""
    said = hole_remark(6.58, 0.06)
    assert "6.58 ± 0.06 mm: ISO 273 medium for M6 is 6.6 mm" in said
    assert "fine, 6.4 mm, and coarse, 7 mm, are outside" in said


def test_two_holes_that_fit_are_both_said_and_none_is_chosen():
    """8.45 ± 0.08 mm is M8 fine or the tap drill of M10."""
    said = hole_remark(8.45, 0.08)
    assert "ISO 273 fine for M8, 8.4 mm; tap drill for M10, 8.5 mm" in said
    assert "neither is chosen" in said


def test_a_hole_between_the_sizes_says_how_it_may_have_been_made():
    """9.15 mm is no nominal, but a 9 mm hole may be 9.22 mm in H13 (IT13 of 6 to 10 mm)."""
    assert "9 mm, may be made up to 9.22 mm (H13)" in hole_remark(9.15, 0.04)
    assert "no standard size is inside; the nearest are" in hole_remark(9.6, 0.04)


def test_beyond_the_tables_nothing_is_said():
    """A bore of 80 mm is no screw hole."""
    assert hole_remark(80, 0.1) == ""
    assert standard_holes()[-1].size_mm == 35.0


def test_a_hole_too_uncertain_for_the_table_is_not_listed_to_the_end():
    """± 1 mm holds so many sizes that none is worth naming."""
    assert "too wide to tell them apart" in hole_remark(9.5, 1.0)


@pytest.mark.parametrize(
    ("metric_mm", "inch_mm", "share", "names"),
    [
        (0.8, 25.4 / 32, 0.8, ("M5×0.8", "No. 10-32 UNF")),
        (1.25, 25.4 / 20, 1.6, ("M8×1.25", "1/4-20 UNC")),
        (2.0, 25.4 / 13, 2.4, ("M16×2", "1/2-13 UNC")),
    ],
)
def test_pitches_that_nearly_meet_are_undecided(metric_mm, inch_mm, share, names):
    """The traps: M5×0.8 and 10-32, M8×1.25 and 20 tpi, 2 mm and 13 tpi (arithmetic)."""
    middle, doubt = (metric_mm + inch_mm) / 2, abs(metric_mm - inch_mm)
    said = thread_remark(middle, doubt)
    assert "undecided" in said
    assert all(name in {t.name for t in fitting_threads(middle, doubt)} for name in names)
    assert f"{share} %. State the outside diameter." in said


def test_the_outside_diameter_decides():
    """An M5 measures 4.83 to 4.98 mm (6g), a 10-32 4.65 to 4.80 mm (2A)."""
    assert [t.name for t in fitting_threads(0.797, 0.01, 4.90)] == ["M5×0.8"]
    inch = {t.name for t in fitting_threads(0.797, 0.01, 4.68)}
    assert inch == {"No. 10-32 UNF"}
    assert "Measure over more crests" in thread_remark(0.797, 0.01, 4.76)


def test_a_pitch_of_no_thread_says_its_neighbours():
    """1.65 ± 0.005 mm lies between 16 threads an inch and 1.75 mm."""
    said = thread_remark(1.65, 0.005)
    assert "no thread of the tables fits" in said
    assert "1.75 mm" in said


@pytest.mark.parametrize(
    ("name", "pitch", "diameter"),
    [
        ("M3×0.5", 0.5, 3), ("M6×1", 1, 6), ("M8×1.25", 1.25, 8), ("M8×1", 1, 8),
        ("M10×1.5", 1.5, 10), ("M12×1.75", 1.75, 12), ("M16×2", 2, 16), ("M24×3", 3, 24),
        ("1/4-20 UNC", 1.27, 6.35), ("5/16-18 UNC", 1.4111, 7.9375), ("3/8-16 UNC", 1.5875, 9.525),
        ("1/2-13 UNC", 1.9538, 12.7), ("1/4-28 UNF", 0.9071, 6.35), ("1/2-20 UNF", 1.27, 12.7),
    ],
)  # fmt: skip
def test_threads_have_their_pitch_and_diameter(name, pitch, diameter):
    """ISO 261 and ASME B1.1 from memory; inch sizes times 25.4."""
    thread = next(t for t in threads() if t.name == name)
    assert thread.pitch_mm == pytest.approx(pitch, abs=1e-4)
    assert thread.diameter_mm == pytest.approx(diameter)
