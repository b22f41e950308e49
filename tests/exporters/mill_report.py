"""A made-up report with true geometry: a geared motor fitted to a hand-cranked apple mill."""

from __future__ import annotations

import numpy as np
from mill_scene import (
    BORE,
    BRACKET_EDGE,
    FLANGE_EDGE,
    HEIGHTS,
    HOLES,
    PIN_HOLE,
    photograph,
    rectify,
    views,
)

from photomeasure.geometry.camera import image_from_plane
from photomeasure.records.feature import Alternative, Feature, Features, ImageFeature
from photomeasure.records.job import (
    CheckEntry,
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    Rule,
)
from photomeasure.records.report import (
    Check,
    Decision,
    Measurement,
    Offer,
    Picture,
    Quantity,
    Report,
    Verdict,
)
from photomeasure.records.shapes import (
    Circle,
    DrawnArc,
    DrawnCircle,
    DrawnLabel,
    DrawnSegment,
)
from photomeasure.records.view import MarkerObservation, Solution, View
from photomeasure.vision.sheets import sheet


def _seen(points_mm: np.ndarray, view: View) -> np.ndarray:
    return image_from_plane(points_mm, view.parameters, 0.0)


def _located(shape, view: View, plane: str) -> np.ndarray:
    if isinstance(shape, Circle):
        a = np.linspace(0, 2 * np.pi, 180, endpoint=False)[:, None]
        points = shape.centre + shape.radius * np.hstack([np.cos(a), np.sin(a)])
    else:
        t = np.linspace(0, 1, 120)[:, None]
        points = shape.ends[0] + t * (shape.ends[1] - shape.ends[0])
    noise = np.random.default_rng(len(points)).normal(0, 0.3, points.shape)
    return image_from_plane(points, view.parameters, HEIGHTS[plane]) + noise


def features(front: View, left: View) -> Features:
    rows = [
        ("bore", "circle", front, "flange face", BORE),
        *((f"hole {k}", "circle", front, "flange face", h) for k, h in enumerate(HOLES, 1)),
        ("flange edge", "edge", front, "flange face", FLANGE_EDGE),
        ("bracket edge", "edge", front, "flange face", BRACKET_EDGE),
        ("pin hole", "circle", left, "flange face", PIN_HOLE),
    ]
    made, start = [], 0
    for name, kind, view, plane, shape in rows:
        points = _located(shape, view, plane)
        others = ()
        if name == "hole 2":
            far = _located(
                Circle(shape.centre + np.array([0.2, -0.3]), shape.radius - 0.31), view, plane
            )
            others = (
                Alternative(1, "the near rim, dark outside", points, 0.0),
                Alternative(2, "the far rim, at the bottom of the hole", far, 0.62),
            )
        image = ImageFeature(
            name, kind, view.photo, plane, points, np.zeros_like(points), 0.3, 0.1, 0.29,
            kind == "circle", 1, others,
            ("A shadow lies along a fifth of it.",) if name == "bracket edge" else (),
        )  # fmt: skip
        made.append(Feature(name, kind, view.photo, plane, shape, image, start, view.sheet))
        start += len(shape.numbers)
    values = np.concatenate([f.shape.numbers for f in made])
    noise = np.eye(len(values)) * 0.01**2
    return Features(tuple(made), values, {"edges": noise, "height": noise / 4})


def quantity(of, name, value, u, *, unit="mm", primary=False, samples=None, interval=None):
    budget = {
        "height of the flange face": 0.78 * u,
        "camera and pose": 0.44 * u,
        "edge location": 0.33 * u,
        "print scale": 0.28 * u,
        "tone and ink growth": 0.10 * u,
        "paper flatness": 0.01 * u,
    }
    interval = interval or (value - 2 * u, value + 2 * u)
    return Quantity(of, name, unit, value, u, interval, budget, primary, samples)


