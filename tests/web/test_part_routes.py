"""The outline of a part on the page: the command's own numbers and files, kept as a job is."""

import io
import os
import subprocess
import sys
import zipfile

import numpy as np
import pytest
from PIL import Image
from served import client_of
from test_outlining import PX_PER_MM, scan

from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.files.part_file import read_part
from photomeasure.outlining import outline, trace
from photomeasure.web.outlines import _stretches, drawn
from photomeasure.web.part_routes import told_of

TABLE = {"name": "gasket", "photo": "gasket.png", "thickness": 0.8, "scan": {"dpi": 300}}


@pytest.fixture
def desk(tmp_path):
    """A folder with a scan of a gasket, as a photo of the job."""
    browser = client_of(tmp_path / "job.toml")
    out = io.BytesIO()
    Image.fromarray(scan()).save(out, "PNG")
    assert browser.post("/api/photos?title=gasket.png", content=out.getvalue()).json()["new"]
    return browser


def put(client, revision="", part="part", **facts):
    return client.put(
        f"/api/part?part={part}", json={"revision": revision, "table": {**TABLE, **facts}}
    )


@pytest.fixture
def part(desk):
    return put(desk).json()


def test_the_outline_is_the_command_s_own(desk, part, tmp_path):
    """Every line that the page shows stands in what the command prints; files are its bytes."""
    code = "from photomeasure.cli import main; main()"
    words = ["outline", str(tmp_path / "part.toml"), "--quiet"]
    done = subprocess.run(
        [sys.executable, "-c", code, *words], check=True, capture_output=True, text=True
    )
    told = desk.get("/api/outline?part=part").json()
    assert told["found"][0] in done.stdout
    for hole in told["holes"]:
        assert hole["callout"] in done.stdout
        assert hole["measured"] in done.stdout
    for offer in told["offers"]:
        assert f'"{offer["name"]}": {offer["words"]}' in done.stdout
    assert len(set(told["remarks"])) == len(told["remarks"])
    assert [w for w in told["remarks"] if f"Note: {w}" not in done.stdout] == []
    whole = desk.get("/api/part_file?part=part&format=all").content
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        assert archive.namelist() == [f"gasket{e.ending}" for e in PART_EXPORTERS if e.by_default]
        for name in archive.namelist():
            assert undated(archive.read(name)) == undated((tmp_path / "part" / name).read_bytes())


def undated(content):
    """Without the time of making, which some formats carry."""
    keep = (b"$TDCREATE", b"$TDUPDATE", b"FILE_NAME", b"CreationDate", b"ModDate")
    lines = content.split(b"\n")
    return len(lines) if any(key in content for key in keep) else content


def test_the_outline_lies_where_the_part_is_in_the_picture(desk, part):
    """The gasket was drawn from 20 to 80 mm, its hole of 20 mm round (50, 40)."""
    told = desk.get("/api/outline?part=part").json()
    for ring in (told["seen"][0], told["cut"][0]["chain_px"]):
        px = np.array(ring)
        assert px.min(axis=0) == pytest.approx(np.array([20, 20]) * PX_PER_MM, abs=1.5)
        assert px.max(axis=0) == pytest.approx(np.array([80, 60]) * PX_PER_MM, abs=1.5)
    hole = np.array(next(r for r in told["cut"] if r["name"] == "H1")["chain_px"])
    away = np.hypot(*(hole - np.array([50, 40]) * PX_PER_MM).T)
    assert away == pytest.approx(10 * PX_PER_MM, abs=1.0)


@pytest.mark.parametrize(
    ("facts", "origin", "x_goes"), [({}, (20, 60), 1), ({"mirror": True}, (80, 60), -1)]
)
def test_the_axes_show_where_places_are_counted_from(desk, facts, origin, x_goes):
    """From the lower left corner as drawn: seen from the back that is the lower right one."""
    put(desk, **facts)
    told = desk.get("/api/outline?part=part").json()
    x, corner, y = np.array(told["frame_px"]) / PX_PER_MM
    assert corner == pytest.approx(origin, abs=0.15)
    assert (x - corner)[0] * x_goes > 5
    assert (y - corner)[1] < -5
    hole = next(h for h in told["holes"] if h["name"] == "H1")
    assert hole["at_mm"] == pytest.approx([30, 20], abs=0.15)


