"""What would a person mend at once if they knew, said beside the number that it weakens?

The report tells it for the whole job; at the page it belongs on the card, with the way to mend it.
"""

from __future__ import annotations

from collections.abc import Iterator

from photomeasure.estimation.features import view_on
from photomeasure.geometry.camera import camera_centre
from photomeasure.records.feature import Feature
from photomeasure.records.report import Measurement, Report
from photomeasure.vision.sheets import SHEET_PLANE
from photomeasure.web.answers import Doubt


def doubts(measurement: Measurement, report: Report) -> list[Doubt]:
    """Of a measurement that gives a length; angles hang neither on print nor on height."""
    if not any(q.unit == "mm" for q in measurement.quantities):
        return []
    features = [report.features[name] for name in measurement.features]
    return [*_unread(features, report), *_on_the_paper(features, report)]


def _unread(features: list[Feature], report: Report) -> Iterator[Doubt]:
    """Sheets and pages of cards measured from whose check bars nobody read."""
    read = {entry.sheet for entry in report.job.prints}
    used = {(f.photo, f.target) for f in features}
    prints = dict.fromkeys(
        o.printed_on(read)
        for o in report.observations
        if o.is_printed and (o.photo, o.sheet) in used
    )
    for name in prints:
        if name not in read:
            yield Doubt(
                short="Print not checked.",
                words=f"The two bars of {name} are not read yet. A page printed “fit to page” is "
                "about 3 % off, and then so is this.",
                mend="bars",
                features=[],
            )


def _on_the_paper(features: list[Feature], report: Report) -> Iterator[Doubt]:
    """Features of which nobody said how high they lie."""
    low = [f for f in features if f.plane == SHEET_PLANE]
    if not low:
        return
    view = view_on(report.solution, low[0].photo, low[0].target)
    share = 1 / float(camera_centre(view.parameters)[2])
    names = " and ".join(f.name for f in low)
    yield Doubt(
        short="Taken as flat on the paper.",
        words=f"{names}: as if on the paper itself. If that face is higher, say how high; every "
        f"millimetre left out makes this {100 * share:.1f} % too large.",
        mend="height",
        features=[f.name for f in low],
    )
