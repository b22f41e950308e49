"""The errors a person can act on, by who must act.

    PhotomeasureError
    ├── PhotoError         retake the photo
    ├── CalibrationError   calibrate the camera again, or measure the printed bars
    ├── JobError           edit the job (lists every bad field)
    ├── GeometryError      add or move points
    └── ExportError        change the output

Every message says what was seen, the limit and the remedy, in that order.
"""

from __future__ import annotations

from collections.abc import Sequence


class PhotomeasureError(Exception):
    """Root of every error that photomeasure raises on purpose."""


class PhotoError(PhotomeasureError):
    """The photo cannot be used as it is: retake it or choose another."""


class CalibrationError(PhotomeasureError):
    """The camera record or the printed sheet does not fit the photo."""


class GeometryError(PhotomeasureError):
    """The points do not define what was asked: add or move points."""


class ExportError(PhotomeasureError):
    """The output cannot be written as asked: change the output."""


class JobError(PhotomeasureError):
    """The job file must be edited; `problems` lists every bad field at once."""

    def __init__(self, problems: str | Sequence[str]) -> None:
        self.problems: tuple[str, ...] = (
            (problems,) if isinstance(problems, str) else tuple(problems)
        )
        super().__init__("\n".join(self.problems))
