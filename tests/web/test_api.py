"""What the page asks for and gets: the job, photos, touches, numbers, reports."""

import csv
import io
import json
import os

import numpy as np
import pillow_heif
import pytest
import worlds
from PIL import Image

from photomeasure import files, pipeline
from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.json import render
from photomeasure.measurements import MEASUREMENTS
from photomeasure.rules import RULES


def save(client, change):
    """Save the job with a change made to it; returns the answer."""
    stored = client.get("/api/job").json()
    change(stored["job"])
    return client.put("/api/job", json={"revision": stored["revision"], "job": stored["job"]})


def numbers(client):
    """Measurement → its main number as told."""
    results = client.get("/api/results").json()
    return {m["name"]: m["numbers"][0] for m in results["measurements"] if m["numbers"]}


def test_the_numbers_are_the_command_line_s_to_the_last_digit(client, folder):
    """Every number and its uncertainty come out bit for bit as `measure` gives them."""
    path = folder / "job.toml"
    job = files.read_job(path, RULES.names)
    report = pipeline.measure(job, lambda entry: files.load_photo(path, entry))
    told = client.get("/api/results").json()
    for measured, shown in zip(report.measurements, told["measurements"], strict=True):
        for quantity, number in zip(measured.quantities, shown["numbers"], strict=True):
            assert number["value"] == quantity.value
            assert number["u"] == quantity.u
            assert number["expanded"] == quantity.expanded
    assert told["warnings"] == list(report.warnings)
    assert told["not_checked"] == list(report.not_checked)


def test_the_numbers_stay_the_same_after_a_touch_was_moved_there_and_back(client):
    """What is kept between touches never leaks into a number."""
    before = numbers(client)
    clicks = client.get("/api/job").json()["job"]["features"][5]["clicks"]

    def move(by):
        def change(job):
            job["features"][5]["clicks"] = [[x + by, y + by] for x, y in clicks]

        return change

    assert save(client, move(2.0)).status_code == 200
    assert numbers(client)["slot"] != before["slot"]
    assert save(client, move(0.0)).status_code == 200
    assert numbers(client) == before


def test_a_touch_finds_the_edge_that_is_there(client, scene):
    """The located edge lies on the rendered part's true edge within a tenth of a millimetre."""
    stored = client.get("/api/job").json()
    feature = dict(next(f for f in stored["job"]["features"] if f["name"] == "upper"))
    feature["clicks"] = [[x + 2, y - 2] for x, y in feature["clicks"]]
    found = client.post("/api/touch", json=feature).json()
    along = np.array(found["chains_mm"][0])
    truth = scene.parts[0].outline.edge(4)
    assert np.abs(along[:, 1] - truth[0][1]).max() < 0.1
    assert found["spread_px"] < 0.5
    assert found["height_mm"] == worlds.THICKNESS_MM
    assert client.get("/api/job").json() == stored  # a touch saves nothing


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"clicks": [[-50, 10], [20, 20]]}, "outside the picture"),
        ({"clicks": [[100, 100]]}, "needs at least 2"),
        ({"photo": "none"}, "no photo"),
        ({"plane": "none"}, "not in the job"),
        ({"clicks": [[5, 5], [5, 6]]}, "px are needed"),
    ],
)
def test_a_touch_that_finds_nothing_says_why(client, facts, said):
    """In words, with the remedy, and never as a mistake of the program."""
    feature = {"name": "x", "kind": "edge", "photo": "photo", "plane": "top", "clicks": [[1, 1]]}
    answer = client.post("/api/touch", json={**feature, **facts})
    assert answer.status_code == 400
    assert said in answer.json()["problem"]


def test_one_bad_feature_leaves_the_other_numbers_standing(client):
    """The page is where a job is being made: what can be measured is measured."""
    before = numbers(client)

    def spoil(job):
        job["features"][6]["clicks"] = [[10.0, 10.0], [30.0, 30.0]]

    assert save(client, spoil).status_code == 200
    results = client.get("/api/results").json()
    slot = next(m for m in results["measurements"] if m["name"] == "slot")
    assert slot["problem"] == "Not found yet: lower."
    assert results["features"][6]["problem"]
    after = numbers(client)
    assert set(after) == {"bore", "bolts"}
    assert after["bore"]["value"] == pytest.approx(before["bore"]["value"], abs=1e-9)


def test_two_tabs_never_overwrite_each_other(client):
    """The second save is refused, told what the job is now, and nothing is written."""
    stored = client.get("/api/job").json()
    mine = {"revision": stored["revision"], "job": {**stored["job"], "title": "first tab"}}
    theirs = {"revision": stored["revision"], "job": {**stored["job"], "title": "second tab"}}
    assert client.put("/api/job", json=mine).status_code == 200
    refused = client.put("/api/job", json=theirs)
    assert refused.status_code == 409
    assert refused.json()["stored"]["job"]["title"] == "first tab"
    assert client.get("/api/job").json()["job"]["title"] == "first tab"


