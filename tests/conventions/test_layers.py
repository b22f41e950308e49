"""The layer table that people read is the contract that the linter checks."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def contract() -> list[str]:
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text())
    return pyproject["tool"]["importlinter"]["contracts"][0]["layers"]


def test_the_table_in_developers_is_the_contract_in_pyproject():
    """DEVELOPERS.md shows exactly the layers that import-linter enforces."""
    text = (ROOT / "DEVELOPERS.md").read_text()
    block = re.search(r"^## Layers.*?```\n(.*?)```", text, re.S | re.M)
    assert block
    assert block[1].splitlines() == contract()


def test_brackets_mark_exactly_the_layers_that_do_not_exist_yet():
    """A layer in brackets has no module; every other one has."""
    for line in contract():
        for name in line.split(" | "):
            bare = name.strip("()")
            package = ROOT / "photomeasure"
            exists = (package / bare).is_dir() or (package / f"{bare}.py").is_file()
            assert exists != name.startswith("("), name
