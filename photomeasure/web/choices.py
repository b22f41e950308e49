"""What does the program know, for the page to offer? Kinds, rules, sheets, formats."""

from __future__ import annotations

from functools import cache

import numpy as np

from photomeasure import __version__
from photomeasure.errors import PhotomeasureError
from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.exporters.words import source_words, standing_words
from photomeasure.measurements import MEASUREMENTS
from photomeasure.measurements.kind import MeasurementKind, Output
from photomeasure.outlining import standard_holes
from photomeasure.records.feature import FEATURE_KINDS
from photomeasure.records.job import HAZARDS, Rule
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube
from photomeasure.rules import RULES
from photomeasure.rules.limits import limit_words
from photomeasure.rules.things import THINGS
from photomeasure.vision.sheets import COPIES, DESIGNS, PAGE_COPIES, PAGES, Design, page, sheet
from photomeasure.vision.sheets.cards import PageDesign
from photomeasure.vision.sheets.known import KNOWN, SCALE_KINDS, places_pointed_at, sizes_said
from photomeasure.web import answers
from photomeasure.web.kind_pictures import kind_picture

_TOUCHES = {
    "point": (1, False, "Touch the place."),
    "edge": (2, False, "Touch the edge near both of its ends."),
    "circle": (3, False, "Touch three places on the rim, well apart."),
    "curve": (3, True, "Touch along it, closer together where it bends."),
    "tube": (4, False, "Touch two places along one side, then two along the other."),
    "row": (3, True, "Touch one after another, without leaving one out."),
}
_ANY = (2, True, "Touch along it.")
_SHAPES: dict[str, Shape] = {
    "point": Point(np.zeros(2)),
    "edge": Edge(np.eye(2)),
    "circle": Circle(np.zeros(2), 1.0),
    "curve": Curve(np.eye(2)),
    "tube": Tube(np.eye(2), 1.0),
    "row": Row(np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])),
}


def choices(*, sample: bool, lan: bool) -> answers.Choices:
    """All of it. sample : whether there is a sample job to try; lan : whether phones may come."""
    return answers.Choices(
        version=__version__,
        kinds=[_kind_named(name) for name in MEASUREMENTS.names],
        features=[_feature(name) for name in FEATURE_KINDS],
        rules=[rule_answer(rule) for rule in RULES if rule.judges],
        sheets=[*(_sheet(design) for design in DESIGNS), *(_page(design) for design in PAGES)],
        scales=[_scale(name) for name in SCALE_KINDS],
        formats=[
            answers.FormatAnswer(name=e.name, summary=e.summary, filename=e.filename)
            for e in EXPORTERS
        ],
        part_formats=[
            answers.FormatAnswer(name=e.name, summary=e.summary, filename=e.ending)
            for e in PART_EXPORTERS
        ],
        clearances=[
            answers.ClearanceAnswer(name=name, diameter_mm=mm) for name, mm in standard_holes()
        ],
        hazards=list(HAZARDS),
        things=list(THINGS.names),
        sample=sample,
        lan=lan,
    )


def rule_answer(rule: Rule) -> answers.RuleAnswer:
    """A rule with everything a person wants to know before picking it."""
    return answers.RuleAnswer(
        name=rule.name,
        quantities=[rule.quantity, *rule.also],
        limit=limit_words(rule),
        unit=rule.unit,
        condition=rule.condition,
        why=rule.why,
        source=source_words(rule),
        standing=standing_words(rule),
        can_fail=rule.can_fail,
    )


@cache
def _kind_named(name: str) -> answers.KindAnswer:
    kind = MEASUREMENTS[name]
    return answers.KindAnswer(
        name=kind.name,
        words=kind.name.replace("_", " "),
        summary=kind.summary,
        one_plane=kind.one_plane,
        needs=[
            answers.NeedAnswer(
                role=need.role,
                kinds=list(need.kinds),
                prompt=need.prompt,
                minimum=need.minimum,
                maximum=need.maximum,
            )
            for need in kind.needs
        ],
        outputs=[
            answers.OutputAnswer(name=o.name, unit=o.unit, words=o.words, primary=o.primary)
            for o in _outputs(kind)
        ],
        picture=kind_picture(kind),
    )


def _outputs(kind: MeasurementKind) -> tuple[Output, ...]:
    """What a kind gives for as few features as it takes."""
    try:
        least = {n.role: (_SHAPES[n.kinds[0]],) * n.minimum for n in kind.needs}
        return kind.outputs(least)
    except (PhotomeasureError, KeyError):
        return ()


def _feature(name: str) -> answers.FeatureKindAnswer:
    touches, more, prompt = _TOUCHES.get(name, _ANY)
    return answers.FeatureKindAnswer(name=name, touches=touches, open=more, prompt=prompt)


def _scale(name: str) -> answers.ScaleKindAnswer:
    words = name
    if name in KNOWN:
        x, y = KNOWN[name].sides_mm
        words = f"{name}, {x:g} x {y:g} mm ({KNOWN[name].source})"
    return answers.ScaleKindAnswer(
        name=name, words=words, needs=list(sizes_said(name)), touches=places_pointed_at(name)
    )


def _page(design: PageDesign) -> answers.SheetAnswer:
    drawn = page(f"{design.name}-{PAGE_COPIES[0]}")
    return answers.SheetAnswer(
        name=design.name,
        title=drawn.title,
        paper=drawn.paper,
        copies=list(PAGE_COPIES),
        use="cards",
    )


def _sheet(design: Design) -> answers.SheetAnswer:
    drawn = sheet(f"{design.name}-{COPIES[0]}")
    return answers.SheetAnswer(
        name=design.name,
        title=drawn.title,
        paper=drawn.paper,
        copies=list(COPIES),
        use="board" if drawn.window is None else "sheet",
    )
