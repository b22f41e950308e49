"""A caliper reading against what the photo gave."""

import pytest

from photomeasure.errors import JobError
from photomeasure.records.job import CheckEntry
from photomeasure.records.report import Measurement, Quantity
from photomeasure.rules.checks import check_readings

WIDTH = Quantity("slot", "gap", "mm", 7.00, 0.03, (6.94, 7.06), {"edge": 0.03}, primary=True)
MEASURED = {"slot": Measurement("slot", "gap", (WIDTH,), (), ("a", "b"))}


@pytest.mark.parametrize(
    ("reading", "e_n", "agrees"),
    [(7.0, 0.0, True), (7.09, -0.9, True), (7.12, -1.2, False), (6.85, 1.5, False)],
)
def test_agreement_is_e_n_of_at_most_one(reading, e_n, agrees):
    """E_n = (x - X) / √(U² + U²): 0.06 and 0.08 mm together are 0.10 mm (ISO/IEC 17043)."""
    (check,) = check_readings((CheckEntry("slot", reading, plus_minus_mm=0.08),), MEASURED)
    assert check.e_n == pytest.approx(e_n)
    assert check.agrees is agrees
    assert check.quantity == "gap"


def test_a_result_that_is_not_given_is_refused():
    """A check names one of the results, or is refused with their names."""
    with pytest.raises(JobError, match="names 'width', but it gives gap"):
        check_readings((CheckEntry("slot", 7.0, quantity="width"),), MEASURED)
