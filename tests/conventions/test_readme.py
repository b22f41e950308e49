"""README names every command, kind, format and subject of rules; its examples work."""

import re
from pathlib import Path

import pytest
from typer.main import get_command

from photomeasure import cli, files
from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.parts import PART_EXPORTERS
from photomeasure.exporters.rule_pages import render_rules_page
from photomeasure.measurements import MEASUREMENTS
from photomeasure.rules import LIBRARY, RULES

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()


def first_column(heading: str) -> set[str]:
    """The code names in the first column of the table under a heading."""
    section = README.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]
    return set(re.findall(r"^\| `([^`]+)`", section, re.M))


def block(language: str) -> str:
    found = re.search(rf"^```{language}\n(.*?)^```", README, re.S | re.M)
    assert found, f"README has no {language} block."
    return found[1]


def test_every_command_is_in_the_table():
    """A command missing from README's table, or a row without a command, fails."""
    commands = {f"photomeasure {name}" for name in get_command(cli.app).commands}
    assert first_column("Commands") == commands


@pytest.mark.parametrize(
    ("heading", "names"),
    [
        ("What can be measured", MEASUREMENTS.names),
        ("What comes out", EXPORTERS.names),
        ("From a part to a file that can be cut", PART_EXPORTERS.names),
        ("Rules", [subject.name for subject in LIBRARY]),
    ],
)
def test_every_registered_name_is_in_its_table(heading, names):
    """A kind, format or subject missing from README's table, or a row too many, fails."""
    assert first_column(heading) == set(names)


def test_the_subjects_have_as_many_rules_as_readme_says():
    """README counts the rules of each subject."""
    rows = re.findall(r"^\| `(\w+)` \| (\d+) \|", README, re.M)
    assert rows == [(subject.name, str(len(subject.rules))) for subject in LIBRARY]


def test_the_page_of_rules_is_up_to_date():
    """docs/rules.md is what `photomeasure rules --to docs/rules.md` writes."""
    assert (ROOT / "docs" / "rules.md").read_bytes() == render_rules_page()


def test_both_commands_stand_in_readme():
    """README shows the one line for the demo and the one line for the tests."""
    assert re.search(r"^\./run demo\b", README, re.M)
    assert re.search(r"^\./run test\b", README, re.M)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_links_lead_to_files_that_exist(page):
    """Every relative link or picture of a page is in the repository."""
    links = re.findall(r"\]\(([^)#]+)", (ROOT / page).read_text())
    assert [x for x in links if "://" not in x and not (ROOT / x).exists()] == []


def test_the_job_example_is_a_valid_job(tmp_path):
    """The job.toml in README is read without complaint, comments and all."""
    path = tmp_path / "job.toml"
    path.write_text(block("toml"))
    (tmp_path / "flange.jpg").write_bytes(b"not looked at by read_job")
    job = files.read_job(path, RULES.names)
    assert [m.kind for m in job.measurements] == ["gap", "diameter"]


def test_the_python_example_runs_and_prints_a_number(monkeypatch, capsys):
    """The Python block of README runs as it stands in a checkout and prints a measured value."""
    monkeypatch.chdir(ROOT)
    exec(compile(block("python"), "README.md", "exec"), {})
    assert re.search(r": \d+\.\d+ ± \d+\.\d+ (mm|deg)", capsys.readouterr().out)
