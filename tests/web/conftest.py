"""A job folder with a rendered photo, served without a network."""

import hashlib

import pytest
import worlds
from served import client_of

from photomeasure import files
from photomeasure.records.job import PhotoEntry


@pytest.fixture(scope="session")
def scene():
    return worlds.flange_scene(0.5)


@pytest.fixture
def folder(tmp_path):
    """A folder with a photo of the flange and a job of a gap, a bore and a bolt circle."""
    jpeg = worlds.jpeg_of(0.5)
    (tmp_path / "photo.jpg").write_bytes(jpeg)
    photo = PhotoEntry("photo", "photo.jpg", hashlib.sha256(jpeg).hexdigest())
    job = worlds.flange_job(worlds.flange_scene(0.5), photos=(photo,))
    files.write_job(job, tmp_path / "job.toml")
    return tmp_path


@pytest.fixture
def client(folder):
    return client_of(folder / "job.toml")


@pytest.fixture
def empty(tmp_path):
    """A browser at a folder with nothing in it."""
    return client_of(tmp_path / "new mill" / "job.toml")
