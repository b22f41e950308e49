"""Where does the face of a whole part end, all round and at every opening, to sub-pixel?

First roughly (`outline_rough`), then along a band round every boundary (`outline_follow`) with
the knowledge of where its walls must show (`outline_path`), then sharpened row by row in linear
light (`outline_edge`). Round openings are located as a click on a hole is, chamfers and all.
Where too little is seen it asks for a hint instead of guessing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.geometry.circles import fit_circle
from photomeasure.records.feature import SET_CHOICE, ImageFeature
from photomeasure.records.job import FeatureEntry
from photomeasure.records.outline import Boundary, Hints
from photomeasure.records.part import Pair
from photomeasure.vision.floors import UNKNOWN_WALL_U_PX
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.outline_arcs import ROUND_SHARE, is_round, on_circle, two_arcs
from photomeasure.vision.outline_bridge import UNCLEAR_MM, Gap
from photomeasure.vision.outline_follow import Chains, Line, clearest
from photomeasure.vision.outline_opening import find_opening, refuse_bent_in, refuse_covered
from photomeasure.vision.outline_rims import chamfer_beside
from photomeasure.vision.outline_rough import HintsOnFace, find_face
from photomeasure.vision.outline_window import Window

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]
Progress = Callable[[str], None]

_SPARSE_ROWS, _SPARSE, _SHORT_MM = 25, 0.25, 2.5  # 6 mm, of which less than this is seen
_AGREE_MM = 0.15
_SECTORS = 36
_BEHIND_PX = 2.0
_SEEN_SHARE = 0.55  # of a circle: most of it
_AGREE_SHARE, _RIM_SHARE = 0.88, 0.4
_LEAST_ROWS = 8
_LEAST_SEEN = 0.7  # of an opening that is no circle
_SAME_RADIUS = 0.12


def outline_part(
    scenery: Scenery,
    height_mm: float,
    box_mm: Box,
    hints: Hints | None = None,
    progress: Progress = lambda words: None,
    opening: bool = False,
    beside: Sequence[Array] = (),
) -> tuple[Boundary, ...]:
    """The outer boundary of the one part inside box_mm, and then every inner one.

    opening : look for an opening in the plane instead, of which only the rim is wanted.
    beside : (N, 2) mm outlines of known things in the box, as the card in a scan.
    Raises GeometryError where there is none or more than one part, where it does not lie
    clear of the box, and where too little of an edge is seen.
    """
    progress("looking for the part")
    said = _on_plane(hints or Hints(), scenery, height_mm)
    light, view = scenery.light, scenery.view
    window = Window(light, view, height_mm, box_mm, scenery.tone.paper, beside)
    if opening:
        return (_one_opening(window, scenery, said, progress),)
    face = find_face(window, said, alone=scenery.on_paper)
    progress("following the outline")
    outer = clearest(scenery, height_mm, face.outer, -1, said)
    found = [_round_or_whole(outer, scenery, height_mm, "outline", inner=False)]
    _refuse_before_ring(found[0], scenery, box_mm)
    for k, chains in enumerate(face.openings, 1):
        progress(f"following opening {k} of {len(face.openings)}")
        found.append(_opening(scenery, height_mm, chains, said, f"opening {k}"))
    found[0] = _with_chamfer(found[0], scenery, height_mm)
    return tuple(_in_doubt(one, scenery) for one in found)


def _one_opening(
    window: Window, scenery: Scenery, hints: HintsOnFace, progress: Progress
) -> Boundary:
    """The rim of an opening round a touch: in the face that a card is stuck on, else in a part
    on the sheet."""
    in_place = not scenery.on_paper and len(window.beside) > 0
    chains = find_opening(window, hints) if in_place else find_face(window, hints, False).outer
    progress("following the opening")
    found = _opening(scenery, window.height_mm, chains, hints, "opening")
    if in_place:
        refuse_covered(_on_face(found.points_px, scenery, window.height_mm), window.beside[0])
    return _in_doubt(found, scenery)


def _in_doubt(found: Boundary, scenery: Scenery) -> Boundary:
    """In place nobody knows how deep walls go, and a narrow one merges with the face."""
    if scenery.on_paper:
        return found
    return replace(found, u_shift_px=float(np.hypot(found.u_shift_px, UNKNOWN_WALL_U_PX)))


def _on_plane(hints: Hints, scenery: Scenery, height_mm: float) -> HintsOnFace:
    """The hints carried onto the face, mm."""

    def mm(points: Sequence[Pair]) -> Array:
        return plane_from_image(np.array(points, float).reshape(-1, 2), scenery.view, height_mm)

    return HintsOnFace(mm(hints.inside), mm(hints.outside), tuple(map(mm, hints.strokes)))


def _refuse_before_ring(outer: Boundary, scenery: Scenery, box_mm: Box) -> None:
    """Raise where a high part hides some of the ring: black on black shows no edge."""
    behind = outer.points_px + _BEHIND_PX * outer.normals_px
    ground = plane_from_image(behind, scenery.view, 0.0)
    x0, y0, x1, y1 = box_mm
    hides = (ground < [x0, y0]).any(axis=1) | (ground > [x1, y1]).any(axis=1)
    if hides.any():
        x, y = ground[hides].mean(axis=0)
        raise GeometryError(
            f"The part is seen before the ring of the sheet near ({x:.0f}, {y:.0f}) mm, where "
            "its edge cannot be told from the squares. Move it towards the middle, or hold the "
            "phone more upright over it."
        )


def _boundary(line: Line, scenery: Scenery, height_mm: float, name: str, inner: bool) -> Boundary:
    _refuse_unclear(line, name)
    whole = _bridged_px(line, scenery, height_mm)
    seen = _as_seen(_joined(line, scenery, height_mm), inner)
    return replace(seen, notes=_notes(line), whole_px=whole)


def _joined(line: Line, scenery: Scenery, height_mm: float) -> Line:
    """The line with what lies between places where it is seen only here and there: one such
    place alone holds nobody who fits lines and arcs from bending between them."""
    share = uniform_filter1d(line.sharp.good.astype(float), _SPARSE_ROWS, mode="wrap")

    def places(gap: Gap) -> Array | None:
        sparse = share[gap.rows].max() < _SPARSE
        return gap.places if sparse and gap.is_gentle and gap.length_mm < _SHORT_MM else None

    return _filled(line, scenery, height_mm, places)


def _bridged_px(line: Line, scenery: Scenery, height_mm: float) -> Array:
    """(M, 2) what is seen, and in gaps where it may well run."""

    def places(gap: Gap) -> Array | None:
        return gap.places_as_followed(line.followed_mm[gap.rows])

    bridged = _filled(line, scenery, height_mm, places)
    return np.asarray(bridged.sharp.points_px[bridged.sharp.good | line.by_hand])


def _filled(
    line: Line, scenery: Scenery, height_mm: float, places: Callable[[Gap], Array | None]
) -> Line:
    """The line with places (k, 2) mm, as if seen, in those of its gaps that have any."""
    points, good = line.sharp.points_px.copy(), line.sharp.good.copy()
    for gap in line.gaps:
        there = places(gap)
        if there is not None:
            points[gap.rows] = image_from_plane(there, scenery.view, height_mm)
            good[gap.rows] = True
    return replace(line, sharp=replace(line.sharp, points_px=points, good=good))


def _round_or_whole(
    line: Line, scenery: Scenery, height_mm: float, name: str, inner: bool
) -> Boundary:
    """Most of a circle tells where the rest runs; of another shape all must be seen."""
    seen = _on_face(line.seen_px, scenery, height_mm)
    round_ = is_round(seen)
    if inner and not round_:
        _refuse_little_seen(line, name)
    if line.seen_share < _SEEN_SHARE or not round_:
        return _boundary(line, scenery, height_mm, name, inner)
    good = line.sharp.good.copy()
    good[good] = on_circle(seen)
    return _as_seen(replace(line, sharp=replace(line.sharp, good=good)), inner)


def _as_seen(line: Line, inner: bool) -> Boundary:
    sharp, kept = line.sharp, line.sharp.good | line.by_hand
    return Boundary(
        points_px=sharp.points_px[kept],
        normals_px=line.normals_px[kept],
        light_side=sharp.light_side[kept],
        u_noise_px=sharp.u_noise_px,
        u_shift_px=sharp.u_shift_px,
        u_tone_px=sharp.u_tone_px,
        inner=inner,
        notes=_notes(line),
    )


def _notes(line: Line) -> tuple[str, ...]:
    by_hand = ("Part of it follows a stroke drawn by hand.",) if line.by_hand.any() else ()
    return (*by_hand, *line.notes, *_unseen_note(line))


def _refuse_unclear(line: Line, name: str) -> None:
    """Raise where the edge is not seen over a long stretch that nobody has drawn."""
    if not (line.sharp.good | line.by_hand).any():
        raise GeometryError(
            f"The edge of the {name} is nowhere to be seen clearly. Draw a stroke along it, or "
            "lay the part on paper of another brightness."
        )
    unclear = [gap for gap in line.gaps if gap.length_mm > gap.most_mm]
    if unclear:
        gap = max(unclear, key=lambda gap: gap.length_mm)
        x, y = line.sharp.points_px[gap.rows].mean(axis=0)
        raise GeometryError(
            f"Over {gap.length_mm:.1f} mm near pixel ({x:.0f}, {y:.0f}) the edge of the {name} "
            "does not show. Draw a stroke along it there, or take a photo with other light."
        )


def _unseen_note(line: Line) -> tuple[str, ...]:
    """What to say of gaps in which the edge was taken to run on, but that are long or in which it
    could well be elsewhere."""
    gaps = [
        gap
        for gap in line.gaps
        if gap.length_mm > UNCLEAR_MM or gap.is_open(line.followed_mm[gap.rows])
    ]
    return tuple(
        f"Over {gap.length_mm:.0f} mm near pixel ({x:.0f}, {y:.0f}) the edge does not show; it is "
        "taken to run on as it does on both sides. Check it, or draw a stroke along it."
        for gap in gaps
        for x, y in [line.sharp.points_px[gap.rows].mean(axis=0)]
    )


def _opening(
    scenery: Scenery, height_mm: float, chains: Chains, hints: HintsOnFace, name: str
) -> Boundary:
    """By its own line; where that is no circle but could be one partly hidden, as a hole."""
    line = clearest(scenery, height_mm, chains, 1, hints)
    if not is_round(_on_face(line.seen_px, scenery, height_mm)):
        hole = _round_hole(scenery, height_mm, line)
        if hole is not None:
            return hole
        _refuse_shadow(_on_face(line.seen_px, scenery, height_mm), name)
        if not scenery.on_paper:
            refuse_bent_in(line, hints.outside)
    return _round_or_whole(line, scenery, height_mm, name, inner=True)


def _refuse_little_seen(line: Line, name: str) -> None:
    """Raise where gaps, each of them short, are together much of an opening that is no circle:
    swarf on a face shows so, a curl whose ends do not meet."""
    if line.seen_share >= _LEAST_SEEN:
        return
    x, y = line.sharp.points_px.mean(axis=0)
    raise GeometryError(
        f"Only {line.seen_share:.0%} of the edge of the {name} about pixel ({x:.0f}, {y:.0f}) "
        f"shows, and of one that is no circle {_LEAST_SEEN:.0%} must. Wipe off what lies there, "
        "draw a stroke along the edge that is meant, or take a photo with other light."
    )


def _refuse_shadow(seen: Array, name: str) -> None:
    """Raise where an opening is bounded by one circle and, inside it, by the same circle shifted:
    that is the edge of its own shadow or foot, and what lies beyond looks like the face."""
    arcs = two_arcs(seen)
    if arcs is None or abs(arcs[1].radius / arcs[0].radius - 1) > _SAME_RADIUS:
        return
    (x, y), radius = arcs[0].centre, arcs[0].radius
    raise GeometryError(
        f"The {name} near ({x:.0f}, {y:.0f}) mm looks like a sickle, as a round hole of "
        f"{2 * radius:.1f} mm does in which a shadow lies and what is behind it as light as "
        "the face. Draw a stroke along its edge, lay darker paper behind it, or turn the light."
    )


def _round_hole(scenery: Scenery, height_mm: float, line: Line) -> Boundary | None:
    """A hole as a click on it is located, where what is clearly seen of its own line agrees
    with its rim or with its foot."""
    rim = _on_face(line.seen_px, scenery, height_mm)
    if len(rim) < _LEAST_ROWS:
        return None
    picks = image_from_plane(rim[:: max(1, len(rim) // 12)], scenery.view, height_mm)
    clicks = tuple((float(x), float(y)) for x, y in picks)
    entry = FeatureEntry("opening", "circle", "photo", "face", clicks)
    try:
        found = locate(entry, scenery, height_mm)
    except GeometryError:
        return None
    circle = _on_face(found.points_px, scenery, height_mm)
    if not _could_be(rim, circle, scenery, height_mm):
        return None
    return _as_boundary(found, scenery, height_mm)


def _could_be(seen: Array, circle: Array, scenery: Scenery, height_mm: float) -> bool:
    """Whether a line (N, 2) that was followed could be that of a round hole.

    It may run along the rim, and between the rim and the foot, where a wall and its shadow
    show; not outside the rim, nor in the clear, where something would lie in the hole, unless
    the rim itself was seen all round.
    """
    from_rim = _beyond(seen, circle)
    from_foot = _beyond(seen, _foot_of(circle, scenery, height_mm))
    in_clear = (from_rim < -_AGREE_MM) & (from_foot < -_AGREE_MM)
    against = (from_rim > _AGREE_MM) | (in_clear & (not _all_round(circle)))
    on_rim = np.abs(from_rim) < _AGREE_MM
    return bool(np.mean(against) < 1 - _AGREE_SHARE and np.mean(on_rim) > _RIM_SHARE)


def _all_round(rim: Array) -> bool:
    """Whether points of a rim lie in nearly all directions from its middle."""
    x, y = (rim - fit_circle(rim)[0]).T
    sectors = np.unique(((np.arctan2(y, x) / np.pi + 1) * _SECTORS / 2).astype(int))
    return len(sectors) >= ROUND_SHARE * _SECTORS


def _foot_of(circle: Array, scenery: Scenery, height_mm: float) -> Array:
    """Where the lower rim of a hole appears, carried onto its face."""
    lower = image_from_plane(circle, scenery.view, 0.0)
    return plane_from_image(lower, scenery.view, height_mm)


def _beyond(points: Array, rim: Array) -> Array:
    """(N,) how far points lie outside the circle through a rim; negative inside."""
    centre, radius = fit_circle(rim)
    return np.asarray(np.hypot(*(points - centre).T) - radius)


def _on_face(points_px: Array, scenery: Scenery, height_mm: float) -> Array:
    return plane_from_image(points_px, scenery.view, height_mm)


def _as_boundary(found: ImageFeature, scenery: Scenery, height_mm: float) -> Boundary:
    arms = found.points_px - found.points_px.mean(axis=0)
    side = np.sign(np.einsum("ij,ij->i", arms, found.normals_px))
    taken, *others = (
        2 * fit_circle(_on_face(points, scenery, height_mm))[1]
        for points in (found.points_px, *(a.points_px for a in found.alternatives))
    )
    told = tuple(w for w in found.warnings if not w.endswith(SET_CHOICE))
    return Boundary(
        points_px=found.points_px,
        normals_px=found.normals_px * side[:, None],
        light_side=side,
        u_noise_px=found.u_noise_px,
        u_shift_px=found.u_shift_px,
        u_tone_px=found.u_tone_px,
        inner=True,
        notes=(*told, _other_rims(taken, others)) if others else told,
    )


def _with_chamfer(outer: Boundary, scenery: Scenery, height_mm: float) -> Boundary:
    """With a word of another edge that runs beside it all round. In holes shadows and lower rims
    run so as well, and a click on a hole tells its edges by itself."""
    chain = _on_face(outer.points_px, scenery, height_mm)
    beside = chamfer_beside(chain, scenery, height_mm, -1)
    if not beside:
        return outer
    where = f"{abs(beside):.1f} mm {'outside' if beside > 0 else 'inside'} it"
    note = (
        f"Another edge runs about {where} all round, as where a chamfer breaks an edge. If that "
        "one is meant, draw a stroke along it."
    )
    return replace(outer, notes=(*outer.notes, note))


def _other_rims(taken_mm: float, others_mm: Sequence[float]) -> str:
    """A job chooses among edges by number; of a part a stroke says which one is meant."""
    others = " and ".join(f"{size:.1f}" for size in sorted(others_mm))
    return (
        f"{1 + len(others_mm)} edges fit: one of {taken_mm:.1f} mm across, which was taken, and "
        f"about {others} mm. If the hole is chamfered or another is meant, draw a stroke along it."
    )
