"""A full disk: one sentence, nothing half written, what was there stays."""

import errno
import os
import resource
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from photomeasure.errors import ExportError
from photomeasure.files import atomic, cameras, read_job, write_outputs
from photomeasure.files.arriving import arriving
from photomeasure.files.job_history import NO_FILE, JobHistory
from photomeasure.records.job import Job, PhotoEntry

JOB = Job("first", (PhotoEntry("p", "p.jpg"),), (), ())
SAID = "no space left on device"


def full(*_args, **_kwargs):
    raise OSError(errno.ENOSPC, "No space left on device")


class FullAt:
    """A function of the system that works until its n-th call, then the disk is full."""

    def __init__(self, works, at):
        self._works, self._left = works, at

    def __call__(self, *args, **kwargs):
        self._left -= 1
        return full() if self._left == 0 else self._works(*args, **kwargs)


def tree(folder):
    return {
        str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None
        for p in folder.rglob("*")
    }


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_report_is_all_old_or_all_new(tmp_path, monkeypatch, at):
    """Whichever of three files cannot be moved, old ones come back and new ones go."""
    (tmp_path / "a").write_bytes(b"old a")
    (tmp_path / "c").write_bytes(b"old c")
    before = tree(tmp_path)
    monkeypatch.setattr(os, "replace", FullAt(os.replace, at))
    with pytest.raises(ExportError, match=SAID):
        write_outputs(tmp_path, {"a": b"new", "stills/b": b"new", "c": b"new"})
    assert tree(tmp_path) == before


@pytest.mark.parametrize("call", ["fsync", "replace"])
@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_change_of_the_job_is_whole_or_none(tmp_path, monkeypatch, call, at):
    """Full at the kept state, the log or the job: the job is the old one, and goes on later."""
    history = JobHistory(tmp_path / "job.toml")
    revision = history.save(JOB, NO_FILE)
    second = replace(JOB, title="second")
    with monkeypatch.context() as broken:
        broken.setattr(os, call, FullAt(getattr(os, call), at))
        with pytest.raises(ExportError, match=SAID):
            history.save(second, revision)
    assert (history.revision(), read_job(history.path).title) == (revision, "first")
    assert not list(tmp_path.rglob("*.partial"))
    revision = history.save(second, revision)
    assert history.undo(revision)
    assert read_job(history.path).title == "first"


@pytest.mark.parametrize("step", ["undo", "remove"])
def test_a_step_back_that_does_not_fit_changes_nothing(tmp_path, monkeypatch, step):
    """The log cannot be written: the job stays, and the step works once there is room."""
    history = JobHistory(tmp_path / "job.toml")
    revision = history.save(replace(JOB, title="second"), history.save(JOB, NO_FILE))
    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", full)
        with pytest.raises(ExportError, match=SAID):
            getattr(history, step)(revision)
    assert (history.revision(), read_job(history.path).title) == (revision, "second")
    getattr(history, step)(revision)
    assert history.revision() != revision


@pytest.mark.parametrize("what", ["mkdir", "open"])
def test_folder_and_lock_that_cannot_be_made_are_told(tmp_path, monkeypatch, what):
    """Before anything of a job is written, too."""
    monkeypatch.setattr(Path, what, full)
    with pytest.raises(ExportError, match=SAID):
        JobHistory(tmp_path / "job.toml").save(JOB, NO_FILE)


def test_a_photo_that_does_not_fit_leaves_nothing(tmp_path, monkeypatch):
    """Its last piece, which waits in a buffer, is refused when it is to be kept."""
    monkeypatch.setattr(os, "fsync", full)
    with arriving(tmp_path, "p.jpg") as arrival:
        arrival.add(b"the beginning of a photo")
        with pytest.raises(ExportError, match=SAID):
            arrival.keep()
    assert tree(tmp_path) == {}


def test_a_camera_record_whose_folder_cannot_be_made(tmp_path, monkeypatch):
    """The copy beside the job is a file like others."""
    monkeypatch.setattr(
        "photomeasure.files.cameras.record_copy", lambda _: {"cameras/x.json": b"1"}
    )
    monkeypatch.setattr(Path, "mkdir", full)
    with pytest.raises(ExportError, match=SAID):
        cameras.adopt_camera(tmp_path, tmp_path / "phone.json")


def test_a_real_limit_of_the_system_is_told_the_same_way(tmp_path):
    """Files of at most 1000 bytes, as the kernel grants them: no stroke of a pen beyond it."""
    path = tmp_path / "job.toml"
    path.write_bytes(b"old")
    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
    try:
        with pytest.raises(ExportError, match="file too large"):
            atomic.replace_file(path, bytes(5000))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
    assert tree(tmp_path) == {"job.toml": b"old"}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_printing_to_a_full_disk_ends_with_a_sentence():
    """`photomeasure schema > file`: code 4, no traceback, the remedy."""
    with Path("/dev/full").open("wb") as out:
        done = subprocess.run(
            [sys.executable, "-c", "from photomeasure.cli import main; main()", "schema"],
            check=False,
            stdout=out,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert done.returncode == 4
    assert "Traceback" not in done.stderr
    assert SAID in done.stderr
    assert "Free some space" in done.stderr
