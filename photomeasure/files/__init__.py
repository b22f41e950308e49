"""The disk: photos, jobs, camera records and outputs. Nothing else reads or writes files.

What is asked of it here is imported when it is asked for: the checks of a job file take longer to
load than a photo to read, and not every command wants them.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from photomeasure.files.beginning import begin_job
    from photomeasure.files.cameras import (
        adopt_camera,
        read_camera,
        read_cameras,
        record_hash,
        write_camera,
    )
    from photomeasure.files.job_writer import write_job
    from photomeasure.files.jobs import load_photo, read_job
    from photomeasure.files.outputs import write_outputs
    from photomeasure.files.photos import read_photo
    from photomeasure.files.schema import job_schema

_MODULES = {
    "adopt_camera": "cameras",
    "begin_job": "beginning",
    "job_schema": "schema",
    "load_photo": "jobs",
    "read_camera": "cameras",
    "read_cameras": "cameras",
    "read_job": "jobs",
    "read_photo": "photos",
    "record_hash": "cameras",
    "write_camera": "cameras",
    "write_job": "job_writer",
    "write_outputs": "outputs",
}


def __getattr__(name: str) -> Any:
    """What a module in here is asked for by name (PEP 562)."""
    if name not in _MODULES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULES[name]}"), name)


__all__ = [
    "adopt_camera",
    "begin_job",
    "job_schema",
    "load_photo",
    "read_camera",
    "read_cameras",
    "read_job",
    "read_photo",
    "record_hash",
    "write_camera",
    "write_job",
    "write_outputs",
]
