"""What becomes of an outline where edges are chamfered, or swarf lies on the part and beside it?

A chamfered edge is two edges: every boundary is judged against the nearer one of its two, and
counted where that is not the face's, as asked for. What counts as said is any warning of an edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from photomeasure import outlining
from photomeasure.benchmark.cases import reason_of
from photomeasure.benchmark.outlines_judged import aligned, in_sheet, nearest, samples
from photomeasure.benchmark.tables import Row, Settings, error_row
from photomeasure.benchmark.workers import spread
from photomeasure.parts.clearances import boundaries
from photomeasure.parts.profiles import circle
from photomeasure.parts.shaping import offset
from photomeasure.records.outline import PartEntry
from photomeasure.records.part import Part, Profile
from photomeasure.synthetic.outline_scenes import chamfered_scene, littered_scene
from photomeasure.synthetic.scene import Part as TruePart
from photomeasure.synthetic.scene import Scene
from photomeasure.synthetic.taking import photo_of

Array = NDArray[np.float64]

FIRST_CHAMFERED_SEED, FIRST_LITTERED_SEED = 78_000, 79_000
_GOAL_MM = (0.03, 0.10)
_WRONG_MM = 0.2


@dataclass(frozen=True, eq=False)
class Spoiled:
    """What one photo gave. distances_mm : (N,) of the boundary from the truth. below : boundaries
    that follow the lower edge of a chamfer, of `boundaries`; said : whether a warning speaks of an
    edge."""

    scene: str
    reason: str = ""
    distances_mm: Array = field(default_factory=lambda: np.empty(0))
    below: int = 0
    boundaries: int = 0
    said: bool = False


def spoiled_rows(settings: Settings) -> tuple[list[Row], list[str]]:
    """Rows for as many chamfered and as many littered parts, and why some were refused."""
    seeds = range(settings.scenes)
    chamfered = spread(
        settings, "chamfered parts", _chamfered, [FIRST_CHAMFERED_SEED + k for k in seeds]
    )
    littered = spread(
        settings, "parts with swarf", _littered, [FIRST_LITTERED_SEED + k for k in seeds]
    )
    lower = sum(o.below for o in chamfered)
    rows = [
        *_rows("edges broken by 0.2–0.5, holes by 0.3–1 mm", chamfered),
        Row(
            "  boundaries at the chamfer's lower edge",
            f"{lower} of {sum(o.boundaries for o in chamfered)}",
        ),
        *_rows("swarf on a rim, the face and the paper", littered),
    ]
    return rows, [f"{o.scene}: {o.reason}" for o in (*chamfered, *littered) if o.reason]


def _rows(where: str, outlines: Sequence[Spoiled]) -> list[Row]:
    seen = [o for o in outlines if not o.reason]
    refused = len(outlines) - len(seen)
    rows = [
        Row("  asked for a hint or refused", f"{refused / len(outlines):.1%}", n=len(outlines))
    ]
    if not seen:
        return [Row(where, "all refused", n=len(outlines))]
    wrong = [o for o in seen if o.distances_mm.max() > _WRONG_MM]
    return [
        error_row(
            f"{where}: boundary to truth",
            np.concatenate([o.distances_mm for o in seen]),
            *_GOAL_MM,
        ),
        *rows,
        Row(
            f"  farther off than {_WRONG_MM:g} mm somewhere, of these with a word of it",
            f"{len(wrong)}, {sum(o.said for o in wrong)}",
            n=len(seen),
        ),
    ]


def _chamfered(seed: int) -> Spoiled:
    scene = chamfered_scene(seed)
    return _judged(scene, *chamfered_rims(scene.parts[0]))


def chamfered_rims(true: TruePart) -> tuple[list[Profile], list[Profile]]:
    """The edges of the face of a chamfered part, the outline first, and those below them."""
    full = Profile(true.outline.points_mm, true.outline.bulges)
    upper = [
        offset(full, -true.edge_chamfer_mm),
        *(circle(h.centre_mm, h.rim_radius_mm) for h in true.holes),
    ]
    lower = [full, *(circle(h.centre_mm, h.radius_mm) for h in true.holes)]
    return upper, lower


def _littered(seed: int) -> Spoiled:
    scene = littered_scene(seed)
    true = scene.parts[0]
    outline = Profile(true.outline.points_mm, true.outline.bulges)
    return _judged(scene, [outline, *(circle(h.centre_mm, h.radius_mm) for h in true.holes)])


def _judged(scene: Scene, upper: Sequence[Profile], lower: Sequence[Profile] = ()) -> Spoiled:
    entry = PartEntry(
        name=scene.parts[0].name,
        file="photo.jpg",
        thickness_mm=scene.stated_planes[0].height_mm,
        prints=(scene.stated_print,) if scene.stated_print else (),
    )
    try:
        part = outlining.outline(entry, photo_of(scene)).part
    except Exception as error:  # one bad photo must not end a run of many
        return Spoiled(scene.name, reason_of(error))
    return against(part, scene.name, upper, lower)


def against(
    part: Part, scene: str, upper: Sequence[Profile], lower: Sequence[Profile] = ()
) -> Spoiled:
    """A part against the true edges of its face, or where they lie nearer, those below."""
    made = [part.outline, *boundaries(part).values()]
    points = [in_sheet(samples([profile])[0], part) for profile in made]
    placed = aligned(np.concatenate(points), [*upper, *lower])
    distances, below = [], 0
    for chain in np.split(placed, np.cumsum([len(p) for p in points])[:-1]):
        off = nearest(upper, chain)
        off_below = nearest(lower, chain) if lower else off
        is_below = bool(np.median(off_below) < np.median(off))
        below += is_below
        distances.append(off_below if is_below else off)
    said = any("edge" in remark for remark in part.remarks)
    return Spoiled(scene, "", np.concatenate(distances), below, len(made), said)
