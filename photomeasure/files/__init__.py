"""The disk: photos, jobs, camera records and outputs. Nothing else reads or writes files."""

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
