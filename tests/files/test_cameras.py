"""A camera record survives the disk exactly, and a job notices when it was changed."""

import json
from dataclasses import replace

import numpy as np
import pytest

from photomeasure.errors import CalibrationError, JobError
from photomeasure.files import (
    adopt_camera,
    read_camera,
    read_cameras,
    record_hash,
    write_camera,
)
from photomeasure.files.cameras import parse_camera, render_camera
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.view import CameraRecord


def record(**changes):
    """A plausible camera with a full covariance."""
    spread = np.random.default_rng(3).normal(size=(8, 12)) * np.logspace(0, -5, 8)[:, None]
    camera = CameraRecord(
        name="phone, main lens",
        size_px=(4032, 3024),
        orientation=6,
        parameters=np.array([3111.25, 2010.1, 1509.7, 0.031, -0.05, 1e-4, -2e-4, 0.013]),
        covariance=spread @ spread.T,
        residual_px=0.041,
        photos=9,
        corners=1211,
        exif_model="Model 1",
        focal_length_mm=5.7,
        made="2026-01-02",
        notes=("näher",),
    )
    return replace(camera, **changes)


def job(*cameras):
    photos = tuple(PhotoEntry(f"p{i}", f"p{i}.jpg", None, c) for i, c in enumerate(cameras))
    return Job("t", photos, (), ())


def assert_same(one, two):
    for key, value in vars(one).items():
        np.testing.assert_array_equal(getattr(two, key), value)


def test_a_record_reads_back_exactly(tmp_path):
    """Every number returns to the last bit; same record, same bytes, same hash."""
    path = tmp_path / "phone.json"
    sha256 = write_camera(record(), path)
    assert_same(record(), read_camera(path))
    assert sha256 == record_hash(path.read_bytes()) == record_hash(render_camera(record()))


def test_an_adopted_record_is_found_by_its_hash(tmp_path):
    """The job's folder gets a copy under its hash, twice the same, and it is read back."""
    path = tmp_path / "phone.json"
    write_camera(record(), path)
    folder = tmp_path / "job"
    sha256 = adopt_camera(folder, path)
    assert adopt_camera(folder, path) == sha256
    cameras = read_cameras(folder, job(None, sha256, sha256))
    assert list(cameras) == [sha256]
    assert_same(record(), cameras[sha256])


def test_a_job_without_records_needs_none(tmp_path):
    """No photo names a camera: nothing is read."""
    assert read_cameras(tmp_path, job(None, None)) == {}


def test_missing_and_changed_copies_are_told_apart(tmp_path):
    """A copy that is gone is a JobError, one that was edited a CalibrationError."""
    path = tmp_path / "phone.json"
    write_camera(record(), path)
    sha256 = adopt_camera(tmp_path, path)
    copy = tmp_path / "cameras" / f"{sha256}.json"
    copy.write_bytes(render_camera(record(residual_px=0.5)))
    with pytest.raises(CalibrationError, match="changed since the job named it"):
        read_cameras(tmp_path, job(sha256))
    copy.unlink()
    with pytest.raises(JobError, match="not there"):
        read_cameras(tmp_path, job(sha256))


def bad(**changes):
    values = json.loads(render_camera(record()))
    values.update(changes)
    return json.dumps(values).encode()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not a camera record"),
        (b"\xff\xd8\xff", "not a camera record"),
        (b"[]", "not a camera record"),
        (bad(format=2), "format"),
        (bad(residual_px=float("nan")), "residual_px"),
        (bad(colour="red"), "colour"),
        (bad(orientation=9), "orientation"),
        (bad(size_px=[0, 10]), "size_px"),
        (bad(parameters={"f": 1.0}), "parameters must be f, cx"),
        (
            bad(
                parameters={**dict.fromkeys(("cx", "cy", "k1", "k2", "p1", "p2", "k3"), 0), "f": 0}
            ),
            "f must",
        ),
        (bad(covariance=(-np.eye(8)).tolist()), "negative variance"),
        (bad(covariance=np.triu(np.ones((8, 8))).tolist()), "not symmetric"),
        (bad(covariance=np.eye(7).tolist()), "covariance"),
    ],
)
def test_what_is_no_camera_record_is_refused(data, words):
    """Rubbish, unknown keys, NaN and impossible covariances are CalibrationErrors."""
    with pytest.raises(CalibrationError, match=words) as caught:
        parse_camera(data, "phone.json")
    assert str(caught.value).startswith("phone.json: ")


def test_missing_file_and_wrong_file_are_refused(tmp_path):
    """A path that is not there is named; a wrong file is not adopted."""
    with pytest.raises(CalibrationError, match=r"none\.json.*no such file"):
        read_camera(tmp_path / "none.json")
    (tmp_path / "x.json").write_text("{}")
    with pytest.raises(CalibrationError, match="not a camera record"):
        adopt_camera(tmp_path, tmp_path / "x.json")
    assert not (tmp_path / "cameras").exists()


def test_a_calibration_that_failed_is_not_written(tmp_path):
    """NaN in a covariance is refused before anything reaches the disk."""
    path = tmp_path / "phone.json"
    with pytest.raises(CalibrationError, match="not finite"):
        write_camera(record(covariance=np.full((8, 8), np.nan)), path)
    assert not path.exists()
