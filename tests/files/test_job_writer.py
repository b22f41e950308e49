"""What is written is the job that was given, and what a person wrote beside it stays."""

import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import ExportError, JobError
from photomeasure.files import read_job, write_job
from photomeasure.files.job_writer import job_text
from photomeasure.files.jobs import parse_job
from photomeasure.records.feature import FEATURE_KINDS
from photomeasure.records.job import (
    HAZARDS,
    RULE_STATUSES,
    CheckEntry,
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    Rule,
)

finite = st.floats(allow_nan=False, allow_infinity=False)
positive = st.floats(0, 100)
words = st.text(st.characters(categories=("L", "M", "N", "P", "S")), min_size=1, max_size=9)
names = st.lists(words, min_size=1, max_size=2).map(" ".join)
lines = st.just("") | names
texts = st.text(max_size=30)
shas = st.none() | st.text("0123456789abcdef", min_size=64, max_size=64)
files = st.lists(st.text("abcxyz _-é", min_size=1, max_size=5), min_size=1).map("/".join)

MEETINGS = (("hose",), ("hose", "exhaust"), ("anything", "brake hose"))


def some(values, least=0):
    return st.lists(values, min_size=least, max_size=3, unique=True)


@st.composite
def rules(draw, name):
    low, high = draw(st.none() | finite), draw(st.none() | finite)
    if low is None and high is None:
        low = 1.0
    if low is not None and high is not None and low > high:
        low, high = high, low
    return Rule(
        name,
        draw(names),
        draw(st.sampled_from(("mm", "in", "deg"))),
        draw(names),
        draw(names),
        draw(st.sampled_from(RULE_STATUSES)),
        low,
        high,
        draw(lines),
        draw(lines),
        between=tuple(tuple(things) for things in draw(some(st.sampled_from(MEETINGS)))),
    )


@st.composite
def multiples(draw, name):
    """A rule in multiples of a size, beyond another, or with a general tolerance."""
    how = draw(st.sampled_from(("of", "both", "tolerance")))
    if how == "tolerance":
        given = {"unit": "mm", "nominal": draw(positive), "tolerance": "ISO 2768-m"}
    else:
        beyond = draw(names) if how == "both" else ""
        given = {"unit": "times", "of": draw(names), "beyond": beyond, "at_least": draw(positive)}
    return Rule(name=name, quantity="gap", why="w", source="s", status="user", **given)


@st.composite
def jobs(draw):
    """Any job whose references hold."""
    photos, planes, features = draw(some(names, 1)), draw(some(names)), draw(some(names))
    planes = [plane for plane in planes if plane != "sheet"]
    pictures = draw(st.lists(files, min_size=3, max_size=3, unique=True))
    digests = draw(st.lists(shas, min_size=3, max_size=3, unique_by=lambda s: s or object()))
    bars, click = st.floats(120, 180), st.tuples(finite, finite)
    own_rules = draw(some(names))
    role = st.tuples(names, st.lists(st.sampled_from(features or ["-"]), min_size=1, max_size=3))
    measured = draw(some(names)) if features else []
    return Job(
        title=draw(names),
        photos=tuple(
            PhotoEntry(n, picture, digest, draw(shas))
            for n, picture, digest in zip(photos, pictures, digests, strict=False)
        ),
        features=tuple(
            FeatureEntry(
                n,
                draw(st.sampled_from(FEATURE_KINDS)),
                draw(st.sampled_from(photos)),
                draw(st.sampled_from(["sheet", *planes])),
                tuple(draw(st.lists(click, min_size=1, max_size=6))),
                draw(st.none() | st.integers(1, 9)),
            )
            for n in features
        ),
        measurements=tuple(
            MeasurementEntry(
                n,
                draw(names),
                tuple(
                    (r, tuple(f))
                    for r, f in dict(draw(st.lists(role, min_size=1, max_size=2))).items()
                ),
                tuple(draw(some(names))),
                draw(texts),
                draw(st.just(()) | st.sampled_from(MEETINGS)),
                tuple(draw(st.dictionaries(names, st.floats(0.001, 1e4), max_size=2)).items()),
            )
            for n in measured
        ),
        planes=tuple(PlaneEntry(n, draw(st.floats(-1000, 1000)), draw(positive)) for n in planes),
        prints=tuple(
            PrintEntry(n, draw(bars), draw(bars), draw(positive)) for n in draw(some(names))
        ),
        rules=tuple(draw(rules(n) | multiples(n)) for n in own_rules),
        checks=tuple(
            CheckEntry(n, draw(finite), draw(lines), draw(positive), draw(names)) for n in measured
        ),
        hazards=tuple(draw(some(st.sampled_from(HAZARDS)))),
        unit=draw(st.sampled_from(("mm", "in"))),
        note=draw(texts),
        position=draw(lines),
    )


@given(jobs())
@settings(max_examples=60, deadline=None)
def test_any_job_reads_back_as_it_was_written(job):
    """Text and back is the identity, for every job whose references hold."""
    assert parse_job(job_text(job)) == job


