"""Lengths are read as people write them and written so that no digit is a lie."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photomeasure.errors import JobError
from photomeasure.uncertainty.notation import (
    format_angle,
    format_fraction,
    format_length,
    parse_length_mm,
    rounded_pair,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        (6.5, 6.5),
        ("6.5", 6.5),
        ("6,5 mm", 6.5),
        ("0,125 in", 3.175),
        ("7/16 in", 11.1125),
        ("7/16", 11.1125),
        ('7/16"', 11.1125),
        ("1 1/4 in", 31.75),
        ('1-1/4"', 31.75),
        ("1½ in", 38.1),
        (".25 inch", 6.35),
        ("-3 mm", -3.0),
        ("2 cm", 20.0),
    ],
)
def test_lengths_are_read(text, mm):
    """Decimals, decimal commas, fractions, mixed numbers and inch signs are read."""
    assert parse_length_mm(text) == pytest.approx(mm, abs=1e-12)


def test_a_plain_number_takes_the_unit_of_the_job():
    """In a job in inches a plain number is in inches and an explicit unit still wins."""
    assert parse_length_mm("0.5", "in") == pytest.approx(12.7)
    assert parse_length_mm(2, "in") == pytest.approx(50.8)
    assert parse_length_mm("3 mm", "in") == 3.0


@pytest.mark.parametrize(
    "text",
    ["1,500", "abc", "", "6 ft", "7/16 mm", "1/0", "nan", float("nan"), float("inf"), True, "1e3",
     "1.5.2", "1 2 in", None, "--3"],
)  # fmt: skip
def test_what_can_be_misread_is_refused(text):
    """Ambiguous, unknown and non-finite input is a JobError that shows what was read."""
    with pytest.raises(JobError) as caught:
        parse_length_mm(text)
    assert repr(text) in str(caught.value)


@pytest.mark.parametrize(
    ("value", "expanded", "unit", "shown"),
    [
        (11.1234, 0.083, "mm", "11.12 ± 0.08 mm"),
        (11.1234, 0.013, "mm", "11.123 ± 0.013 mm"),
        (11.1234, 0.083, "in", "0.438 ± 0.004 in"),
        (-0.001, 0.03, "mm", "0.00 ± 0.03 mm"),
        (503.0, 150.0, "mm", "500 ± 150 mm"),
        (11.13, 0.0996, "mm", "11.13 ± 0.10 mm"),
    ],
)
def test_value_and_uncertainty_end_at_the_same_digit(value, expanded, unit, shown):
    """U keeps one or two digits, the value stops where U stops, and zero has no sign."""
    assert format_length(value, expanded, unit) == shown


@given(st.floats(1e-4, 1e3), st.floats(-1e3, 1e3))
def test_rounding_never_flatters(expanded, value):
    """The U written is never more than 5 % below the U computed."""
    shown = rounded_pair(value, expanded)
    assert float(shown[1]) >= 0.9499 * expanded
    assert abs(float(shown[0]) - value) <= 0.51 * expanded


def test_fractions_are_written_as_a_shop_reads_them():
    """The nearest 1/64 reduced, with ≈ where it differs from the value by more than U."""
    assert format_fraction(11.1125) == "7/16 in"
    assert format_fraction(11.0, 0.3) == "7/16 in"
    assert format_fraction(11.3, 0.05) == "≈ 7/16 in"
    assert format_fraction(31.75) == "1 1/4 in"
    assert format_fraction(0.0) == "0 in"
    assert format_fraction(-3.175) == "-1/8 in"


@given(st.integers(-64 * 20, 64 * 20))
def test_written_fractions_read_back(sixty_fourths):
    """Every multiple of 1/64 in is written and read back to the same length."""
    mm = sixty_fourths * 25.4 / 64
    assert parse_length_mm(format_fraction(mm)) == pytest.approx(mm, abs=1e-9)


def test_angles_carry_their_sign():
    """Degrees are written with the degree sign on value and U."""
    assert format_angle(31.42, 0.31) == "31.4° ± 0.3°"
