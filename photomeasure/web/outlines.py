"""What is the outline of a part, as the command gives it, and where does it lie in the picture?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from photomeasure import files
from photomeasure.errors import JobError
from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.files.jobs import is_inside, leads_out
from photomeasure.geometry.camera import image_from_plane
from photomeasure.outlining import Outlined, outline
from photomeasure.parts.clearances import boundaries
from photomeasure.parts.profiles import Piece, length_mm, pieces_of
from photomeasure.parts.shaping import mirrored_part
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.outline import PartEntry
from photomeasure.records.part import Part, Profile
from photomeasure.records.photo import Photo
from photomeasure.web.desk import Desk
from photomeasure.web.downloads import Download, zipped
from photomeasure.web.kept import Kept

Array = NDArray[np.float64]
Chains = list[tuple[str, Array]]
"""Name and (N, 2) px of closed boundaries."""

_OUTLINES_KEPT = 6
_POINTS, _CLOSEST_MM, _SAG_MM = 240, 0.3, 0.01  # of a boundary as drawn


@dataclass(frozen=True, eq=False)
class Found:
    """A part as outlined. seen : its boundaries in the photo; cut : what will be cut, by name."""

    outlined: Outlined
    seen: tuple[Array, ...]
    cut: Chains


class Outlines:
    """The outlines of one job folder, kept as long as what they depend on stays."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
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

        try:
            tell(f"reading {entry.file}")
            photo = self._read(entry, said)
            alone = Job(entry.name, (said,), (), ())
            cameras = files.read_cameras(self._desk.path.parent, alone)
            outlined = outline(entry, photo, cameras, tell)
            tell("drawing it over the photo")
            return self._drawn(entry, outlined)
        finally:
            self._doing.pop(part, None)

    def _read(self, entry: PartEntry, said: PhotoEntry) -> Photo:
        if not is_inside(entry.file, self._desk.path.parent):
            raise JobError(leads_out(entry.file))
        return self._desk.photo(said)

    def _drawn(self, entry: PartEntry, outlined: Outlined) -> Found:
        def px(mm: Array) -> Array:
            return image_from_plane(mm, outlined.view.parameters, outlined.height_mm)

        part = mirrored_part(outlined.part) if entry.mirror else outlined.part
        seen = tuple(px(_thinned(c.points_mm)) for c in outlined.contours)
        cut = [(name, px(_on_sheet(part, profile))) for name, profile in _profiles(part)]
        return Found(outlined, seen, cut)


def _profiles(part: Part) -> list[tuple[str, Profile]]:
    levels = [(level.name, level.outline) for level in part.levels]
    return [("outline", part.outline), *boundaries(part).items(), *levels]


def _on_sheet(part: Part, profile: Profile) -> Array:
    """(N, 2) mm in the frame of the sheet: the part's turn and shift undone."""
    spacing = max(_CLOSEST_MM, length_mm(profile) / _POINTS)
    chains = [_along(piece, spacing) for piece in pieces_of(profile)]
    c, s = np.cos(part.turn_rad), np.sin(part.turn_rad)
    points = np.concatenate(chains) - np.array(part.shift_mm)
    return np.asarray(points @ np.array([[c, -s], [s, c]]))


def _along(piece: Piece, spacing_mm: float) -> Array:
    """(N, 2) from its start, the end left out; a line, too, may be bent in the photo."""
    if piece.is_arc:
        return piece.points(_SAG_MM)
    count = max(1, round(piece.length / spacing_mm))
    return np.asarray(np.linspace(piece.start, piece.end, count, endpoint=False))


def _thinned(points: Array) -> Array:
    return np.asarray(points[:: -(-len(points) // (3 * _POINTS)) or 1])
