"""Which pictures does the page show? A photo upright, or a plane of it seen at right angles.

Always encoded anew, without EXIF: so browser and program agree which way is up, and formats
that browsers cannot show are no different. Pixels to look at; nothing is measured in them.
"""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from photomeasure.estimation.features import view_on
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.vision.pictures import box_mm, rectified_picture
from photomeasure.vision.targets import planes_of, target_of
from photomeasure.web.desk import Desk
from photomeasure.web.kept import Kept

MOST_PX = 12_600_000  # some phones draw nothing larger than 16.7 megapixels
_QUALITY = 88


class Pictures:
    """The pictures of one job folder as JPEG."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._jpegs: Kept[bytes] = Kept(6)

    def upright(self, entry: PhotoEntry) -> bytes:
        """The photo, reduced to MOST_PX where it has more. Raises PhotomeasureError."""
        return self._jpegs.get(
            self._desk.stamp(entry), lambda: _jpeg(_reduced(self._desk.photo(entry).pixels))
        )

    def flat(self, job: Job, entry: PhotoEntry, plane: str) -> bytes | None:
        """A plane of it at right angles; None where the photo has no view or the job no plane."""
        views = self._desk.views(job)
        if views.solution is None or plane not in planes_of(job):
            return None
        seen = [v.sheet for v in views.solution.views if v.photo == entry.name]
        if not seen:
            return None
        view = view_on(views.solution, entry.name, target_of(job, entry.name, plane, seen))
        height_mm = planes_of(job)[plane].height_mm
        key = self._desk.stamp(entry), view.parameters.tobytes(), height_mm
        return self._jpegs.get(
            key,
            lambda: _jpeg(
                rectified_picture(
                    self._desk.photo(entry),
                    view.parameters,
                    plane,
                    height_mm,
                    box_mm(view),
                ).pixels
            ),
        )


def _reduced(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    height, width = pixels.shape[:2]
    share = (MOST_PX / (width * height)) ** 0.5
    if share >= 1:
        return pixels
    size = round(width * share), round(height * share)
    return np.asarray(Image.fromarray(pixels).resize(size, Image.Resampling.BOX))


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()