def measurements() -> tuple[Measurement, ...]:
    flange, bracket = np.array([-50.0, -36.0]), BRACKET_EDGE.ends[0]
    at_gap = tuple((flange + bracket) / 2)
    samples = 11.1 + np.abs(np.random.default_rng(1).normal(0.02, 0.03, 4000))
    bolt = "Bolt circle of the motor flange"
    first, across = HOLES[1], np.array([4.46, 0.0])
    return (
        Measurement(
            "Gap flange to bracket",
            "gap",
            (
                quantity(
                    "Gap flange to bracket",
                    "gap",
                    11.128,
                    0.031,
                    primary=True,
                    samples=samples,
                    interval=(11.078, 11.192),
                ),
            ),
            (
                DrawnSegment(tuple(flange), tuple(bracket), arrows=True),
                DrawnLabel(at_gap, "gap"),
            ),
            ("flange edge", "bracket edge"),
            ("Narrowest at the left end of both edges; 100 mm of edge were compared.",),
        ),
        Measurement(
            bolt,
            "bolt_circle",
            (
                quantity(bolt, "diameter", 80.42, 0.027, primary=True),
                quantity(bolt, "centre_x", 0.01, 0.02),
                quantity(bolt, "centre_y", 25.0, 0.02),
                *(
                    quantity(bolt, f"hole_{k}_deviation", d, 0.02)
                    for k, d in enumerate((0.03, -0.02, 0.01, -0.02), 1)
                ),
            ),
            (
                DrawnCircle(tuple(BORE.centre), 40.21, dashed=True),
                *(DrawnSegment(tuple(BORE.centre), tuple(h.centre)) for h in HOLES),
                DrawnLabel((0.0, 65.2), "diameter"),
            ),
            tuple(f"hole {k}" for k in range(1, 5)),
        ),
        Measurement(
            "Mounting hole 2",
            "diameter",
            (quantity("Mounting hole 2", "diameter", 8.92, 0.046, primary=True),),
            (
                DrawnSegment(tuple(first.centre - across), tuple(first.centre + across), True),
                DrawnLabel(tuple(first.centre + np.array([0, 4.46])), "diameter"),
            ),
            ("hole 2",),
        ),
        Measurement(
            "Bracket against flange",
            "angle",
            (quantity("Bracket against flange", "angle", 2.10, 0.06, unit="deg", primary=True),),
            (DrawnArc((-50.0, -36.0), 90.0, -9.5, 0.0), DrawnLabel((39.0, -43.0), "angle")),
            ("flange edge", "bracket edge"),
        ),
        Measurement(
            "Bore for the motor spigot",
            "diameter",
            (quantity("Bore for the motor spigot", "diameter", 40.02, 0.03, primary=True),),
            (
                DrawnSegment((-20.01, 25.0), (20.01, 25.0), True),
                DrawnLabel((-6.0, 25.0), "diameter"),
            ),
            ("bore",),
        ),
        Measurement(
            "Drive pin hole",
            "diameter",
            (quantity("Drive pin hole", "diameter", 12.06, 0.028, primary=True),),
            (
                DrawnSegment((-28.03, -78.0), (-15.97, -78.0), True),
                DrawnLabel((-22.0, -72.0), "diameter"),
            ),
            ("pin hole",),
        ),
    )


RULES = (
    Rule(
        "gap-to-bracket", "gap", "mm",
        "The motor rocks on its rubber feet while the mill is cranked.",
        "agreed with the mill's owner", "user",
        at_least=10.0, condition="at rest, motor bolted down",
    ),
    Rule(
        "spare-flange-bolts", "diameter", "mm",
        "The spare flange only goes on if its bolts line up.",
        "drawing of the spare flange", "user",
        at_least=79.8, at_most=80.2, edition="revision B",
    ),
    Rule(
        "m8-medium", "diameter", "mm", "An M8 screw must pass with the usual play.",
        "ISO 273", "standard", at_least=9.0, condition="M8, medium series", edition="1979",
    ),
    Rule(
        "parallel-faces", "angle", "deg", "A wedge-shaped gap shows that the bracket is bent.",
        "common practice, no source", "practice", at_most=1.0,
    ),
)  # fmt: skip


OFFERED = (
    Rule(
        "hose-to-muffler", "gap", "mm", "Heat hardens rubber until it bursts.",
        "common practice, no source", "practice", at_least=50.0, condition="without a shield",
        between=(("hose", "exhaust"),),
    ),
    Rule(
        "six-diameters", "gap", "times", "A tighter bend kinks.", "a supplier's guide",
        "supplier", at_least=6.0, of="hose inside diameter",
    ),
    Rule(
        "clamp-on-bead", "", "", "A clamp before the bead lets the hose walk off.",
        "a boat rule", "law", advice="The clamp sits beyond the bead.",
    ),
)  # fmt: skip


def offers() -> tuple[Offer, ...]:
    gap = "Gap flange to bracket"
    told = Decision(gap, "gap", OFFERED[0], Verdict.DOES_NOT_CONFORM, 0.00001, "")
    return (
        Offer(gap, OFFERED[0], told),
        Offer(gap, OFFERED[1], missing="the hose inside diameter"),
        Offer(gap, OFFERED[2]),
    )


def _reason(figure: str, limit: str, chance: str) -> str:
    return f"{figure} against {limit}: the rule is obeyed with a probability of {chance}."