def test_a_boundary_is_not_drawn_where_nothing_of_it_was_seen():
    """Of a rim with two gaps two stretches remain, which do not leap over them; a whole one
    closes."""
    turns = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    rim = 40 * np.column_stack([np.cos(turns), np.sin(turns)])
    (whole,) = _stretches(rim)
    assert np.array_equal(whole[0], whole[-1])
    parts = _stretches(np.delete(rim, [*range(50, 80), *range(200, 230)], axis=0))
    assert [len(p) for p in parts] == [180, 120]
    assert max(np.hypot(*np.diff(p, axis=0).T).max() for p in parts) < 1.0


@pytest.mark.parametrize("facts", [{"mirror": True}, {"offset": 2.0}])
def test_a_changed_part_is_drawn_where_it_was_seen(desk, facts):
    """Seen from the back, or grown by 2 mm, it still lies over the part in the photo."""
    put(desk, **facts)
    told = desk.get("/api/outline?part=part").json()
    px = np.array(told["cut"][0]["chain_px"])
    grown = facts.get("offset", 0.0)
    assert px.min(axis=0) == pytest.approx(np.array([20 - grown] * 2) * PX_PER_MM, abs=1.5)


def test_nothing_is_taken_until_it_is_said_and_then_it_is_named(desk, part):
    """What is on offer leaves the offers once taken, and stands in the remarks."""
    offer = next(o for o in desk.get("/api/outline?part=part").json()["offers"] if o["within"])
    stored = put(desk, part["revision"], take=[offer["name"]])
    assert stored.status_code == 200
    told = desk.get("/api/outline?part=part").json()
    assert offer["name"] not in [o["name"] for o in told["offers"]]
    assert any(r.startswith(f"{offer['name']}: ") for r in told["remarks"])


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"take": ["round H9"]}, "on offer"),
        ({"holes": [{"name": "H1", "diameter": 25.0}]}, "confirm it"),
        ({"scan": None}, "No part|sheet"),
        ({"scan": {"dpi": 3.0}}, "dots per inch"),
    ],
)
def test_an_outline_that_is_refused_says_why(desk, facts, said):
    """In the words of the command, and nothing is written."""
    put(desk, **facts)
    answer = desk.get("/api/outline?part=part")
    assert answer.status_code == 400
    assert any(words in answer.json()["problem"] for words in said.split("|"))
    assert desk.get("/api/part_file?part=part&format=dxf").status_code == 400


@pytest.fixture
def traces(monkeypatch):
    """How often the boundaries were looked for in the photo."""
    counted = []

    def counting(*args, **more):
        counted.append(args)
        return trace(*args, **more)

    monkeypatch.setattr("photomeasure.web.outlines.trace", counting)
    return counted


CHOICES = [
    {"tolerance": 0.2},
    {"name": "seal"},
    {"thickness": 2.0},
    {"round_corners": 3.0},
    {"offset": 1.0},
    {"mirror": True},
    {"holes": [{"name": "H1", "thread": "M20"}]},
    {"levels": [{"name": "seat", "around": "H1", "offset": 4.0, "height": 1.5}]},
    {"bends": [{"start": [0.0, 10.0], "end": [60.0, 10.0]}]},
    {"title": {"title": "Seal", "quantity": 4}},
]


