"""Regular things are offered, never imposed, and refused where the photo contradicts."""

import itertools

import numpy as np
import pytest
from made_parts import rectangle

from photomeasure.errors import JobError
from photomeasure.parts.choices import HoleChoice, with_choices
from photomeasure.parts.profiles import pieces_of
from photomeasure.parts.regular import offers
from photomeasure.parts.shaping import rounded
from photomeasure.records.part import Part, Profile, RoundHole, Size

ISO_273 = (("M6 medium, ISO 273", 6.6), ("M8 medium, ISO 273", 9.0))  # ISO 273:1979, from memory


def flange(error_mm: float = 0.004) -> Part:
    """Four holes nearly equal, nearly even on a circle of 50 mm."""
    rng = np.random.default_rng(2)
    turns = np.pi / 4 + np.pi / 2 * np.arange(4)
    at = (
        40 + 25 * np.column_stack([np.cos(turns), np.sin(turns)]) + rng.normal(0, error_mm, (4, 2))
    )
    holes = tuple(
        RoundHole(f"H{k}", (float(x), float(y)), Size(6.6 + d, 0.01), 0.01)
        for k, ((x, y), d) in enumerate(zip(at, rng.normal(0, 0.005, 4), strict=True), 1)
    )
    return Part("flange", rounded(rectangle(80, 80), 8), 4.0, holes, u_boundary_mm=0.02)


def named(part: Part) -> dict:
    return {o.offer.name: o for o in offers(part, ISO_273)}


def test_what_is_nearly_regular_is_offered_and_nothing_is_changed():
    """Equal holes, an even bolt circle and the next standard size; the part stays as it is."""
    part = flange()
    found = named(part)
    assert {"equal H1 H2 H3 H4", "round H1 H2 H3 H4", "H1 to 6.6"} <= set(found)
    assert all(h.diameter.chosen is None for h in part.holes)


def test_taken_holes_are_equal_and_evenly_round_and_keep_what_was_measured():
    """Measured and chosen stand side by side."""
    part = with_choices(flange(), take=["equal H1 H2 H3 H4", "round H1 H2 H3 H4"])
    values = [h.diameter.value for h in part.holes]
    assert np.ptp(values) < 1e-12
    assert len({h.diameter.measured for h in part.holes}) == 4
    at = np.array([h.centre_mm for h in part.holes])
    radii = np.hypot(*(at - at.mean(axis=0)).T)
    assert radii == pytest.approx([radii[0]] * 4)


def test_equal_holes_are_offered_a_standard_size_together():
    """Once made equal, one tick makes all four M6 medium; what was measured is kept."""
    part = with_choices(flange(), take=["equal H1 H2 H3 H4"], sizes=ISO_273)
    together = named(part)["H1 H2 H3 H4 to 6.6"]
    assert together.offer.within
    assert [h.diameter.value for h in together.part.holes] == [6.6] * 4
    assert [h.fit for h in together.part.holes] == ["M6 medium, ISO 273"] * 4
    assert [h.diameter.measured for h in together.part.holes] == [
        h.diameter.measured for h in flange().holes
    ]


def test_right_angles_become_right():
    """Sides up to a fifth of a degree off are put at 90° to the longest one."""
    skew = Profile(((0, 0), (80, 0), (79.9, 50), (0.1, 50.1)), (0.0,) * 4)
    part = Part("plate", skew, 3.0, u_boundary_mm=0.08)
    squared = with_choices(part, take=["right angles"]).outline
    ways = [p.heading(at_end=False) for p in pieces_of(squared)]
    assert [abs(float(a @ b)) for a, b in itertools.pairwise(ways)] == pytest.approx(
        [0, 0, 0], abs=1e-9
    )


def test_symmetric_is_made_symmetric():
    """Mirrored about its axis the outline falls on itself."""
    skew = Profile(((0, 0), (80, 0.1), (80, 50), (0.05, 50)), (0.0,) * 4)
    part = Part("plate", skew, 3.0, u_boundary_mm=0.08)
    made = np.array(with_choices(part, take=["symmetric"]).outline.points_mm)
    sides = np.hypot(*(np.roll(made, -1, axis=0) - made).T)
    assert min(abs(sides[0] - sides[2]), abs(sides[1] - sides[3])) < 1e-6


def test_a_choice_outside_the_uncertainty_is_refused_unless_confirmed():
    """6.6 ± 0.02 mm measured, 8 mm chosen."""
    with pytest.raises(JobError, match="confirm it"):
        with_choices(flange(), [HoleChoice("H1", 8.0)])
    kept = with_choices(flange(), [HoleChoice("H1", 8.0)], confirmed=["H1"]).holes[0].diameter
    assert (kept.value, round(kept.measured, 1)) == (8.0, 6.6)


def test_unknown_names_are_all_told_at_once():
    """A hole and an offer that do not exist."""
    with pytest.raises(JobError) as caught:
        with_choices(flange(), [HoleChoice("H9", 3.0)], take=["round H7 H8"])
    assert len(caught.value.problems) == 2
