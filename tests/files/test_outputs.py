"""A report reaches the disk whole or not at all."""

import os

import pytest

from photomeasure.errors import ExportError
from photomeasure.files import write_outputs
from photomeasure.files.atomic import replace_file


def names(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_files_are_written_into_new_folders(tmp_path):
    """Folders are made as needed, also inside, and the paths are returned."""
    folder = tmp_path / "a" / "b"
    paths = write_outputs(folder, {"r.html": b"1", "pictures/p.png": b"2"})
    assert names(folder) == ["pictures/p.png", "r.html"]
    assert [p.read_bytes() for p in paths] == [b"1", b"2"]


def test_old_files_are_replaced_and_others_stay(tmp_path):
    """Files of the same name are renewed; what is not ours is not touched."""
    (tmp_path / "r.html").write_bytes(b"old")
    (tmp_path / "mine.txt").write_bytes(b"mine")
    write_outputs(tmp_path, {"r.html": b"new"})
    assert (tmp_path / "r.html").read_bytes() == b"new"
    assert names(tmp_path) == ["mine.txt", "r.html"]


@pytest.mark.parametrize("at", [1, 2])
def test_a_full_disk_leaves_no_half_written_output(tmp_path, monkeypatch, at):
    """Whichever file fails, old files keep their bytes and no other appears."""
    (tmp_path / "a").write_bytes(b"old")
    calls = []

    def fail(_):
        calls.append(1)
        if len(calls) == at:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(ExportError, match="no space left on device"):
        write_outputs(tmp_path, {"a": b"new", "b": b"new"})
    assert names(tmp_path) == ["a"]
    assert (tmp_path / "a").read_bytes() == b"old"
    calls.clear()
    with pytest.raises(ExportError):
        write_outputs(tmp_path / "x" / "y", {"a": b"new", "b": b"new"})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a"]


def test_folders_and_files_in_the_way_are_named(tmp_path):
    """A folder where a file should go, or a file where a folder should, is refused first."""
    (tmp_path / "r.html").mkdir()
    with pytest.raises(ExportError, match=r"r\.html is a folder"):
        write_outputs(tmp_path, {"a": b"1", "r.html": b"1"})
    (tmp_path / "file").write_bytes(b"1")
    with pytest.raises(ExportError, match="is a file, not a folder"):
        write_outputs(tmp_path / "file", {"a": b"1"})
    with pytest.raises(ExportError, match="cannot be written"):
        write_outputs(tmp_path, {"a": b"1", "file/b": b"1"})
    with pytest.raises(ExportError, match="a folder of that name"):
        replace_file(tmp_path / "r.html", b"1")
    assert names(tmp_path) == ["file"]


@pytest.mark.parametrize("name", ["../a", "/a", "", "C:/a", "a\\..\\..\\b"])
def test_outputs_stay_in_their_folder(tmp_path, name):
    """A name that leads out of the folder is refused."""
    with pytest.raises(ExportError, match="leads out"):
        write_outputs(tmp_path, {name: b"1"})
    assert names(tmp_path) == []


def test_replacing_in_a_missing_folder_says_so(tmp_path):
    """The sentence names the file and the reason."""
    with pytest.raises(ExportError, match=r"x\.json cannot be written: no such file"):
        replace_file(tmp_path / "none" / "x.json", b"1")