def test_what_a_person_chooses_is_answered_without_looking_again(desk, part, traces, tmp_path):
    """Every choice is made of the boundaries that are known, with the numbers that the whole
    line gives, to the last digit; another hint and another photo are looked at anew."""
    desk.get("/api/outline?part=part")
    revision = part["revision"]
    for choice in CHOICES:
        revision = put(desk, revision, **choice).json()["revision"]
        told = desk.get("/api/outline?part=part").json()
        assert len(traces) == 1, choice
        entry, photo, cameras = read_part(tmp_path / "part.toml")
        fresh = outline(entry, photo, cameras)
        assert told == told_of("part", drawn(entry, fresh)).model_dump(mode="json")
    put(desk, revision, inside=[[30 * PX_PER_MM, 25 * PX_PER_MM]])
    desk.get("/api/outline?part=part")
    assert len(traces) == 2
    os.utime(tmp_path / "gasket.png", (1, 1))
    desk.get("/api/outline?part=part")
    assert len(traces) == 3


def test_a_level_and_a_bend_lie_where_they_were_said(desk, part):
    """A seat 4 mm round a hole of 20 mm has a rim of 28 mm about the hole; a bend line lies 10 mm
    above the lower edge, and its ends as touched are its ends in the file."""
    seat = {"name": "seat", "around": "H1", "offset": 4.0, "height": 0.5}
    bend = {"start": [0.0, 10.0], "end": [60.0, 10.0]}
    put(desk, part["revision"], levels=[seat], bends=[bend])
    told = desk.get("/api/outline?part=part").json()
    rim = np.array(next(r for r in told["cut"] if r["name"] == "seat")["chain_px"])
    away = np.hypot(*(rim - np.array([50, 40]) * PX_PER_MM).T)
    assert away == pytest.approx(14 * PX_PER_MM, abs=1.5)
    line = told["bends"][0]
    px = np.array(line["chain_px"])
    assert line["name"] == "bend 1"
    assert px[0] == pytest.approx(np.array([20, 50]) * PX_PER_MM, abs=1.5)
    assert px[-1] == pytest.approx(np.array([80, 50]) * PX_PER_MM, abs=1.5)
    ends = {"points_px": [px[0].tolist(), px[-1].tolist()]}
    places = desk.post("/api/part_places?part=part", json=ends).json()["points_mm"]
    assert np.allclose(places, [bend["start"], bend["end"]], atol=1e-6)


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        (
            {"levels": [{"name": "pit", "around": "H1", "offset": 4.0, "height": -0.8}]},
            "less deep",
        ),
        ({"levels": [{"name": "pit", "around": "H1", "offset": 40.0, "height": 1}]}, "edge"),
        ({"levels": [{"name": "pit", "around": "H1", "offset": -2.0, "height": 1}]}, "crosses"),
        ({"bends": [{"start": [70.0, 0.0], "end": [70.0, 40.0]}]}, "Put its ends"),
    ],
)
def test_what_a_shop_cannot_make_stands_among_its_questions(desk, part, facts, said):
    """A recess as deep as the part, a seat beyond its edge, a bend beside it."""
    put(desk, part["revision"], **facts)
    told = desk.get("/api/outline?part=part").json()
    assert [r["grave"] for r in told["shop"] if said in r["words"]] == [True]


def test_places_that_cannot_be_told_are_refused(desk, part):
    """No place, too many, none of numbers; a part that is not there."""
    for points in ([], [[1, 2]] * 101, [[1]], "x"):
        answer = desk.post("/api/part_places?part=part", json={"points_px": points})
        assert answer.status_code == 422
    answer = desk.post("/api/part_places?part=part-2", json={"points_px": [[1, 2]]})
    assert answer.status_code == 400


def test_two_tabs_never_overwrite_each_other_s_part(desk, part):
    """The second is told what the part is now; undo and redo go there and back."""
    first = put(desk, part["revision"], name="first").json()
    refused = put(desk, part["revision"], name="second")
    assert refused.status_code == 409
    assert refused.json()["stored"]["table"]["name"] == "first"
    back = desk.post("/api/part_undo?part=part", json={"revision": first["revision"]}).json()
    assert (back["table"]["name"], back["redo"]) == ("gasket", 1)
    forth = desk.post("/api/part_redo?part=part", json={"revision": back["revision"]}).json()
    assert forth["table"]["name"] == "first"


