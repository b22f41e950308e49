"""Circle fits against published point sets.

Gander, Golub and Strebel, "Least-squares fitting of circles and ellipses", BIT 34 (1994):
the points were read at source in R. Brown's code, the results are from memory and were
reproduced by an independent computation. SciPy cookbook, "Least squares circle": data from
memory, fits computed independently for this project.
"""

import numpy as np
import pytest

from photomeasure.geometry.circles import fit_circle, fit_circle_covariance

GANDER = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]], float)
COOKBOOK_RING = np.column_stack([[9, 35, -13, 10, 23, 0], [34, 10, 6, -14, 27, -10]]).astype(float)
COOKBOOK_ARC = np.column_stack([[36, 36, 19, 18, 33, 26], [14, 10, 28, 31, 18, 26]]).astype(float)


def test_gander_geometric_fit():
    """The geometric circle of Gander's six points, and its residual norm."""
    centre, radius = fit_circle(GANDER)
    assert centre == pytest.approx([4.739782, 2.983533], abs=1e-6)
    assert radius == pytest.approx(4.714226, abs=1e-6)
    residuals = np.hypot(*(GANDER - centre).T) - radius
    assert np.linalg.norm(residuals) == pytest.approx(1.107971, abs=1e-6)


@pytest.mark.parametrize(
    ("points", "centre", "radius"),
    [
        (COOKBOOK_RING, (10.500086, 9.659950), 23.333528),
        (COOKBOOK_ARC, (9.887567, 3.687497), 27.350443),
    ],
)
def test_cookbook_ring_and_short_arc(points, centre, radius):
    """A full ring, and the short arc on which an algebraic fit reads 20.85 instead of 27.35."""
    found, size = fit_circle(points)
    assert found == pytest.approx(centre, abs=2e-6)
    assert size == pytest.approx(radius, abs=2e-6)


@pytest.mark.parametrize(("seen", "u"), [(360, 0.0014), (180, 0.0031), (90, 0.014), (30, 0.14)])
def test_uncertainty_of_a_radius_by_arc(seen, u):
    """200 points of 0.02 mm on R 20: u(R) by arc seen (computed by simulation beforehand)."""
    angles = np.radians(np.linspace(0, seen, 200))
    points = 20 * np.column_stack([np.cos(angles), np.sin(angles)])
    stated = np.sqrt(fit_circle_covariance(points, np.zeros(2), 20.0, 0.02)[2, 2])
    assert stated == pytest.approx(u, rel=0.05)
