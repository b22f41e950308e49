"""A part file is checked as a job is: its own keys are known, and every mistake is told."""

import pytest

from photomeasure.errors import JobError
from photomeasure.files.part_file import parse_part, read_part

PART = 'name = "x"\nphoto = "x.jpg"\nthickness = 3\n'


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("tolerence = 0.1", 'tolerence: this key is not known. Did you mean "tolerance"?'),
        ('[[holes]]\nnam = "H1"', 'hole no. 1, nam: this key is not known. Did you mean "name"?'),
        ('[[holes]]\nname = "H1"\nfitt = ""', 'hole "H1", fitt: this key is not known. Did you'),
        ('[title]\nowne = "A"', 'title, owne: this key is not known. Did you mean "owner"?'),
        ("[scan]\ndpy = 300", "scan, dpy: this key is not known. Did you mean"),
    ],
)
def test_a_key_that_no_part_has_is_told_with_the_nearest(more, told):
    """At the top, in tables and in lists of tables, from the keys of a part and not of a job."""
    with pytest.raises(JobError) as refused:
        parse_part(PART + more)
    assert told in str(refused.value)


def test_a_folder_without_a_part_is_told_how_to_make_one(tmp_path):
    with pytest.raises(JobError, match=r"no such part file.*photomeasure outline PHOTO"):
        read_part(tmp_path / "part.toml")
