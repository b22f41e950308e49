"""What would a person mend at once if they knew, said beside the number that it weakens?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from photomeasure.estimation.features import view_on
from photomeasure.geometry.camera import camera_centre
from photomeasure.records.feature import Feature, Features
from photomeasure.records.job import SHEET_PLANE, Job
from photomeasure.records.report import Doubt, Measurement
from photomeasure.records.view import MarkerObservation, Solution
from photomeasure.rules.remarks import unread_prints, unread_words


def doubts(
    measurement: Measurement,
    job: Job,
    observations: Sequence[MarkerObservation],
    solution: Solution,
    features: Features,
) -> tuple[Doubt, ...]:
    """Of a measurement that gives a length; angles hang neither on print nor on height."""
    if not any(q.unit == "mm" for q in measurement.quantities):
        return ()
    used = [features[name] for name in measurement.features]
    return (*_unread(used, job, observations), *_on_the_paper(used, solution))


def _unread(
    features: Sequence[Feature], job: Job, observations: Sequence[MarkerObservation]
) -> Iterator[Doubt]:
    """Sheets and pages of cards measured from whose check bars nobody read."""
    used = {(f.photo, f.target) for f in features}
    for name in unread_prints(job, [o for o in observations if (o.photo, o.sheet) in used]):
        yield Doubt(
            "Print not checked.",
            f"{unread_words(f'The two check bars of {name}')}, and then so is this. Read both "
            "with a caliper and enter them.",
            "bars",
        )


def _on_the_paper(features: Sequence[Feature], solution: Solution) -> Iterator[Doubt]:
    """Features of which nobody said how high they lie."""
    low = [f for f in features if f.plane == SHEET_PLANE]
    if not low:
        return
    view = view_on(solution, low[0].photo, low[0].target)
    share = 1 / float(camera_centre(view.parameters)[2])
    names = " and ".join(f.name for f in low)
    yield Doubt(
        "Taken as flat on the paper.",
        f"{names}: as if on the paper itself. If that face is higher, say how high; every "
        f"millimetre left out makes this {100 * share:.1f} % too large.",
        "height",
        tuple(f.name for f in low),
    )
