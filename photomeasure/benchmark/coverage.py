"""Do the stated 95 % intervals hold the truth, as often as they say?

One quantity a scene, so that the counts are independent and the binomial bounds hold. Bar
readings, heights and clicks are drawn from their stated distributions; a wrong edge is a
miss, a refusal is counted apart.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from photomeasure.benchmark.cases import Case, Shot, ask, scene_of
from photomeasure.benchmark.tables import Result, Row, Settings, counted
from photomeasure.benchmark.without_pixels import measure_without_pixels
from photomeasure.benchmark.workers import spread
from photomeasure.synthetic.taking import photo_of
from photomeasure.uncertainty.coverage import binomial_bounds

FIRST_SEED = 20_000
FIRST_FAST_SEED = 50_000
HELD = (0.93, 0.98)
MOST_REFUSED = 0.05
FAST_SCENES = 10  # for each rendered one
_QUANTITIES = 6  # of a plate, five; the gap of two parts


def run(settings: Settings) -> Result:
    """Rendered photos through the whole line, and ten times as many scenes without pixels."""
    fast = [_shot(FIRST_FAST_SEED + k) for k in range(FAST_SCENES * settings.scenes)]
    rendered = [_shot(FIRST_SEED + k) for k in range(settings.scenes)]
    drawn = spread(settings, "scenes without pixels", measure_without_pixels, fast)
    seen = spread(settings, "photos", _measure, rendered)
    return Result(
        "Share of stated 95 % intervals that hold the truth, one quantity a scene",
        (*_rows("without pixels", drawn), *_rows("rendered photos", seen)),
        (
            *counted([f"without pixels: {c.reason}" for c in drawn if c.reason]),
            *counted([f"rendered: {c.reason}" for c in seen if c.reason]),
            f"Seeds from {FIRST_FAST_SEED} without pixels, from {FIRST_SEED} rendered.",
        ),
        (*drawn, *seen),
    )


def _shot(seed: int) -> Shot:
    """Every quantity in turn; the seed then also says which of its scene's."""
    return Shot("gap" if seed % _QUANTITIES == 0 else "plate", seed)


def _measure(shot: Shot) -> Case:
    scene = scene_of(shot)
    asked = scene.measurements[shot.seed % len(scene.measurements)]
    return ask(shot, scene, photo_of(scene), [asked])[0]


def _rows(where: str, cases: Sequence[Case]) -> list[Row]:
    answered = [c for c in cases if c.value is not None]
    refused = 1 - len(answered) / len(cases)
    return [
        _held(f"{where}: all", answered, judged=True),
        *(
            _held(f"  {name}", [c for c in answered if c.measurement == name], judged=False)
            for name in sorted({c.measurement for c in cases})
        ),
        Row(
            "  refused",
            f"{refused:.1%}",
            f"≤ {MOST_REFUSED:.0%}",
            refused <= MOST_REFUSED,
            len(cases),
        ),
    ]


def _held(what: str, answered: Sequence[Case], judged: bool) -> Row:
    """Share of hits with its exact bounds, and the median U of lengths and of angles."""
    goal = f"{HELD[0]:.0%} to {HELD[1]:.0%}" if judged else ""
    if not answered:
        return Row(what, "nothing measured", goal, None, 0)
    hits = sum(c.hit for c in answered)
    share = hits / len(answered)
    low, high = binomial_bounds(hits, len(answered))
    sizes = [
        f"{np.median(found):.3f} {unit}"
        for unit in ("mm", "deg")
        if (found := [c.expanded for c in answered if c.unit == unit])
    ]
    measured = f"{share:.1%} ({low:.1%} to {high:.1%}), median U {', '.join(sizes)}"
    return Row(
        what, measured, goal, HELD[0] <= share <= HELD[1] if judged else None, len(answered)
    )
