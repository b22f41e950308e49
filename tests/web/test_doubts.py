"""What weakens a number and can be mended at once stands beside it."""

from dataclasses import replace

import pytest
import worlds
from served import client_of

from photomeasure import files
from photomeasure.rules import RULES


@pytest.fixture
def doubts(folder):
    """A function: measurement → the doubts told of it, once the job is changed by another."""

    def told(change):
        path = folder / "job.toml"
        job = change(files.read_job(path, RULES.names))
        files.write_job(job, path)
        results = client_of(path).get("/api/results").json()
        return {m["name"]: m["doubts"] for m in results["measurements"]}

    return told


def lay(job, *names):
    """The job with some features on the paper itself."""
    lower = tuple(replace(f, plane="sheet") if f.name in names else f for f in job.features)
    return replace(job, features=lower)


def test_bars_read_and_heights_said_leave_no_doubt(doubts):
    assert set(map(len, doubts(lambda job: job).values())) == {0}


def test_unread_bars_are_told_beside_every_length(doubts):
    told = doubts(lambda job: replace(job, prints=()))
    assert [d["mend"] for d in told["slot"]] == ["bars"]
    assert "window-a4-A" in told["bore"][0]["words"]


def test_a_feature_taken_as_on_the_paper_is_told_with_what_a_millimetre_makes(doubts):
    """The share is that of the view: one millimetre of the camera's height."""
    told = doubts(lambda job: lay(job, "bore"))
    (doubt,) = told["bore"]
    assert (doubt["mend"], doubt["features"]) == ("height", ["bore"])
    share = float(doubt["words"].split("makes this ")[1].split(" %")[0])
    pose = worlds.flange_scene(0.5).pose
    camera_mm = (-pose.rotation.T @ pose.numbers[3:])[2]
    assert share == pytest.approx(100 / camera_mm, abs=0.06)
    assert told["slot"] == []


def test_an_angle_hangs_neither_on_the_print_nor_on_a_height(doubts):
    def with_angle(job):
        angle = replace(
            job.measurements[0],
            name="lie",
            kind="angle",
            of=(("edge_a", ("upper",)), ("edge_b", ("lower",))),
        )
        return replace(lay(job, "upper", "lower"), measurements=(angle,), prints=())

    assert doubts(with_angle)["lie"] == []
