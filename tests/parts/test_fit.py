"""Contours become few lines and tangent arcs, within the tolerance everywhere."""

from dataclasses import replace

import numpy as np
import pytest
from made_parts import rectangle, seen

from photomeasure.errors import GeometryError
from photomeasure.parts.fit import fit_profile, refuse_crossing
from photomeasure.parts.profiles import distance_mm, moved, pieces_of, sampled, stadium
from photomeasure.parts.shaping import rounded
from photomeasure.records.part import Contour, Profile

SHAPES = {
    "rounded": (moved(rounded(rectangle(120, 80), 6), 0.05, (5, 3)), 8),
    "angle": (Profile(((0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)), (0.0,) * 6), 6),
    "slot": (stadium((0, 0), 60, 30, 0.4), 4),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_a_noisy_contour_gives_the_true_number_of_pieces(shape):
    """With 0.02 mm of noise and 0.1 mm of tolerance nothing is added and nothing lost."""
    profile, count = SHAPES[shape]
    fitted = fit_profile(seen(profile, 0.02), 0.1)
    assert len(fitted.profile.points_mm) == count
    points, _ = sampled(profile, 0.5)
    assert distance_mm(points, fitted.profile).max() < 0.03


def test_radii_come_out_within_two_percent():
    """Corners of 6 mm seen with 0.02 mm of noise."""
    fitted = fit_profile(seen(SHAPES["rounded"][0], 0.02), 0.1)
    radii = [p.radius for p in pieces_of(fitted.profile) if p.is_arc]
    assert radii == pytest.approx([6.0] * 4, rel=0.02)


def test_lines_run_smoothly_into_arcs():
    """At every joint of a rounded rectangle the headings agree: tangency is exact."""
    pieces = pieces_of(fit_profile(seen(SHAPES["rounded"][0], 0.02), 0.1).profile)
    for before, after in zip(pieces, pieces[1:] + pieces[:1], strict=True):
        assert before.heading(at_end=True) @ after.heading(at_end=False) > 1 - 1e-9


@pytest.mark.parametrize("radius", [4, 6, 10])
def test_a_rounding_most_of_which_is_hidden_is_no_corner(radius):
    """What is left of it may pass for a line that meets its neighbour in a corner nobody saw."""
    true = rounded(rectangle(120, 80), radius)
    contour = seen(true, 0.01, seed=3)
    arc = [p for p in pieces_of(true) if p.is_arc][1].points(1e-3)
    from_hidden = contour.points_mm[:, None] - arc[: int(0.7 * len(arc))]
    kept = np.hypot(*from_hidden.transpose(2, 0, 1)).min(axis=1) > 0.15
    contour = Contour(contour.points_mm[kept], contour.u_mm[kept], contour.modes_mm[:, kept])
    fitted = fit_profile(contour, 0.1)
    points, _ = sampled(true, 0.5)
    assert len(fitted.profile.points_mm) == 8
    assert distance_mm(points, fitted.profile).max() < 0.05


def hidden(true: Profile, arc: int, share: float, seed: int = 5) -> Contour:
    """What is seen of a profile but for a share of one of its pieces, in its middle, and along it
    where it may well run: there, 0.1 mm off."""
    contour = seen(true, 0.01, seed=seed)
    chain = pieces_of(true)[arc].points(1e-3)
    margin = int((1 - share) / 2 * len(chain))
    from_piece = contour.points_mm[:, None] - chain[margin : len(chain) - margin][None]
    gone = np.hypot(*from_piece.transpose(2, 0, 1)).min(axis=1) < 0.15
    whole = contour.points_mm + 0.1 * gone[:, None]
    kept = ~gone
    return Contour(
        contour.points_mm[kept], contour.u_mm[kept], contour.modes_mm[:, kept], (), whole
    )


def test_a_rounding_of_which_nothing_is_seen_is_no_corner_where_it_was_followed():
    """Two lines meet in a corner 1.7 mm outside a rounding of 4 mm that nobody saw clearly."""
    true = rounded(rectangle(60, 40), 4)
    arc = next(k for k, p in enumerate(pieces_of(true)) if p.is_arc)
    contour = hidden(true, arc, 1.0)
    points, _ = sampled(true, 0.5)
    assert distance_mm(points, fit_profile(contour, 0.1).profile).max() < 0.3
    alone = fit_profile(replace(contour, whole_mm=None), 0.1)
    assert distance_mm(points, alone.profile).max() > 1.0


def test_pieces_that_lead_to_where_it_may_well_run_are_left_as_they_are():
    """A rounding half of which is seen gives the rest better than rough places in between."""
    true = rounded(rectangle(60, 40), 6)
    arc = next(k for k, p in enumerate(pieces_of(true)) if p.is_arc)
    contour = hidden(true, arc, 0.5)
    fitted = fit_profile(contour, 0.1)
    assert fitted.profile == fit_profile(replace(contour, whole_mm=None), 0.1).profile
    points, _ = sampled(true, 0.5)
    assert distance_mm(points, fitted.profile).max() < 0.05


@pytest.mark.parametrize(("tolerance", "words"), [(0.001, "no better"), (20.0, "wipe out")])
def test_an_absurd_tolerance_is_refused(tolerance, words):
    """Finer than the noise, or coarser than the part: one sentence with a remedy."""
    with pytest.raises(GeometryError, match=words):
        fit_profile(seen(rectangle(100, 60), 0.03), tolerance)


def test_a_shape_that_nothing_fits_is_refused_with_its_place():
    """A contour of pure noise is no part."""
    angle = np.linspace(0, 2 * np.pi, 800, endpoint=False)
    radius = 20 + np.random.default_rng(3).normal(0, 2.0, 800)
    points = radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    contour = Contour(points, np.full(800, 0.01), np.zeros((0, 800, 2)))
    with pytest.raises(GeometryError, match=r"within 0\.05 mm|close around"):
        fit_profile(contour, 0.05)


def test_a_crossing_outline_is_refused():
    """A figure of eight bounds no part."""
    with pytest.raises(GeometryError, match="crosses itself"):
        refuse_crossing(Profile(((0, 0), (10, 10), (10, 0), (0, 10)), (0.0,) * 4))
