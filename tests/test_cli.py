"""The command line: what it imports, writes, refuses and answers with its exit code."""

import json
import os
import re
import subprocess
import sys
import tomllib
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from photomeasure import cli, files, pipeline
from photomeasure.cli import measuring
from photomeasure.cli.console import progress_line
from photomeasure.errors import JobError
from photomeasure.exporters import EXPORTERS, Exporter, text
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.report import Verdict
from photomeasure.records.view import CameraRecord
from photomeasure.rules import RULES
from photomeasure.rules.tables import TABLES
from photomeasure.vision.sheets import DESIGNS

HEAVY = {"numpy", "scipy", "cv2", "skimage", "pydantic", "matplotlib", "PIL", "reportlab"}


@pytest.fixture
def call(monkeypatch, capsys):
    """Run a command line as a user does: words in, (exit code, stdout, stderr) out."""

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["photomeasure", *map(str, words)])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        out, err = capsys.readouterr()
        return stopped.value.code or 0, out, err

    return run


@pytest.fixture
def photo(tmp_path):
    """A small grey picture without a sheet."""
    path = tmp_path / "bare table.png"
    Image.fromarray(np.full((240, 320, 3), 128, np.uint8)).save(path)
    return path


def test_help_names_every_command_and_imports_nothing_heavy():
    """`--help` answers before numpy, OpenCV or pydantic are loaded."""
    code = "import sys; from photomeasure import cli; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert HEAVY.isdisjoint(done.stdout.split())


@pytest.mark.parametrize("words", [("rules",), ("kinds", "gap")])
def test_a_closed_pipe_ends_quietly(words):
    """`| head` is neither a mistake nor a verdict, whether the text fills the pipe or not."""
    source, sink = os.pipe()
    os.close(source)
    code = "import sys; from photomeasure import cli; sys.argv[0] = 'photomeasure'; cli.main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *words], check=False, stdout=sink, stderr=subprocess.PIPE
    )
    os.close(sink)
    assert (done.returncode, done.stderr) == (cli.CLOSED, b"")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("a4",), 'mean "window-a4" or "window-a4-landscape" or'),
        (("Window-A4",), 'mean "window-a4"'),
        (("window-a4-B",), "given apart: --copy B"),
        (("foo",), "`photomeasure sheet` lists all 12"),
        (("window-a4", "--copy", "Z"), "`photomeasure sheet` lists the designs and their copies"),
    ],
)
def test_an_unknown_sheet_is_answered_with_the_nearest(call, words, told):
    """The nearest names and the command that lists them, not all 66 of them."""
    code, _, err = call("sheet", *words)
    assert code == cli.ERROR
    assert told in err
    assert len(err) < 300


def test_sheet_without_a_design_lists_them_all(call):
    """Every design is listed with what it is."""
    code, out, _ = call("sheet")
    assert code == 0
    assert [line.split()[0] for line in out.splitlines()[: len(DESIGNS)]] == [
        d.name for d in DESIGNS
    ]


def test_sheet_writes_a_pdf_where_it_is_told(call, tmp_path):
    """The file asked for is a PDF, and the message names it."""
    target = tmp_path / "for the mill.pdf"
    code, out, _ = call("sheet", "window-a4", "--copy", "B", "--to", target)
    assert code == 0
    assert str(target) in out
    assert target.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    "words",
    [
        ("sheet", "window-a5"),
        ("measure", "no-such-job.toml"),
        ("measure", "."),
        ("begin", "new", "no-such-photo.jpg"),
        ("camera", "no-such-photo.jpg", "--to", "phone.toml"),
        ("rules", "no-such-rule"),
    ],
    ids=" ".join,
)
def test_what_cannot_be_done_is_one_message_code_4_and_no_file(call, tmp_path, monkeypatch, words):
    """A mistake a person can mend ends with 4, names the thing, shows no trace, writes nothing."""
    monkeypatch.chdir(tmp_path)
    code, out, err = call(*words)
    assert (code, out) == (4, "")
    assert err.startswith("photomeasure: ")
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_mistyped_command_is_a_usage_error(call):
    """2 stays the code of a command typed wrongly."""
    assert call("mesure", "job.toml")[0] == 2


