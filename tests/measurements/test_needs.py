"""A job that gives a measurement the wrong features is told every fault at once."""

import pytest

from photomeasure.errors import JobError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.measurements.kind import check_needs, check_planes


def test_fitting_features_pass():
    """The right roles with allowed kinds raise nothing."""
    check_needs(MEASUREMENTS["gap"], "m", {"a": ("edge",), "b": ("circle",)})
    check_needs(MEASUREMENTS["bolt_circle"], "m", {"holes": ["circle"] * 6})


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [
        ("gap", {"a": ("edge",)}, "role 'b': 0 features were given; at least 1"),
        ("gap", {"a": ("edge", "edge"), "b": ("edge",)}, "at most 1"),
        ("diameter", {"circle": ("edge",)}, "an edge was given; it takes circle"),
        ("bolt_circle", {"holes": ("circle", "circle")}, "2 features were given; at least 3"),
        ("angle", {"edge_a": ("edge",), "edge_b": ("edge",), "c": ()}, "no role 'c'"),
    ],
)
def test_each_fault_is_said_in_words(kind, given, said):
    """Missing, surplus, wrong and unknown features name the measurement, role and limit."""
    with pytest.raises(JobError, match="'flange'") as caught:
        check_needs(MEASUREMENTS[kind], "flange", given)
    assert said in str(caught.value)


def test_all_faults_come_together():
    """Three faults in one measurement are three problems in one error."""
    with pytest.raises(JobError) as caught:
        check_needs(MEASUREMENTS["angle"], "m", {"edge_a": ("point",), "other": ("edge",)})
    assert len(caught.value.problems) == 3


def test_features_of_a_gap_share_a_plane():
    """Edges of a gap on two planes are refused by name; a distance may span planes."""
    planes = {"bracket edge": "top", "mill edge": "sheet"}
    with pytest.raises(JobError, match="'top', mill edge on 'sheet'"):
        check_planes(MEASUREMENTS["gap"], "m", planes)
    check_planes(MEASUREMENTS["gap"], "m", dict.fromkeys(planes, "top"))
    check_planes(MEASUREMENTS["distance"], "m", planes)
