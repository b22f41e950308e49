"""Photo or scan → part: the line for outlines, in order.

    photo → sheet seen → view → boundaries in the picture → contours in mm → lines and arcs
    → what a person chose → shop check

Needs no disk: the photo comes as pixels, a camera record from a mapping. All that is dear comes
before what a person chose: whoever keeps a `Traced` may `shape` it again and again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure import pipeline
from photomeasure.errors import GeometryError, JobError, PhotoError
from photomeasure.estimation.boundaries import place_boundaries
from photomeasure.estimation.features import Height
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.parts.build import build_part
from photomeasure.parts.choices import HoleChoice, with_choices
from photomeasure.parts.clearances import boundaries as inner_profiles
from photomeasure.parts.profiles import box_mm
from photomeasure.parts.regular import offers
from photomeasure.parts.shaping import mirrored_part, offset, placed, rounded
from photomeasure.parts.shop import check_for_shop
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.outline import Boundary, PartEntry
from photomeasure.records.part import Bend, Contour, Level, Offer, Part, Profile, Remark
from photomeasure.records.photo import Photo
from photomeasure.records.view import CameraRecord, Solution, View
from photomeasure.rules.cautions import cautions
from photomeasure.rules.remarks import print_warnings
from photomeasure.rules.tables import TABLES
from photomeasure.vision.detection import detect_sheets, grey_of
from photomeasure.vision.locate import Scenery
from photomeasure.vision.outline import outline_part
from photomeasure.vision.scanned import believed_tone, page_px, scan_solution
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]
Progress = Callable[[str], None]

_AROUND_CARD_MM = 150.0
_CARD_RIM_MM = 5.0
_SCAN_BORDER_MM = 2.0
_FITS = ("fine", "medium", "coarse")


@dataclass(frozen=True, eq=False)
class Outlined:
    """A part, how it was seen, what else is on offer, and what a shop would ask.

    contours : as seen, in the frame of the sheet. view, height_mm : where the plane of the
    contours lies in the picture.
    """

    part: Part
    contours: tuple[Contour, ...]
    offers: tuple[Offer, ...]
    shop: tuple[Remark, ...]
    view: View
    height_mm: float


@dataclass(frozen=True, eq=False)
class Traced:
    """The boundaries of a part as a picture shows them, before anything is made of them.

    contours, view, height_mm : as in Outlined. warnings : of the photo and the boundaries.
    """

    contours: tuple[Contour, ...]
    warnings: tuple[str, ...]
    view: View
    height_mm: float


@dataclass(frozen=True, eq=False)
class _Seen:
    """What a picture gives: its light, the view of the plane, where to look, and the outlines
    (N, 2) mm of cards that lie there."""

    scenery: Scenery
    view: View
    solution: Solution
    box: Box
    remarks: tuple[str, ...]
    beside: tuple[Array, ...] = ()


def outline(
    entry: PartEntry,
    photo: Photo,
    cameras: Mapping[str, CameraRecord] | None = None,
    progress: Progress = lambda words: None,
) -> Outlined:
    """The part that a person described, from one picture.

    Raises PhotomeasureError in words a person can act on; then there is no part.
    """
    return shape(entry, trace(pointed_at(entry), photo, cameras, progress), progress)


def pointed_at(entry: PartEntry) -> PartEntry:
    """What was said of where the part lies, which is all that its boundaries depend on.

    Raises JobError for what no picture can answer.
    """
    _refuse_nonsense(entry)
    return PartEntry(
        name=entry.file,
        file=entry.file,
        thickness_mm=0.0 if entry.scan else entry.height_mm,
        plus_minus_mm=entry.plus_minus_mm,
        camera=entry.camera,
        on=entry.on,
        opening=entry.opening,
        hints=entry.hints,
        prints=entry.prints,
        scan=entry.scan,
    )


def trace(
    entry: PartEntry,
    photo: Photo,
    cameras: Mapping[str, CameraRecord] | None = None,
    progress: Progress = lambda words: None,
    sheets: pipeline.Seen | None = None,
) -> Traced:
    """The boundaries of what was pointed at, in mm. Raises PhotomeasureError.

    sheets : what is seen of sheets and cards in the photo, where that is known already.
    """
    if entry.scan:
        seen = _look_at_scan(entry, photo)
    else:
        seen = _look(entry, photo, sheets or _see(entry, photo, cameras, progress), progress)
    height = Height(0.0, 0.0) if entry.scan else Height(entry.height_mm, entry.plus_minus_mm / 2)
    boundaries = outline_part(
        seen.scenery, height.mm, seen.box, entry.hints, progress, entry.opening, seen.beside
    )
    contours = place_boundaries(boundaries, seen.view, seen.solution, height)
    notes = [f"{_place(b)}: {n}" for b in boundaries for n in b.notes]
    warnings = tuple(dict.fromkeys([*seen.solution.warnings, *seen.remarks, *notes]))
    return Traced(contours, warnings, seen.view, height.mm)


def _place(boundary: Boundary) -> str:
    """Which boundary it is, by a pixel that a picture viewer shows."""
    x, y = np.mean(boundary.points_px, axis=0)
    return f"The {'opening' if boundary.inner else 'outline'} about pixel ({x:.0f}, {y:.0f})"


def shape(entry: PartEntry, traced: Traced, progress: Progress = lambda words: None) -> Outlined:
    """The part of these boundaries, as a person wants it. Raises PhotomeasureError."""
    outer, *inner = traced.contours
    part = build_part(
        entry.name, outer, inner, entry.thickness_mm, entry.tolerance_mm, entry.shaped, progress
    )
    sizes = standard_holes()
    holes = [HoleChoice(h.name, h.diameter_mm, h.thread, h.fit) for h in entry.holes]
    part = with_choices(part, holes, entry.take, entry.confirmed, sizes)
    left = tuple(o.offer for o in offers(part, sizes))
    part = finished(part, entry)
    # A shop must read of an edge that was guessed or a print that was not measured.
    part = replace(part, remarks=(*part.remarks, *traced.warnings))
    shop = check_for_shop(part)
    return Outlined(part, traced.contours, left, shop, traced.view, traced.height_mm)


def standard_holes() -> list[tuple[str, float]]:
    """Clearance holes of ISO 273 as (name, mm)."""
    table = TABLES["iso-273"]
    columns = [table.columns.index(fit) for fit in _FITS]
    cells = [
        (f"{row[0]} {fit}, ISO 273", row[k])
        for row in table.rows
        for fit, k in zip(_FITS, columns, strict=True)
    ]
    return [(name, float(mm)) for name, mm in cells if isinstance(mm, int | float)]


def finished(part: Part, entry: PartEntry) -> Part:
    """The part with everything else that was said: rounding, offset, levels, bends, side."""
    if entry.round_corners_mm:
        part = replace(part, outline=rounded(part.outline, entry.round_corners_mm))
    if entry.offset_mm:
        part = _grown(part, entry.offset_mm)
    levels = tuple(
        Level(s.name, _level_outline(part, s.around, s.offset_mm), s.height_mm)
        for s in entry.levels
    )
    bends = tuple(
        Bend(b.start_mm, b.end_mm, b.angle_deg, b.up, b.inside_radius_mm) for b in entry.bends
    )
    words = f"{entry.name} {entry.title.title} {entry.title.material}"
    told = cautions(Job(words, (), (), (), hazards=entry.hazards))
    part = replace(part, levels=levels, bends=bends, title=entry.title, cautions=told)
    return mirrored_part(part) if entry.mirror else part


def _grown(part: Part, by_mm: float) -> Part:
    """The outline offset; the origin moves to the corner of the new box."""
    grown = replace(part, outline=offset(part.outline, by_mm))
    x0, y0, _, _ = box_mm(grown.outline)
    note = f"outline offset by {by_mm:g} mm"
    seen = part.photo_size_mm
    size = None if seen is None else (seen[0] + 2 * by_mm, seen[1] + 2 * by_mm)
    moved = placed(grown, 0.0, (-x0, -y0))
    shift = (part.shift_mm[0] - x0, part.shift_mm[1] - y0)
    return replace(moved, photo_size_mm=size, shift_mm=shift, remarks=(*part.remarks, note))


def _level_outline(part: Part, around: str, by_mm: float) -> Profile:
    profiles = {"outline": part.outline} | inner_profiles(part)
    if around not in profiles:
        raise JobError(
            f"A level lies around {around!r}, which the part has not. It has: "
            f"{', '.join(profiles)}."
        )
    return offset(profiles[around], by_mm) if by_mm else profiles[around]


def _refuse_nonsense(entry: PartEntry) -> None:
    problems = []
    if not entry.thickness_mm > 0:
        problems.append(f"A thickness of {entry.thickness_mm:g} mm was stated. Measure it.")
    if not entry.tolerance_mm > 0:
        problems.append(f"A tolerance of {entry.tolerance_mm:g} mm was asked for. Use 0.1.")
    if entry.opening and not entry.hints.inside:
        problems.append("An opening is found by a touch inside it. Add one under `inside`.")
    if problems:
        raise JobError(problems)


def _see(
    entry: PartEntry,
    photo: Photo,
    cameras: Mapping[str, CameraRecord] | None,
    progress: Progress,
) -> pipeline.Seen:
    progress(f"looking for sheets and cards in {photo.name}")
    said = PhotoEntry(photo.name, entry.file, camera=entry.camera)
    return pipeline.see(said, photo, cameras or {})


def _look(entry: PartEntry, photo: Photo, seen: pipeline.Seen, progress: Progress) -> _Seen:
    job = Job(entry.name, (seen.entry,), (), (), prints=entry.prints)
    progress("working out where the camera stood")
    solution = pipeline.solve(job, [seen])
    view = _target(entry, solution)
    progress("undoing the tone curve")
    linear = pipeline.linearise(photo, seen)
    design = sheet(view.sheet)
    on_paper = not design.is_card
    scenery = Scenery(linear.light, linear.tone, view.parameters, on_paper)
    window = design.window
    box = window if window and not entry.opening else _around_touch(entry, view, photo)
    unread = tuple(print_warnings(job, seen.detection.sheets))
    return _Seen(scenery, view, solution, box, unread, _own_card(view))


def _own_card(view: View) -> tuple[Array, ...]:
    """The paper of the card that the plane is measured from, in its frame."""
    if not sheet(view.sheet).is_card:
        return ()
    x0, y0, x1, y1 = sheet(view.sheet).page
    return (np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float),)


def _target(entry: PartEntry, solution: Solution) -> View:
    """The view of the sheet or card that the part lies with."""
    named = [v for v in solution.views if entry.on in (None, v.sheet)]
    windows = [v for v in named if sheet(v.sheet).window]
    chosen = windows if windows and entry.on is None else named
    if len(chosen) != 1:
        seen = ", ".join(v.sheet for v in solution.views)
        raise JobError(
            f"{len(chosen)} sheets or cards could be meant; in the photo are {seen}. Name the "
            "one in the plane of the part under `on`."
        )
    return chosen[0]


def _around_touch(entry: PartEntry, view: View, photo: Photo) -> Box:
    """Where to look beside a card: around the touch, as far as the photo shows."""
    if not entry.hints.inside:
        raise GeometryError(
            "No window sheet is in the photo, so the part is looked for around a touch. Touch "
            "a place inside it and give its pixel under `inside`."
        )
    touch = np.array([entry.hints.inside[0]], float)
    middle = plane_from_image(touch, view.parameters, entry.height_mm)[0]
    reach = _AROUND_CARD_MM
    width, height = photo.size_px
    while reach > 10:
        corners = middle + reach * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        px = image_from_plane(corners, view.parameters, entry.height_mm)
        inside = (px > 0).all() and (px < np.array([width, height]) - 1).all()
        if inside:
            break
        reach *= 0.95
    cards = [c + way * _CARD_RIM_MM for c in _own_card(view) for way in (-1, 1)]
    near = np.vstack([middle - reach, middle + reach, *cards])
    x0, y0, x1, y1 = (float(v) for v in (*near.min(axis=0), *near.max(axis=0)))
    return x0, y0, x1, y1


def _look_at_scan(entry: PartEntry, photo: Photo) -> _Seen:
    assert entry.scan is not None
    try:
        cards: tuple = detect_sheets(photo)  # type: ignore[type-arg]
    except PhotoError:
        cards = ()
    solution, remarks = scan_solution(photo, entry.scan, cards)
    view = solution.views[0]
    grey = grey_of(photo)
    tone = believed_tone(grey)
    light = tone.light(grey)
    corners = np.array([[0, photo.size_px[1] - 1], [photo.size_px[0] - 1, 0]], float)
    (x0, y0), (x1, y1) = plane_from_image(corners, view.parameters, 0.0)
    b = _SCAN_BORDER_MM
    box = (float(x0) + b, float(y0) + b, float(x1) - b, float(y1) - b)
    cards_mm = tuple(plane_from_image(page_px(c), view.parameters, 0.0) for c in cards)
    return _Seen(Scenery(light, tone, view.parameters), view, solution, box, remarks, cards_mm)