def test_a_mistake_of_the_program_says_so(call, monkeypatch):
    """An unexpected exception shows its trace, is called the program's mistake, and is not a 1."""
    monkeypatch.setattr(measuring, "sample_jobs", lambda: 1 / 0)
    code, _, err = call("demo")
    assert code == 4
    assert "ZeroDivisionError" in err
    assert "not in your job" in err


def decision(verdict, can_fail=True):
    return SimpleNamespace(verdict=verdict, rule=SimpleNamespace(can_fail=can_fail))


@pytest.mark.parametrize(
    ("decisions", "code"),
    [
        ([], 0),
        ([decision(Verdict.CONFORMS)], 0),
        ([decision(Verdict.CONFORMS), decision(Verdict.CANNOT_TELL)], 3),
        ([decision(Verdict.CANNOT_TELL), decision(Verdict.DOES_NOT_CONFORM)], 1),
        ([decision(Verdict.DOES_NOT_CONFORM, False), decision(Verdict.CANNOT_TELL, False)], 0),
    ],
)
def test_exit_code_follows_the_verdicts_that_can_fail(decisions, code):
    """0 all conform, 3 some cannot be told, 1 some do not conform and outranks 3; advice is 0."""
    assert cli.exit_code(SimpleNamespace(decisions=decisions, checks=[], lost=())) == code


def test_what_could_not_be_measured_outranks_every_verdict():
    """Not everything was looked at, whatever the rest came to."""
    for verdict in Verdict:
        report = SimpleNamespace(decisions=[decision(verdict)], checks=[], lost=("bore",))
        assert cli.exit_code(report) == 4


def test_a_caliper_that_disagrees_leaves_nothing_told():
    """Where photo and caliper contradict each other the exit code is that of "cannot tell"."""
    checks = [SimpleNamespace(agrees=True), SimpleNamespace(agrees=False)]
    report = SimpleNamespace(decisions=[decision(Verdict.CONFORMS)], checks=checks, lost=())
    assert cli.exit_code(report) == 3


def test_rules_are_listed_and_explained(call):
    """Each rule is in the list, in 80 columns; one by name shows why and its source."""
    listed = call("rules")[1]
    assert all(name in listed for name in RULES.names)
    assert max(map(len, listed.splitlines())) <= 80
    rule = next(iter(RULES))
    explained = " ".join(call("rules", rule.name)[1].split())
    assert rule.why in explained
    assert rule.source in explained


def test_rules_are_found_by_words_and_by_what_meets(call):
    """Both narrow the list and may be joined; a thing that is not known is named."""
    met = call("rules", "--between", "brake hose", "exhaust")[1]
    assert "rubber-hose-to-exhaust" in met
    assert "chain-sag" not in met
    joined = call("rules", "--between", "hose", "exhaust", "--find", "touches")[1]
    assert "hose-to-heat-shield" in joined
    assert "rubber-hose" not in joined
    assert "chain-sag" in call("rules", "--find", "roller chain")[1]
    assert call("rules", "--find", "wombat")[1].startswith("No rule fits. Try fewer")
    assert 'Did you mean "exhaust"' in call("rules", "--between", "hose", "exhorst")[2]


def test_tables_are_listed_printed_and_looked_up(call):
    """A table shows its source; a hole, a pitch and a nominal are looked up."""
    assert all(table.name in call("tables")[1] for table in TABLES)
    assert "ISO 273" in call("tables", "iso-273")[1]
    hole = " ".join(call("tables", "--hole", "6.58", "--plus-minus", "0.06")[1].split())
    assert "ISO 273 medium for M6 is 6.6 mm; fine, 6.4 mm, and coarse, 7 mm, are outside" in hole
    pitch = call("tables", "--pitch", "0.797", "--plus-minus", "0.01", "--outside", "4.9")[1]
    assert "M5×0.8" in pitch
    assert "59.7 to 60.3 mm" in call("tables", "--nominal", "60")[1]
    assert "89.5 to 90.5°" in call("tables", "--nominal", "90", "--leg", "40")[1]
    assert "59.75 to 60.25 mm" in call("tables", "--nominal", "60", "--thickness", "3")[1]
    assert "beyond the tables" in call("tables", "--hole", "80")[1]


def test_kinds_show_needs_and_results(call):
    """Each kind is listed with its roles and its quantities."""
    out = call("kinds")[1]
    for kind in MEASUREMENTS:
        assert kind.name in out
        assert all(need.role in out for need in kind.needs)


