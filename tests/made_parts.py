"""Parts and contours whose every size is known."""

from __future__ import annotations

import numpy as np

from photomeasure.parts.profiles import circle, sampled
from photomeasure.parts.shaping import rounded
from photomeasure.records.part import (
    Contour,
    Level,
    Part,
    Profile,
    RoundHole,
    Size,
    Slot,
    Title,
)


def rectangle(width: float, height: float) -> Profile:
    """With its lower left corner at the origin."""
    return Profile(((0, 0), (width, 0), (width, height), (0, height)), (0.0,) * 4)


def seen(profile: Profile, noise_mm: float, seed: int = 0, spacing_mm: float = 0.2) -> Contour:
    """A profile as a camera might see it: dense points with noise across it."""
    rng = np.random.default_rng(seed)
    points, along = sampled(profile, spacing_mm)
    normals = np.column_stack([along[:, 1], -along[:, 0]])
    points = points + rng.normal(0, noise_mm, (len(points), 1)) * normals
    scale = points * 0.0005  # 0.05 % of every length in doubt
    return Contour(points, np.full(len(points), noise_mm), np.array([scale]), ("lens",))


def cover() -> Part:
    """A cover of the apple mill with holes, a slot, a seat and a recess; 100 x 60 x 6 mm."""
    fit = "M6 medium, ISO 273"
    corners = ((10, 10), (90, 10), (90, 50), (10, 50))
    holes = [
        RoundHole(f"H{k}", (float(x), float(y)), Size(6.61, 0.015, 6.6, why=fit), 0.01, fit=fit)
        for k, (x, y) in enumerate(corners, 2)
    ]
    return Part(
        name="Mill cover",
        outline=rounded(rectangle(100, 60), 5),
        thickness_mm=6.0,
        holes=(RoundHole("H1", (50.0, 24.0), Size(20.0, 0.02), 0.01), *holes),
        slots=(Slot("S1", (75.0, 30.0), 10.0, 0.3, Size(5.0, 0.02), 0.01),),
        levels=(
            Level("seat", circle((50, 24), 15), 2.0),
            Level("recess", circle((25, 30), 6), -1.5),
        ),
        photo_size_mm=(100.03, 59.98),
        title=Title("A. Keeper", "AM-7", "Cover", "2026-11-25", "B. Turner", "C. Fitter"),
        cautions=("Moving parts: stop and lock the machine before you reach in.",),
    )


def cover_volume_mm3() -> float:
    """By arithmetic, not by the program."""
    plate = 100 * 60 - (4 - np.pi) * 25
    small, bore = np.pi * 3.3**2, np.pi * 10**2
    slot = 10 * 5 + np.pi * 2.5**2
    through = 6 * (plate - 4 * small - bore - slot)
    return float(through + 2 * (np.pi * 15**2 - bore) - 1.5 * np.pi * 6**2)