def test_undo_and_redo_answer_with_the_job(client):
    """There and back, with the numbers of steps left."""
    save(client, lambda job: job.update(title="changed"))
    stored = client.get("/api/job").json()
    assert (stored["undo"], stored["redo"]) == (1, 0)
    back = client.post("/api/undo", json={"revision": stored["revision"]}).json()
    assert (back["job"]["title"], back["redo"]) == ("Motor flange on the mill", 1)
    forth = client.post("/api/redo", json={"revision": back["revision"]}).json()
    assert forth["job"]["title"] == "changed"
    refused = client.post("/api/redo", json={"revision": forth["revision"]})
    assert (refused.status_code, refused.json()["problem"]) == (400, "There is nothing to redo.")


def test_comments_in_the_job_file_survive_the_page(client, folder):
    """What a person wrote beside a value stays where it is."""
    path = folder / "job.toml"
    path.write_text(path.read_text().replace("height = 4.0", "height = 4.0 # caliper, cold"))
    assert save(client, lambda job: job.update(title="changed")).status_code == 200
    assert "height = 4.0 # caliper, cold" in path.read_text()


def test_a_job_that_does_not_hang_together_is_refused(client, folder):
    """Names that lead nowhere and unknown rules are told, and the file stays."""
    before = (folder / "job.toml").read_bytes()
    for change in (
        lambda job: job["features"].pop(),
        lambda job: job["measurements"][0]["rules"].append("no-such-rule"),
        lambda job: job["planes"].clear(),
    ):
        answer = save(client, change)
        assert answer.status_code == 400, answer.text
        assert answer.json()["problem"]
    assert (folder / "job.toml").read_bytes() == before


def test_a_job_file_that_cannot_be_read_is_shown_and_never_replaced(client, folder):
    """The page tells what is wrong; saving does not destroy what somebody is editing."""
    stored = client.get("/api/job").json()
    (folder / "job.toml").write_text("title = ")
    now = client.get("/api/job").json()
    assert now["job"] is None
    assert "TOML" in now["problem"]
    change = {"revision": now["revision"], "job": stored["job"]}
    assert client.put("/api/job", json=change).status_code == 400
    assert (folder / "job.toml").read_text() == "title = "


def test_photos_make_a_job_in_an_empty_folder(empty, tmp_path):
    """The first photo makes folder and job; the same one again changes nothing."""
    assert empty.get("/api/job").json()["job"] is None
    assert empty.get("/api/results").json()["photos"] == []
    added = empty.post("/api/photos?title=IMG 1.jpg", content=worlds.jpeg_of(0.5)).json()
    assert (added["photo"], added["new"]) == ("IMG 1", True)
    assert added["stored"]["job"]["title"] == "new mill"
    again = empty.post("/api/photos?title=other.jpg", content=worlds.jpeg_of(0.5)).json()
    assert (again["photo"], again["new"]) == ("IMG 1", False)
    assert sorted(p.name for p in (tmp_path / "new mill").glob("*.jpg")) == ["IMG 1.jpg"]


def test_bars_are_read_before_the_first_photo(empty):
    """Print comes before photograph: readings are kept in a job without photos."""
    job = {"title": "t", "prints": [{"sheet": "window-a4-A", "bar_x": 149.6, "bar_y": "150,1"}]}
    stored = empty.put("/api/job", json={"revision": "", "job": job})
    assert stored.status_code == 200, stored.text
    assert stored.json()["job"]["prints"][0]["bar_y"] == 150.1


def test_a_photo_says_what_it_is_good_for(client, empty):
    """A photo with the sheet can be measured in; one without says what to do."""
    assert client.get("/api/verdict?photo=photo").json()["rank"] in (0, 1)
    out = io.BytesIO()
    Image.new("RGB", (800, 600), "grey").save(out, "JPEG")
    name = empty.post("/api/photos?title=table.jpg", content=out.getvalue()).json()["photo"]
    verdict = empty.get(f"/api/verdict?photo={name}").json()
    assert verdict["rank"] == 2
    assert "sheet" in verdict["findings"][0]["words"]


def test_a_photo_replaced_on_disk_is_noticed(client, folder):
    """By its hash, though the name is the same; nothing is measured in the other one."""
    assert numbers(client)
    scene = worlds.flange_scene(0.5, seed=6)
    (folder / "photo.jpg").write_bytes(worlds.take(scene))
    results = client.get("/api/results").json()
    assert "not the one the job was made with" in results["photos"][0]["problem"]
    assert numbers(client) == {}


