"""A hostile folder, hostile pictures and texts: nothing is written outside, nothing breaks.

The bombs are what they are called in the trade: small files that unpack to something vast.
"""

import json
import os
import signal
import struct
import subprocess
import sys
import threading
import time
import zlib

import pytest
import worlds

from photomeasure import files
from photomeasure.files.arriving import sweep
from photomeasure.files.job_history import JobHistory


@pytest.fixture
def outside(tmp_path):
    """A folder beside the job's, in which nothing may appear."""
    folder = tmp_path.parent / f"{tmp_path.name}-outside"
    folder.mkdir()
    return folder


def retitled(client):
    stored = client.get("/api/job").json()
    job = {**stored["job"], "title": "changed"}
    return client.put("/api/job", json={"revision": stored["revision"], "job": job})


@pytest.mark.parametrize("place", [".history", ".history/log.json", ".history/.lock", "job.toml"])
def test_a_link_in_a_folder_from_elsewhere_is_not_written_through(client, folder, outside, place):
    """The save is refused in words, and nothing appears where the link leads."""
    link = folder / place
    if place == "job.toml":
        link.rename(outside / "job.toml")
    link.parent.mkdir(exist_ok=True)
    link.symlink_to(outside / link.name if place != ".history" else outside)
    before = {p.name: p.read_bytes() for p in outside.iterdir()}
    answer = retitled(client)
    assert answer.status_code == 400
    assert "leads out" in answer.json()["problem"]
    assert {p.name: p.read_bytes() for p in outside.iterdir()} == before


def test_a_part_is_not_written_through_a_link(client, folder, outside):
    """As with a job."""
    (folder / "part.toml").symlink_to(outside / "part.toml")
    table = {"name": "x", "photo": "photo.jpg", "thickness": 4.0}
    answer = client.put("/api/part?part=part", json={"revision": "", "table": table})
    assert answer.status_code == 400
    assert list(outside.iterdir()) == []


def test_a_photo_never_lands_where_a_link_leads(client, folder, outside):
    """A name that is taken by a dangling link is a name that is taken."""
    (folder / "new.jpg").symlink_to(outside / "new.jpg")
    content = worlds.take(worlds.flange_scene(0.5, seed=8))
    assert client.post("/api/photos?title=new.jpg", content=content).json()["photo"] == "new 2"
    assert list(outside.iterdir()) == []


