"""The table of the sample jobs and README's pictures come from the jobs and their truth."""

import io
from pathlib import Path

import pytest
from PIL import Image

from photomeasure.benchmark.readme_pictures import _CHOSEN
from photomeasure.benchmark.samples import report_of, truths_beside

ROOT = Path(__file__).parents[2]
SHIM = ROOT / "sample_images" / "shim" / "job.toml"


@pytest.fixture(scope="module")
def report():
    return report_of(SHIM)


def test_every_primary_number_of_a_job_has_a_truth(report):
    """Names in the job and in the truth beside its photo are the same, so none is skipped."""
    truths = truths_beside(SHIM)
    assert {(m.name, m.primary.name) for m in report.measurements} == set(truths)


def test_a_sample_job_comes_out_near_its_truth(report):
    """The distance of two holes in a 12-megapixel photo is right to a tenth of a millimetre."""
    truths = truths_beside(SHIM)
    spacing = next(m for m in report.measurements if m.name == "hole spacing").primary
    assert spacing.value == pytest.approx(truths["hole spacing", "distance"], abs=0.1)


@pytest.mark.parametrize("name", _CHOSEN)
def test_pictures_of_readme_are_small_and_shown(name):
    """Each is a JPEG under 300 kB and linked from README."""
    data = (ROOT / "docs" / name).read_bytes()
    assert len(data) < 300_000
    assert Image.open(io.BytesIO(data)).format == "JPEG"
    assert f"docs/{name}" in (ROOT / "README.md").read_text()