def test_a_deleted_part_comes_back(desk, part, tmp_path):
    """Its file goes, and one change back brings it again."""
    gone = desk.post("/api/part_remove?part=part", json={"revision": part["revision"]}).json()
    assert (gone["table"], gone["undo"]) == (None, 1)
    assert not (tmp_path / "part.toml").exists()
    assert desk.get("/api/parts").json() == []
    desk.post("/api/part_undo?part=part", json={"revision": gone["revision"]})
    assert [p["part"] for p in desk.get("/api/parts").json()] == ["part"]


def test_what_the_page_does_not_show_stays_in_the_file(desk, part, tmp_path):
    """Comments, levels and clearance classes written by hand outlive a change on the page."""
    path = tmp_path / "part.toml"
    text = path.read_text().replace("thickness = 0.8", "thickness = 0.8 # caliper, cold")
    level = '\n[[levels]]\nname = "seat"\naround = "H1"\noffset = 4.0\nheight = 1.5\n'
    path.write_text(text + level)
    now = desk.get("/api/parts").json()[0]
    table = {**now["table"], "name": "renamed"}
    saved = desk.put("/api/part?part=part", json={"revision": now["revision"], "table": table})
    assert saved.status_code == 200
    kept = path.read_text()
    assert "# caliper, cold" in kept
    assert '[[levels]]\nname = "seat"' in kept
    assert 'name = "renamed"' in kept


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("../../lid", "lid.dxf"),
        ('lid"; filename="x.exe', "lid-filename-x-exe.dxf"),
        ("Mühlendeckel Größe 2", "Muhlendeckel-Groe-2.dxf"),
        ("蓋", "part.dxf"),
        ("..", "part.dxf"),
    ],
)
def test_a_part_s_name_makes_a_plain_file_name(desk, part, name, file):
    """Whatever it is called: no folders, no quotes, never a hidden file without a name."""
    put(desk, part["revision"], name=name)
    answer = desk.get("/api/part_file?part=part&format=dxf")
    assert answer.headers["content-disposition"] == f'attachment; filename="{file}"'
    whole = desk.get("/api/part_file?part=part&format=all").content
    assert file in zipfile.ZipFile(io.BytesIO(whole)).namelist()


@pytest.mark.parametrize("name", ["../part", "part-0", "job", "part/../job", "part.toml", ""])
def test_no_part_lies_outside_the_folder(desk, name):
    """Only part, part-2, part-3 and on are parts."""
    answer = desk.put("/api/part", params={"part": name}, json={"revision": "", "table": TABLE})
    assert answer.status_code == 422


def test_a_part_cannot_name_a_picture_outside_its_folder(desk, tmp_path):
    """Neither by dots nor by a link."""
    assert put(desk, photo="../secret.png").status_code == 422
    secret = tmp_path.parent / f"{tmp_path.name}-secret.png"
    secret.write_bytes((tmp_path / "gasket.png").read_bytes())
    (tmp_path / "linked.png").symlink_to(secret)
    refused = put(desk, photo="linked.png")
    assert refused.status_code == 400
    assert "leads out" in refused.json()["problem"]
    (tmp_path / "part.toml").write_text(
        'name = "x"\nphoto = "linked.png"\nthickness = 1.0\nscan = { dpi = 300.0 }\n'
    )
    answer = desk.get("/api/outline?part=part")
    assert answer.status_code == 400
    assert "leads out" in answer.json()["problem"]


def test_a_part_file_that_cannot_be_read_is_told_and_never_replaced(desk, part, tmp_path):
    """What somebody is editing stays."""
    path = tmp_path / "part.toml"
    path.write_text("name = ")
    now = desk.get("/api/parts").json()[0]
    assert now["table"] is None
    assert "TOML" in now["problem"]
    assert put(desk, now["revision"]).status_code == 400
    assert path.read_text() == "name = "