@pytest.mark.parametrize("place", ["photo.jpg", "job.toml", "part.toml", ".history/log.json"])
def test_a_pipe_in_a_folder_from_elsewhere_is_not_waited_for(client, folder, place):
    """Nobody will ever write into it: it is told, and the page goes on answering."""
    path = folder / place
    path.parent.mkdir(exist_ok=True)
    path.unlink(missing_ok=True)
    os.mkfifo(path)
    answers = {}

    def ask():
        for address in ("job", "parts", "results", "verdict?photo=photo", "outline?part=part"):
            answers[address] = client.get(f"/api/{address}")

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    asking.join(60)
    assert not asking.is_alive()
    assert {a.status_code for a in answers.values()} <= {200, 400}
    said = " ".join(a.text for a in answers.values())
    assert "pipe or device" in said or place == ".history/log.json"


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width, height, *more):
    """A PNG that claims a size; its pixels are left out."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(more) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (png(60_000, 60_000), "megapixels"),
        (png(100_000, 1001), "megapixels"),
        (png(400, 300, chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(100_000_000)))), "damaged"),
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a"),
    ],
    ids=["vast", "long", "text", "empty", "svg"],
)
def test_a_bomb_is_refused_by_its_name_and_leaves_nothing(client, folder, content, said):
    """In words that call the file what the person called it; the folder is as before."""
    before = sorted(p.name for p in folder.iterdir())
    answer = client.post("/api/photos?title=holiday.png", content=content)
    assert answer.status_code == 400
    assert answer.json()["problem"].startswith("holiday.png: ")
    assert said in answer.json()["problem"]
    assert sorted(p.name for p in folder.iterdir()) == before


HOSTILE = {
    "deep": b'{"revision":"","job":{"title":' + b"[" * 900_000 + b"}}",
    "not a number": b'{"revision":"","job":{"title":"t","planes":[{"name":"p","height":NaN}]}}',
    "infinite": b'{"revision":"","job":{"title":"t","planes":[{"name":"p","height":1e400}]}}',
    "digits": b'{"revision":"","job":{"title":"t","format":' + b"9" * 100_000 + b"}}",
    "surrogate": b'{"revision":"","job":{"title":"\\ud800"}}',
    "no text": b"\xff\xfe{",
    "nothing": b"",
    "null": b'{"revision":null,"job":null}',
    "unknown": b'{"revision":"","job":{"title":"t","__proto__":{"x":1}}}',
}


@pytest.mark.parametrize("address", ["/api/job", "/api/part?part=part"])
@pytest.mark.parametrize("body", HOSTILE.values(), ids=HOSTILE)
def test_a_malformed_body_is_refused_and_nothing_is_written(client, folder, address, body):
    """Never a mistake of the program."""
    before = (folder / "job.toml").read_bytes()
    body = body.replace(b'"job":', b'"table":') if "part" in address else body
    answer = client.put(address, content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (400, 422)
    assert answer.json()["problem"]
    assert (folder / "job.toml").read_bytes() == before
    assert not (folder / "part.toml").exists()


ADDRESSES = [
    "picture?photo={}",
    "flat?photo=photo&plane={}",
    "verdict?photo={}",
    "report?format={}",
    "sheet?design={}",
    "sheet?design=window-a4&copy={}",
    "sheet_picture?design={}",
    "outline?part={}",
    "doing?part={}",
    "part_file?part={}&format=dxf",
    "part_file?part=part&format={}",
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_no_name_in_any_address_leads_to_a_file(client, folder, address):
    """Dots, encoded dots, full paths and NULs name nothing."""
    (folder.parent / "secret.toml").write_text("secret")
    for name in ("../secret", "..%2fsecret.toml", "%2e%2e%5csecret", "/etc/passwd", "%00", "job"):
        answer = client.get(f"/api/{address.format(name)}")
        assert answer.status_code in (400, 422)
        assert "secret = " not in answer.text
        assert "root:" not in answer.text


SAVER = """
import sys
from pathlib import Path
from photomeasure import files
from photomeasure.files.job_history import JobHistory
from dataclasses import replace
history = JobHistory(Path(sys.argv[1]))
print("ready", flush=True)
for k in range(10_000):
    job = files.read_job(history.path)
    history.save(replace(job, note=f"{k} " + "x" * 20_000), history.revision())
    print(k, flush=True)
"""


def test_a_kill_at_any_moment_leaves_a_whole_job(folder):
    """Killed while it saves as fast as it can, six times: the job is the last that was said to be
    saved, or the one after it, and its history goes on."""
    path = folder / "job.toml"
    for wait_s in (0.0, 0.01, 0.02, 0.03, 0.05, 0.08):
        words = [sys.executable, "-c", SAVER, str(path)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as saver:
            assert saver.stdout.readline() == "ready\n"
            time.sleep(wait_s)
            saver.send_signal(signal.SIGKILL)
            told = saver.stdout.read().splitlines()
        note = files.read_job(path).note
        if told:
            assert int(note.split()[0]) in (int(told[-1]), int(told[-1]) + 1)
            assert json.loads((folder / ".history" / "log.json").read_bytes())["states"]
        undo, _ = JobHistory(path).steps()
        assert undo >= len(told) - 1


def test_what_a_killed_program_left_half_written_is_swept_away_later(folder):
    """After an hour; what may still be arriving, and what others called so, stays."""
    long_ago = time.time() - 4000
    for name in (".0a1b2c3d.partial", ".job.toml.0a1b2c3d.partial", ".mine.partial"):
        (folder / name).write_bytes(b"x")
        os.utime(folder / name, (long_ago, long_ago))
    (folder / ".11111111.partial").write_bytes(b"x")
    sweep(folder)
    left = {p.name for p in folder.glob(".*.partial")}
    assert left == {".mine.partial", ".11111111.partial"}