@given(jobs(), jobs())
@settings(max_examples=30, deadline=None)
def test_any_job_replaces_any_other(tmp_path_factory, old, new):
    """Editing the text of one job into another never leaves a mixture."""
    path = tmp_path_factory.mktemp("job") / "job.toml"
    write_job(old, path)
    write_job(new, path)
    assert read_job_text(path) == new


def read_job_text(path):
    return parse_job(path.read_bytes().decode())


COMMENTED = """\
#:schema job.schema.json
# The mill in the yard.
title = "Mill"  # ours
position = "at rest"

[[photos]]
name = "p"
file = "p.jpg"      # from the left

[[planes]]
# measured twice
name = "face"
height = "1/4 in"   # caliper
plus_minus = 0.1

[[features]]
name = "one"
kind = "circle"
photo = "p"
plane = "face"
clicks = [[1, 2]]   # near the rim

[[features]]
name = "two"
kind = "point"
photo = "p"
clicks = [[3, 4]]   # centre punch
"""


def test_comments_and_spelling_stay_where_nothing_changed(tmp_path):
    """Moving one click changes one line of the file and no other."""
    path = tmp_path / "job.toml"
    path.write_text(COMMENTED)
    job = read_job(path)
    one, two = job.features
    moved = FeatureEntry("two", two.kind, two.photo, two.plane, ((5.5, 6.0),))
    write_job(with_features(job, one, moved), path)
    old = COMMENTED.splitlines()
    new = path.read_text().splitlines()
    changed = [pair for pair in zip(old, new, strict=True) if pair[0] != pair[1]]
    expected = ("clicks = [[3, 4]]   # centre punch", "clicks = [[5.5, 6.0]]   # centre punch")
    assert changed == [expected]


def with_features(job, *features):
    return Job(job.title, job.photos, features, (), job.planes, position=job.position)


def test_adding_and_removing_keeps_the_comments_of_the_rest(tmp_path):
    """A feature taken out and another put in leave the others' comments alone."""
    path = tmp_path / "job.toml"
    path.write_text(COMMENTED)
    job = read_job(path)
    three = FeatureEntry("three", "point", "p", "sheet", ((7.0, 8.0),))
    new = with_features(job, three, job.features[1])
    write_job(new, path)
    text = path.read_text()
    assert read_job(path) == new
    for comment in ("#:schema", "in the yard", "ours", "from the left", "twice", "punch"):
        assert comment in text
    assert 'height = "1/4 in"   # caliper' in text
    assert "near the rim" not in text


def test_writing_the_same_job_changes_nothing(tmp_path):
    """Reading and writing a file as it is keeps every byte."""
    path = tmp_path / "job.toml"
    path.write_text(COMMENTED)
    write_job(read_job(path), path)
    assert path.read_text() == COMMENTED


def test_inline_tables_written_by_hand_are_replaced_whole(tmp_path):
    """Features in an inline array are a legal spelling; an edit still gives the job."""
    path = tmp_path / "job.toml"
    path.write_text('title = "t"\nphotos = [{name = "p", file = "p.jpg"}]\n')
    new = Job("t", (PhotoEntry("q", "q.jpg"),), (), ())
    write_job(new, path)
    assert read_job(path) == new


def test_a_file_that_is_no_job_is_not_replaced(tmp_path):
    """What a person broke while editing is not overwritten."""
    path = tmp_path / "job.toml"
    path.write_text("titel = 3 # half an edit")
    with pytest.raises(JobError, match="was not replaced"):
        write_job(Job("t", (PhotoEntry("p", "p.jpg"),), (), ()), path)
    assert path.read_text() == "titel = 3 # half an edit"


def test_a_job_that_could_not_be_read_again_is_not_written(tmp_path):
    """A NaN in a record is caught before it reaches the disk."""
    path = tmp_path / "job.toml"
    plane = PlaneEntry("face", float("nan"))
    with pytest.raises(JobError, match=r'plane "face", height: NaN'):
        write_job(Job("t", (PhotoEntry("p", "p.jpg"),), (), (), (plane,)), path)
    assert list(tmp_path.iterdir()) == []


def test_writing_is_all_or_nothing(tmp_path, monkeypatch):
    """When the disk fails in the middle the old file is whole and nothing is left beside."""
    path = tmp_path / "job.toml"
    path.write_text(COMMENTED)
    job = read_job(path)

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(ExportError, match="no space left"):
        write_job(with_features(job), path)
    assert path.read_text() == COMMENTED
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]


def test_a_link_stays_a_link_and_permissions_stay(tmp_path):
    """The file behind a link is renewed in place with its mode."""
    real, link = tmp_path / "real.toml", tmp_path / "job.toml"
    real.write_text(COMMENTED)
    real.chmod(0o640)
    link.symlink_to(real)
    write_job(with_features(read_job(link)), link)
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert read_job(real).features == ()
