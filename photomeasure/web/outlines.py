"""What is the outline of a part, as the command gives it, and where does it lie in the picture?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import JobError
from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.files.jobs import is_inside, leads_out
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.outlining import Outlined, Traced, pointed_at, shape, trace
from photomeasure.parts.clearances import boundaries
from photomeasure.parts.profiles import Piece, box_mm, length_mm, pieces_of
from photomeasure.parts.shaping import mirrored_part
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.outline import PartEntry
from photomeasure.records.part import MIRRORED, Part, Profile
from photomeasure.records.photo import Photo
from photomeasure.web.desk import Desk
from photomeasure.web.downloads import Download, zipped
from photomeasure.web.kept import Kept

Array = NDArray[np.float64]
Chains = list[tuple[str, Array]]
"""Name and (N, 2) px of closed boundaries."""

_TRACED_KEPT, _OUTLINES_KEPT = 6, 12
_BEND_POINTS = 24
_LEAST_AXIS_MM, _AXIS_SHARE = 5.0, 0.2
_GAP_MM, _GAP_STEPS = 2.0, 8.0  # from here on a boundary is not drawn through
_POINTS, _CLOSEST_MM, _SAG_MM = 240, 0.3, 0.01  # of a boundary as drawn


@dataclass(frozen=True, eq=False)
class Found:
    """A part as outlined.

    seen : (N, 2) px of each stretch of its boundaries that shows in the photo; cut : what will
    be cut, by name; bends : (N, 2) px of each bend line. frame : (3, 2) px of a place on the x
    axis of the part, its origin, and a place on its y axis.
    """

    outlined: Outlined
    seen: tuple[Array, ...]
    cut: Chains
    bends: tuple[Array, ...]
    frame: Array


class Outlines:
    """The outlines of one job folder, kept as long as what they depend on stays.

    The boundaries in the photo, which are dear, are kept apart from what a person makes of
    them, so that a choice is answered at once.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._traced: Kept[Traced] = Kept(_TRACED_KEPT)
        self._found: Kept[Found] = Kept(_OUTLINES_KEPT)
        self._doing: dict[str, str] = {}

    def doing(self, part: str) -> str:
        """What is being done for a part at this moment, in words; "" for nothing."""
        return self._doing.get(part, "")

    def of(self, part: str, entry: PartEntry, job: Job | None) -> Found:
        """The outline of a part. Raises PhotomeasureError in words."""
        photo = self._photo_of(entry, job)
        key = entry, self._desk.stamp(photo)
        return self._found.get(key, lambda: self._find(part, entry, photo))

    def places(self, part: str, entry: PartEntry, job: Job | None, points_px: Array) -> Array:
        """(N, 2) px of the photo as mm in the frame of the part file. Raises as `of` does, and
        GeometryError for what lies above the horizon."""
        outlined = self.of(part, entry, job).outlined
        mm = plane_from_image(points_px, outlined.view.parameters, outlined.height_mm)
        return np.asarray(mm @ _turn(outlined.part).T + outlined.part.shift_mm)

    def file(self, part: str, entry: PartEntry, job: Job | None, format_name: str) -> Download:
        """One file of a part; "all" for those that the command writes, in a folder."""
        made = self.of(part, entry, job).outlined.part
        if format_name != "all":
            exporter = PART_EXPORTERS[format_name]
            return Download(exporter.filename(made), exporter.render(made))
        wanted = [e for e in PART_EXPORTERS if e.by_default]
        name = PurePath(wanted[0].filename(made)).stem
        return Download(f"{name}.zip", zipped((e.filename(made), e.render(made)) for e in wanted))

    def _photo_of(self, entry: PartEntry, job: Job | None) -> PhotoEntry:
        """The job's own entry where it has the photo: so another picture is noticed."""
        for photo in job.photos if job else ():
            if photo.file == entry.file:
                return replace(photo, camera=entry.camera)
        return PhotoEntry(PurePath(entry.file).stem, entry.file, camera=entry.camera)

    def _find(self, part: str, entry: PartEntry, said: PhotoEntry) -> Found:
        def tell(words: str) -> None:
            self._doing[part] = words

        pointed = pointed_at(entry)
        key = pointed, self._desk.stamp(said)
        try:
            traced = self._traced.get(key, lambda: self._trace(pointed, said, tell))
            return drawn(entry, shape(entry, traced, tell))
        finally:
            self._doing.pop(part, None)

    def _trace(self, pointed: PartEntry, said: PhotoEntry, tell: Callable[[str], None]) -> Traced:
        tell(f"reading {pointed.file}")
        photo = self._read(pointed, said)
        if pointed.scan:
            return trace(pointed, photo, progress=tell)
        tell(f"looking for sheets and cards in {said.name}")
        return trace(pointed, photo, progress=tell, sheets=self._desk.seen(said))

    def _read(self, entry: PartEntry, said: PhotoEntry) -> Photo:
        if not is_inside(entry.file, self._desk.path.parent):
            raise JobError(leads_out(entry.file))
        return self._desk.photo(said)


