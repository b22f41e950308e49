"""Did a target move against another one between two photos of one set-up?

Where one target lies in the frame of another does not depend on the camera. Each photo that
shows both says it again; where two photos differ beyond their joint uncertainty, something
moved.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.levenberg import jacobian_of
from photomeasure.geometry.camera import rotation_matrix, rotation_vector
from photomeasure.records.view import VIEW_SIZE, Solution, View

Array = NDArray[np.float64]

_SIGNIFICANT = 40.0  # chi-square of six numbers; chance passes 30 once in 25 000 times
_LEAST_MM = 0.3  # a model that is a little wrong moves targets by less
_STEPS = np.tile([1.0] * 3 + [1e-3] * 5 + [1e-5] * 3 + [1e-2] * 3, 4)


@dataclass(frozen=True)
class Moved:
    """Target `sheet` moved against `other` between two photos, by mm and degrees."""

    sheet: str
    other: str
    photos: tuple[str, str]
    shift_mm: float
    turn_deg: float
    u_mm: float

    @property
    def words(self) -> str:
        """What is seen and the remedy."""
        return (
            f"{self.photos[0]} and {self.photos[1]}: {self.sheet} moved against {self.other} by "
            f"{self.shift_mm:.1f} mm and {self.turn_deg:.1f}° between them (known to "
            f"± {2 * self.u_mm:.1f} mm). Stick both down and take the photos again, or name "
            "only one of them in the job."
        )


def moved_targets(solution: Solution) -> Iterator[Moved]:
    """Every pair of targets that two photos place differently."""
    by_photo: dict[str, dict[str, View]] = {}
    for view in solution.views:
        by_photo.setdefault(view.photo, {})[view.sheet] = view
    for first, second in combinations(by_photo, 2):
        shared = sorted(set(by_photo[first]) & set(by_photo[second]))
        for other, sheet in combinations(shared, 2):
            views = [by_photo[p][s] for p in (first, second) for s in (other, sheet)]
            moved = _moved(views, solution)
            if moved is not None:
                yield moved


def _moved(views: list[View], solution: Solution) -> Moved | None:
    numbers = np.concatenate([v.parameters for v in views])
    where = np.concatenate([np.arange(v.start, v.start + VIEW_SIZE) for v in views])
    apart = _difference(numbers)
    slopes = jacobian_of(_difference, numbers, _STEPS)
    covariance = slopes @ solution.covariance[np.ix_(where, where)] @ slopes.T
    covariance += np.diag([1e-8] * 3 + [1e-4] * 3)  # 0.006 degrees and 0.01 mm of model
    chi_square = float(apart @ np.linalg.solve(covariance, apart))
    shift = float(np.linalg.norm(apart[3:]))
    if chi_square < _SIGNIFICANT or shift < _LEAST_MM:
        return None
    return Moved(
        sheet=views[1].sheet,
        other=views[0].sheet,
        photos=(views[0].photo, views[2].photo),
        shift_mm=shift,
        turn_deg=float(np.degrees(np.linalg.norm(apart[:3]))),
        u_mm=float(np.sqrt(np.trace(covariance[3:, 3:]) / 3)),
    )


def _difference(numbers: Array) -> Array:
    """(6,) turn in rad and shift in mm of the second target, by both photos' accounts."""
    views = numbers.reshape(4, VIEW_SIZE)
    (turn1, shift1), (turn2, shift2) = _placed(*views[:2]), _placed(*views[2:])
    return np.concatenate([rotation_vector(turn1.T @ turn2), shift2 - shift1])


def _placed(other: Array, sheet: Array) -> tuple[Array, Array]:
    """Rotation and position of a target in the frame of another, from one photo's views."""
    to_camera, from_other = rotation_matrix(sheet[8:11]), rotation_matrix(other[8:11]).T
    return from_other @ to_camera, from_other @ (sheet[11:14] - other[11:14])