def test_schema_is_the_json_schema_of_a_job(call):
    """What is printed is JSON and describes the photos of a job."""
    assert "photos" in json.loads(call("schema")[1])["properties"]


def test_begin_makes_a_job_that_only_needs_its_comments_removed(call, tmp_path, photo):
    """The photo is copied, its hash noted, and the skeleton uncommented is a valid job."""
    folder = tmp_path / "mill"
    code, out, _ = call("begin", folder, photo)
    assert code == 0
    assert "no scale sheet" in out
    assert (folder / photo.name).read_bytes() == photo.read_bytes()
    job = folder / "job.toml"
    job.write_text(re.sub(r"^# (?=[a-z_]+ = |\[\[)", "", job.read_text(), flags=re.M))
    job.write_text(re.sub(r"^camera = .*$", "", job.read_text(), flags=re.M))
    read = files.read_job(job, RULES.names)
    assert read.photos[0].sha256 == files.load_photo(job, read.photos[0]).sha256
    assert len(read.features) == 2


def test_begin_keeps_a_copy_of_the_camera_record(call, tmp_path, photo):
    """The record named on the command line lies in the job's folder under its hash."""
    record = CameraRecord("phone", (320, 240), 1, np.ones(8), np.eye(8), 0.1, 8, 600)
    sha256 = files.write_camera(record, tmp_path / "phone.json")
    assert call("begin", tmp_path / "mill", photo, "--camera", tmp_path / "phone.json")[0] == 0
    job = files.read_job(tmp_path / "mill" / "job.toml", RULES.names)
    assert job.photos[0].camera == sha256
    assert list(files.read_cameras(tmp_path / "mill", job)) == [sha256]


def test_begin_does_not_overwrite_a_job(call, tmp_path, photo):
    """A folder that holds a job is refused and left as it was."""
    (tmp_path / "job.toml").write_text("title = 'mine'")
    assert call("begin", tmp_path, photo)[0] == 4
    assert tomllib.loads((tmp_path / "job.toml").read_text()) == {"title": "mine"}


@pytest.fixture
def made(monkeypatch, tmp_path):
    """A job that is measured at once; what was written below the folder out."""
    report = SimpleNamespace(decisions=(), checks=(), lost=())
    monkeypatch.setattr(files, "read_job", lambda *_: SimpleNamespace(photos=()))
    monkeypatch.setattr(pipeline, "measure", lambda *_: report)
    monkeypatch.setattr(Exporter, "render", lambda exporter, report: b"content")
    monkeypatch.setattr(text, "render_table", lambda *_: "the table")
    out = tmp_path / "out"
    return lambda: {str(p.relative_to(out)) for p in out.rglob("*") if p.is_file()}


def test_measure_writes_stills_only_when_asked(call, made, tmp_path):
    """Stills take long and are for videos: by default the other formats are written."""
    words = ("measure", tmp_path / "job.toml", "--to", tmp_path / "out")
    assert call(*words)[0] == 0
    assert made() == {e.filename for e in EXPORTERS if e.by_default} == {
        "report.html", "report.json", "report.csv"
    }  # fmt: skip
    call(*words, "--format", "png")
    assert made() > {"stills"}


def test_demo_writes_every_format_and_names_each_page(call, made, monkeypatch, tmp_path):
    """The demo shows all there is, stills too, and says where to look."""
    monkeypatch.setattr(measuring, "sample_jobs", lambda: [tmp_path / "mill" / "job.toml"])
    code, out, _ = call("demo", "--to", tmp_path / "out")
    assert code == 0
    assert made() == {f"mill/{e.filename}" for e in EXPORTERS}
    assert str(tmp_path / "out" / "mill" / "report.html") in out


def test_demo_without_sample_photos_says_where_it_looked(monkeypatch, tmp_path):
    """Outside a source checkout the demo names the folder that is missing."""
    monkeypatch.setattr(
        measuring, "__file__", str(tmp_path / "photomeasure" / "cli" / "measuring.py")
    )
    with pytest.raises(JobError, match="sample_images"):
        measuring.sample_jobs()


def test_progress_is_silent_when_nobody_watches(capsys):
    """Stages are shown on a terminal only, so a log stays clean."""
    progress_line(quiet=False)("detecting")
    assert capsys.readouterr().err == ""