def drawn(entry: PartEntry, outlined: Outlined) -> Found:
    """An outline with where it lies in the photo."""

    def px(mm: Array) -> Array:
        return image_from_plane(mm, outlined.view.parameters, outlined.height_mm)

    part = mirrored_part(outlined.part) if entry.mirror else outlined.part
    seen = tuple(px(chain) for c in outlined.contours for chain in _stretches(c.points_mm))
    cut = [(name, px(_on_sheet(part, _points(profile)))) for name, profile in _profiles(part)]
    bends = tuple(
        px(_on_sheet(part, np.linspace(b.start_mm, b.end_mm, _BEND_POINTS))) for b in part.bends
    )
    return Found(outlined, seen, cut, bends, px(_on_sheet(part, _axes(outlined.part, part))))


def _profiles(part: Part) -> list[tuple[str, Profile]]:
    levels = [(level.name, level.outline) for level in part.levels]
    return [("outline", part.outline), *boundaries(part).items(), *levels]


def _on_sheet(part: Part, points_mm: Array) -> Array:
    """(N, 2) mm in the frame of the sheet: the part's turn and shift undone."""
    return np.asarray((points_mm - np.array(part.shift_mm)) @ _turn(part))


def _turn(part: Part) -> Array:
    """(2, 2) that turns from the sheet to the part."""
    c, s = np.cos(part.turn_rad), np.sin(part.turn_rad)
    return np.array([[c, -s], [s, c]])


def _points(profile: Profile) -> Array:
    """(N, 2) mm along a profile."""
    spacing = max(_CLOSEST_MM, length_mm(profile) / _POINTS)
    return np.concatenate([_along(piece, spacing) for piece in pieces_of(profile)])


def _along(piece: Piece, spacing_mm: float) -> Array:
    """(N, 2) from its start, the end left out; a line, too, may be bent in the photo."""
    if piece.is_arc:
        return piece.points(_SAG_MM)
    count = max(1, round(piece.length / spacing_mm))
    return np.asarray(np.linspace(piece.start, piece.end, count, endpoint=False))


def _axes(made: Part, seen: Part) -> Array:
    """(3, 2) mm in the frame of `seen`: the axes of the part as made, which may be mirrored."""
    x0, _, x1, y1 = box_mm(seen.outline)
    length = max(_LEAST_AXIS_MM, _AXIS_SHARE * min(x1 - x0, y1))
    places = np.array([(length, 0.0), (0.0, 0.0), (0.0, length)])
    if made.view_side == MIRRORED:
        places[:, 0] = x0 + x1 - places[:, 0]
    return places


def _stretches(points: Array) -> list[Array]:
    """A closed boundary as (N, 2) chains, broken where nothing of it is seen."""
    steps = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    gaps = np.flatnonzero(steps > max(_GAP_MM, _GAP_STEPS * float(np.median(steps))))
    if not len(gaps):
        return [_thinned(np.concatenate([points, points[:1]]))]
    begun = np.roll(points, -(gaps[-1] + 1), axis=0)
    return [_thinned(c) for c in np.split(begun, (gaps[:-1] - gaps[-1]) % len(points)) if len(c)]


def _thinned(points: Array) -> Array:
    every = -(-len(points) // (3 * _POINTS)) or 1
    return np.concatenate([points[:-1:every], points[-1:]])