def test_pictures_are_upright_and_without_exif(client, folder):
    """A photo that EXIF turns is served turned, and says nothing of where it was taken."""
    turned = Image.open(folder / "photo.jpg")
    exif = turned.getexif()
    exif[0x0112] = 6
    out = io.BytesIO()
    turned.save(out, "JPEG", exif=exif)
    name = client.post("/api/photos?title=turned.jpg", content=out.getvalue()).json()["photo"]
    shown = Image.open(io.BytesIO(client.get(f"/api/picture?photo={name}").content))
    assert shown.size == turned.size[::-1]
    assert not shown.getexif()


def test_a_plane_is_shown_at_right_angles(client):
    """The window of the sheet fills the picture; an unknown plane is told."""
    answer = client.get("/api/flat?photo=photo&plane=top")
    box = client.get("/api/results").json()["photos"][0]["views"][0]["box_mm"]
    width, height = Image.open(io.BytesIO(answer.content)).size
    assert width / height == pytest.approx((box[2] - box[0]) / (box[3] - box[1]), rel=0.01)
    assert client.get("/api/flat?photo=photo&plane=none").status_code == 400


def test_reports_are_the_exporters_own(client, folder):
    """The JSON is byte for byte that of the command line; CSV reads back; a folder is zipped."""
    path = folder / "job.toml"
    job = files.read_job(path, RULES.names)
    report = pipeline.measure(job, lambda entry: files.load_photo(path, entry))
    assert client.get("/api/report?format=json").content == render(report)
    rows = list(csv.reader(io.StringIO(client.get("/api/report?format=csv").text)))
    assert len(rows) > len(job.measurements)
    assert client.get("/api/report?format=nonsense").status_code == 400


def test_the_report_can_be_looked_at_but_does_nothing(client):
    """Inline, with a policy under which it can only be read."""
    answer = client.get("/api/report?format=html&look=true")
    assert answer.headers["content-disposition"].startswith("inline")
    assert "sandbox" in answer.headers["content-security-policy"]
    assert "script-src" not in answer.headers["content-security-policy"]


def test_what_is_offered_is_what_the_program_knows(client):
    """Every kind, format and hazard, and every kind but the odd one with a picture of itself."""
    offered = client.get("/api/choices").json()
    assert [k["name"] for k in offered["kinds"]] == list(MEASUREMENTS.names)
    assert [f["name"] for f in offered["formats"]] == list(EXPORTERS.names)
    drawn = [k for k in offered["kinds"] if k["picture"].startswith("<svg")]
    assert len(drawn) >= 0.9 * len(offered["kinds"])
    json.dumps(offered)


def test_every_sheet_can_be_had(client):
    """Each design as a PDF and as a small picture; others are refused in words."""
    for design in client.get("/api/choices").json()["sheets"]:
        pdf = client.get(f"/api/sheet?design={design['name']}&copy={design['copies'][0]}")
        assert pdf.content.startswith(b"%PDF")
        picture = client.get(f"/api/sheet_picture?design={design['name']}")
        assert picture.headers["content-type"] == "image/svg+xml"
    assert client.get("/api/sheet?design=none").status_code == 400


def test_a_phone_s_heic_is_taken_as_it_is(empty, tmp_path):
    """Kept byte for byte, measured in, and shown as a JPEG, which every browser can."""
    out = io.BytesIO()
    picture = Image.open(io.BytesIO(worlds.jpeg_of(0.5)))
    pillow_heif.from_pillow(picture).save(out, quality=90)
    added = empty.post("/api/photos?title=IMG_7.HEIC", content=out.getvalue()).json()
    assert added["photo"] == "IMG_7"
    assert (tmp_path / "new mill" / "IMG_7.heic").read_bytes() == out.getvalue()
    assert empty.get("/api/results").json()["photos"][0]["views"]
    shown = Image.open(io.BytesIO(empty.get("/api/picture?photo=IMG_7").content))
    assert (shown.format, shown.size) == ("JPEG", picture.size)


def test_a_full_disk_is_told_to_the_page_and_nothing_is_lost(client, monkeypatch):
    """The change is refused in words, the job stays as it was, and saves once there is room."""

    def full(_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", full)
        answer = save(client, lambda job: job.update(title="changed"))
    assert answer.status_code == 400
    assert "no space left on device" in answer.json()["problem"]
    assert client.get("/api/job").json()["job"]["title"] != "changed"
    assert save(client, lambda job: job.update(title="changed")).status_code == 200
