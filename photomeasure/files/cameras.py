"""Which camera took the photos, as it was calibrated once?

A camera record is a JSON file. A job names it by the SHA-256 of its bytes and keeps a copy,
so the same job always gives the same numbers.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from photomeasure.errors import CalibrationError, JobError
from photomeasure.files.atomic import replace_file, writing
from photomeasure.files.reading import file_bytes
from photomeasure.records.job import Job
from photomeasure.records.view import CAMERA_PARAMETERS, CameraRecord

FOLDER = "cameras"
LIMIT_BYTES = 1_000_000
SIZE = len(CAMERA_PARAMETERS)
AGAIN = "Calibrate the camera again, or copy its record again."

Row = Annotated[list[float], Field(min_length=SIZE, max_length=SIZE)]
Side = Annotated[int, Field(ge=1, le=100_000)]


class _CameraFile(BaseModel):
    """What stands in a camera record's file."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)

    format: Literal[1]
    kind: Literal["camera"]
    name: str = Field(max_length=200)
    size_px: Annotated[list[Side], Field(min_length=2, max_length=2)]
    orientation: int = Field(ge=1, le=8)
    parameters: dict[str, float]
    covariance: Annotated[list[Row], Field(min_length=SIZE, max_length=SIZE)]
    residual_px: float = Field(ge=0)
    photos: int = Field(ge=1)
    corners: int = Field(ge=1)
    exif_model: str = Field("", max_length=200)
    exif_lens: str = Field("", max_length=200)
    focal_length_mm: Annotated[float, Field(gt=0)] | None = None
    made: str = Field("", max_length=200)
    notes: list[str] = []

    @model_validator(mode="after")
    def _is_a_camera(self) -> _CameraFile:
        if set(self.parameters) != set(CAMERA_PARAMETERS):
            raise ValueError(f"the parameters must be {', '.join(CAMERA_PARAMETERS)}")
        if self.parameters["f"] <= 0:
            raise ValueError("the focal length f must be more than 0")
        covariance = np.array(self.covariance)
        scale = np.sqrt(np.clip(np.diag(covariance), 1e-300, None))
        correlation = covariance / np.outer(scale, scale)
        if not np.allclose(correlation, correlation.T, atol=1e-6):
            raise ValueError("the covariance is not symmetric")
        if np.linalg.eigvalsh((correlation + correlation.T) / 2).min() < -1e-6:
            raise ValueError("the covariance has a negative variance")
        return self


def render_camera(record: CameraRecord) -> bytes:
    """The record's file; the same record always gives the same bytes."""
    values: dict[str, Any] = {
        "format": 1,
        "kind": "camera",
        "name": record.name,
        "size_px": [int(side) for side in record.size_px],
        "orientation": int(record.orientation),
        "parameters": {
            key: float(value)
            for key, value in zip(CAMERA_PARAMETERS, record.parameters, strict=True)
        },
        "covariance": [[float(c) for c in row] for row in record.covariance],
        "residual_px": float(record.residual_px),
        "photos": int(record.photos),
        "corners": int(record.corners),
        "exif_model": record.exif_model,
        "exif_lens": record.exif_lens,
        "focal_length_mm": record.focal_length_mm,
        "made": record.made,
        "notes": list(record.notes),
    }
    try:
        return (json.dumps(values, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()
    except ValueError:
        raise CalibrationError(
            f"The calibration of {record.name!r} holds a number that is not finite. "
            "Take more board photos, from more different angles."
        ) from None


def parse_camera(data: bytes, name: str = "camera record") -> CameraRecord:
    """The record in the bytes of a file called `name`. Raises CalibrationError."""
    try:
        file = _CameraFile.model_validate_json(data)
    except ValidationError as error:
        raise CalibrationError(
            f"{name}: this is not a camera record: {_first(error)}. {AGAIN}"
        ) from None
    return CameraRecord(
        name=file.name,
        size_px=(file.size_px[0], file.size_px[1]),
        orientation=file.orientation,
        parameters=np.array([file.parameters[key] for key in CAMERA_PARAMETERS]),
        covariance=np.array(file.covariance),
        residual_px=file.residual_px,
        photos=file.photos,
        corners=file.corners,
        exif_model=file.exif_model,
        exif_lens=file.exif_lens,
        focal_length_mm=file.focal_length_mm,
        made=file.made,
        notes=tuple(file.notes),
    )


def _first(error: ValidationError) -> str:
    detail = error.errors(include_url=False, include_input=False)[0]
    where = ".".join(str(part) for part in detail["loc"])
    words = detail["msg"].removeprefix("Value error, ")
    return f"{where}: {words}" if where else words


def record_hash(data: bytes) -> str:
    """The SHA-256 by which a job names a camera record, 64 hex digits."""
    return hashlib.sha256(data).hexdigest()


def read_camera(path: Path | str) -> CameraRecord:
    """The camera record in a file. Raises CalibrationError."""
    return parse_camera(_bytes(Path(path)), str(path))


def write_camera(record: CameraRecord, path: Path | str) -> str:
    """Write a camera record, all or nothing, and return its SHA-256. Raises ExportError."""
    data = render_camera(record)
    replace_file(Path(path), data)
    return record_hash(data)


def adopt_camera(job_dir: Path | str, record_path: Path | str) -> str:
    """Copy a camera record into a job's folder; returns the SHA-256 to name it by.

    Raises CalibrationError when the file is no camera record, ExportError when the folder
    cannot be written.
    """
    ((name, data),) = record_copy(record_path).items()
    copy = Path(job_dir) / name
    if not copy.exists():
        with writing(copy):
            copy.parent.mkdir(parents=True, exist_ok=True)
        replace_file(copy, data)
    return copy.stem


def record_copy(record_path: Path | str) -> dict[str, bytes]:
    """Where a job's folder keeps this record, from the folder → its bytes.

    Raises CalibrationError when the file is no camera record.
    """
    data = _bytes(Path(record_path))
    parse_camera(data, str(record_path))
    return {f"{FOLDER}/{record_hash(data)}.json": data}


def read_cameras(job_dir: Path | str, job: Job) -> dict[str, CameraRecord]:
    """The camera records that a job names, by SHA-256.

    Raises JobError when one is missing, CalibrationError when one was changed.
    """
    named = sorted({photo.camera for photo in job.photos if photo.camera is not None})
    return {sha256: _kept(_copy_path(Path(job_dir), sha256), sha256) for sha256 in named}


def _kept(path: Path, sha256: str) -> CameraRecord:
    if not path.exists():
        raise JobError(
            f"{path}: the job names this camera record, but it is not there. Copy the record "
            'to that name, or remove "camera" from the photos.'
        )
    data = _bytes(path)
    if record_hash(data) != sha256:
        raise CalibrationError(
            f"{path}: the camera record was changed since the job named it (its SHA-256 now "
            f"begins with {record_hash(data)[:12]}). Put the original back."
        )
    return parse_camera(data, str(path))


def _copy_path(job_dir: Path, sha256: str) -> Path:
    return job_dir / FOLDER / f"{sha256}.json"


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > LIMIT_BYTES:
            raise CalibrationError(f"{path}: too large for a camera record. {AGAIN}")
        return file_bytes(path)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CalibrationError(
            f"{path}: the camera record cannot be read: {reason}. Check the name."
        ) from None
