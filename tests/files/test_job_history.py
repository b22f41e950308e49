"""Writers never overwrite each other in silence; every state comes back, also after a crash."""

import json
import subprocess
import sys
from dataclasses import replace

import pytest

from photomeasure.errors import JobError
from photomeasure.files import job_history, read_job
from photomeasure.files.job_history import NO_FILE, ChangedElsewhereError, JobHistory
from photomeasure.records.job import Job, PhotoEntry

JOB = Job("first", (PhotoEntry("p", "p.jpg"),), (), ())


@pytest.fixture
def history(tmp_path):
    return JobHistory(tmp_path / "job.toml")


def titled(history, title, revision):
    return history.save(replace(JOB, title=title), revision)


def title(history):
    return read_job(history.path).title


def test_every_change_is_undone_and_done_again_without_limit(history):
    """Thirty changes go back to the first and forward to the last."""
    revision = NO_FILE
    for k in range(30):
        revision = titled(history, f"state {k}", revision)
    assert history.steps() == (29, 0)
    for _ in range(29):
        revision = history.undo(revision)
    assert (title(history), history.steps()) == ("state 0", (0, 29))
    for _ in range(29):
        revision = history.redo(revision)
    assert title(history) == "state 29"


def test_before_the_first_state_there_is_nothing(history):
    """Undo never takes the job file away."""
    revision = titled(history, "only", NO_FILE)
    with pytest.raises(JobError, match="nothing to undo"):
        history.undo(revision)
    assert title(history) == "only"


def test_a_change_after_undo_drops_what_was_undone(history):
    """Redo goes only where nothing new was written."""
    first = titled(history, "one", NO_FILE)
    second = titled(history, "two", first)
    history.undo(second)
    titled(history, "three", first)
    assert history.steps() == (1, 0)


def test_the_file_changed_elsewhere_is_refused_and_stays(history):
    """Whoever read an older revision writes nothing; the other's text is there, byte for byte."""
    revision = titled(history, "mine", NO_FILE)
    theirs = history.path.read_text().replace("mine", "theirs")
    history.path.write_text(theirs)
    with pytest.raises(ChangedElsewhereError):
        titled(history, "mine again", revision)
    assert history.path.read_text() == theirs


def test_what_was_written_elsewhere_can_be_brought_back(history):
    """A text that an editor wrote is a state like any other, comments and all."""
    titled(history, "mine", NO_FILE)
    theirs = history.path.read_text() + "# by hand\n"
    history.path.write_text(theirs)
    revision = titled(history, "over it", history.revision())
    history.undo(revision)
    assert history.path.read_text() == theirs


def test_a_kill_between_job_and_log_loses_nothing(history, monkeypatch):
    """The job was written, the log was not: it is found again and undo still works."""
    first = titled(history, "one", NO_FILE)
    monkeypatch.setattr(JobHistory, "_write", lambda self, log: None)
    second = titled(history, "two", first)
    monkeypatch.undo()
    again = JobHistory(history.path)
    assert (again.revision(), again.steps()) == (second, (1, 0))
    again.undo(second)
    assert title(history) == "one"


def test_a_broken_log_costs_the_past_not_the_job(history):
    """Nonsense in the log is no log."""
    revision = titled(history, "one", NO_FILE)
    (history.path.parent / ".history" / "log.json").write_text("[")
    assert titled(history, "two", revision) == history.revision()


def test_a_state_that_was_tampered_with_is_not_brought_back(history):
    """A kept text must still be the text of its revision."""
    first = titled(history, "one", NO_FILE)
    second = titled(history, "two", first)
    (history.path.parent / ".history" / f"{first}.toml").write_text("title = 'evil'")
    with pytest.raises(JobError, match="was changed there"):
        history.undo(second)
    assert title(history) == "two"


def test_two_programs_that_save_at_once_never_lose_a_change(tmp_path):
    """Two processes append forty names each; all eighty are in the job, whoever was refused tried
    again."""
    code = """
import sys
from dataclasses import replace
from pathlib import Path
from photomeasure.files import read_job
from photomeasure.files.job_history import ChangedElsewhereError, JobHistory
history = JobHistory(Path(sys.argv[1]))
for k in range(40):
    while True:
        revision = history.revision()
        try:
            job = read_job(history.path)
            history.save(replace(job, hazards=(), note=job.note + sys.argv[2]), revision)
            break
        except ChangedElsewhereError:
            pass
"""
    history = JobHistory(tmp_path / "job.toml")
    history.save(JOB, NO_FILE)
    command = [sys.executable, "-c", code, str(history.path)]
    writers = [subprocess.Popen([*command, letter]) for letter in "ab"]
    assert [w.wait(timeout=120) for w in writers] == [0, 0]
    assert sorted(read_job(history.path).note) == ["a"] * 40 + ["b"] * 40


def test_the_log_is_plain(history):
    """The log names revisions only, so that a person can read what happened."""
    revision = titled(history, "one", NO_FILE)
    log = json.loads((history.path.parent / job_history.FOLDER / "log.json").read_text())
    assert log == {"at": 1, "states": [NO_FILE, revision]}
