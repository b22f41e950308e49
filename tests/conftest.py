"""Scenes that several folders share; each photo is rendered once a run."""

import pytest
import worlds

from photomeasure.records.photo import Photo
from photomeasure.synthetic.scene import Scene


@pytest.fixture(scope="session")
def small_scene() -> Scene:
    """The flange and guard at 3 megapixels."""
    return worlds.flange_scene(0.5)


@pytest.fixture(scope="session")
def small_photo() -> Photo:
    """Its photo, through JPEG."""
    return worlds.photo(0.5)
