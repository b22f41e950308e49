"""A table says what was measured, the goal, and in words whether it was met."""

from __future__ import annotations

import numpy as np

from photomeasure.benchmark.tables import (
    Result,
    Row,
    Settings,
    at_most,
    counted,
    error_row,
    render_result,
)
from photomeasure.benchmark.workers import spread


def test_a_missed_goal_is_printed_as_plainly_as_a_met_one() -> None:
    """Every row ends with its verdict and its count, remarks follow the table."""
    rows = (
        at_most("rms", 0.0123, 0.03, "px", 400),
        at_most("mean", 0.02, 0.01, "px", 400),
        Row("largest", "0.1 px"),
    )
    lines = render_result(Result("Corners", rows, ("Seeds 1 to 2.",))).splitlines()
    assert lines[0] == "Corners"
    assert lines[2].split() == ["rms", "≤", "0.03", "px", "0.012", "px", "met", "400"]
    assert lines[3].split()[-2:] == ["missed", "400"]
    assert lines[4].split() == ["largest", "0.1", "px"]
    assert lines[-1] == "Seeds 1 to 2."


def test_both_limits_of_an_error_row_must_be_kept() -> None:
    """A good median does not make up for large single errors, nor the sign for the size."""
    fine = np.full(100, -0.02)
    spoilt = np.where(np.arange(100) < 10, 0.5, fine)
    assert error_row("bore", fine, 0.03, 0.1).met
    assert error_row("bore", spoilt, 0.03, 0.1).met is False
    assert error_row("bore", fine, 0.01, 0.1).met is False
    assert error_row("bore", np.empty(0), 0.03, 0.1).met is None


def test_equal_reasons_are_counted_commonest_first() -> None:
    """A reason that came twice stands before one that came once."""
    assert counted(["b", "a", "b"]) == ("2 × b", "1 × a")


def test_work_comes_back_in_order_from_several_processes_and_from_one() -> None:
    """The result is the same for any number of workers, and progress counts to the end."""
    told: list[str] = []
    for workers in (1, 2):
        assert spread(Settings(1, workers, told.append), "roots", abs, [-3, 2, -1]) == [3, 2, 1]
    assert told.count("roots: 3 of 3") == 2