def decisions() -> tuple[Decision, ...]:
    return (
        Decision(
            "Gap flange to bracket", "gap", RULES[0], Verdict.CONFORMS, 0.99999,
            _reason("11.13 ± 0.06 mm", "at least 10 mm", "more than 99.9 %"),
        ),
        Decision(
            "Bolt circle of the motor flange", "diameter", RULES[1],
            Verdict.DOES_NOT_CONFORM, 0.00001,
            _reason("80.42 ± 0.06 mm", "79.8 to 80.2 mm", "less than 0.1 %"),
        ),
        Decision(
            "Mounting hole 2", "diameter", RULES[2], Verdict.CANNOT_TELL, 0.06,
            _reason("8.92 ± 0.09 mm", "at least 9 mm", "6.0 %"),
            "The height of the flange face is 61 % of the doubt: measure it to ± 0.1 mm "
            "with a caliper, or take one more photo from the other side.",
        ),
        Decision(
            "Bracket against flange", "angle", RULES[3], Verdict.DOES_NOT_CONFORM, 0.00001,
            _reason("2.10° ± 0.12°", "at most 1°", "less than 0.1 %"),
        ),
    )  # fmt: skip


def job() -> Job:
    return Job(
        title="Geared motor on the apple mill: does the spare flange fit?",
        photos=(
            PhotoEntry("front", "photos/front.jpg", "3f" * 32),
            PhotoEntry("left", "photos/left.jpg", "a7" * 32),
        ),
        features=(FeatureEntry("bore", "circle", "front", "flange face", ((1500.0, 1800.0),)),),
        measurements=(
            MeasurementEntry(
                "Gap flange to bracket", "gap",
                (("a", ("flange edge",)), ("b", ("bracket edge",))),
                ("gap-to-bracket",), "Seen from the crank side.", ("hose", "exhaust"),
            ),
            MeasurementEntry(
                "Bolt circle of the motor flange", "bolt_circle",
                (("holes", tuple(f"hole {k}" for k in range(1, 5))),), ("spare-flange-bolts",),
            ),
            MeasurementEntry(
                "Mounting hole 2", "diameter", (("circle", ("hole 2",)),), ("m8-medium",)
            ),
            MeasurementEntry(
                "Bracket against flange", "angle",
                (("edge_a", ("flange edge",)), ("edge_b", ("bracket edge",))),
                ("parallel-faces",),
            ),
            MeasurementEntry("Bore for the motor spigot", "diameter", (("circle", ("bore",)),)),
            MeasurementEntry("Drive pin hole", "diameter", (("circle", ("pin hole",)),)),
        ),
        planes=(PlaneEntry("flange face", 6.0, 0.2), PlaneEntry("bracket face", 3.0, 0.2)),
        prints=(PrintEntry("window-a4-A", 150.12, 149.95, 0.05),),
        rules=RULES,
        checks=(
            CheckEntry("Bore for the motor spigot", 40.35, plus_minus_mm=0.05),
            CheckEntry("Drive pin hole", 12.03, plus_minus_mm=0.05),
        ),
        hazards=("moving", "lifting"),
        note="Flange lifted off and laid in the window of the sheet, bracket pushed against the "
        "stop. Photos taken in the shade.",
        position="at rest",
    )  # fmt: skip


def build_report(scale: float = 0.1) -> Report:
    """The report, its pictures at `scale` px per photo px."""
    front, left = views()
    saddles = sheet("window-a4-A").saddles_mm
    values = np.concatenate([front.parameters, left.parameters])
    shots = {v.photo: photograph(v, scale) for v in (front, left)}
    entries = job().checks
    observations = tuple(
        MarkerObservation(v.photo, v.sheet, saddles, _seen(saddles, v), 0.03, len(saddles), 78.0)
        for v in (front, left)
    )
    return Report(
        job=job(),
        observations=observations,
        solution=Solution((front, left), values, {"corners": np.eye(28) * 1e-6}),
        features=features(front, left),
        measurements=measurements(),
        decisions=decisions(),
        checks=(
            Check(entries[0], "diameter", 40.02, -4.22),
            Check(entries[1], "diameter", 12.06, 0.40),
        ),
        pictures=(
            *(Picture(name, pixels, scale) for name, pixels in shots.items()),
            rectify(shots["front"], scale, front, "flange face"),
        ),
        warnings=("No camera record: the lens was estimated from these two photos alone.",),
        not_checked=(
            "Gaps at any other position than at rest.",
            "Whether the motor's spigot is round, and how deep it sits.",
            "Strength of bolts, bracket and mill frame.",
        ),
        cautions=(
            "Moving parts: take the crank off and unplug the motor before reaching in.",
            "Lifting: the motor needs a rest under it before its last bolt is loosened.",
        ),
        heights_mm=dict(HEIGHTS),
        offers=offers(),
    )
