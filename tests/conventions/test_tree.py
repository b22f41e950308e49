"""What every file of the tree keeps to."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MADE = {"demo_report", "build", "dist", "__pycache__"}
TEXT = {".py", ".md", ".toml", ".yaml", ".lock", ".html", ".css", ".js", ".json", ".sh", ""}
CODE = sorted((ROOT / "photomeasure").rglob("*.py"))
FOREIGN_PATH = re.compile(r"(?<![\w.~])/(work|farm|root|tmp|home)/")


def texts() -> list[Path]:
    """Every file of text in the checkout that is not made by a tool."""
    files = (p for p in ROOT.rglob("*") if p.is_file() and p.suffix in TEXT)
    return [p for p in files if not any(map(_made, p.relative_to(ROOT).parts[:-1]))]


def _made(folder: str) -> bool:
    return folder in MADE or (folder.startswith(".") and folder != ".ci")


def test_no_file_names_a_path_of_somebodys_machine():
    """No tracked text holds an absolute path of a developer's machine."""
    guilty = [str(p) for p in texts() if FOREIGN_PATH.search(p.read_text(errors="replace"))]
    assert guilty == []


def test_the_locks_name_no_index():
    """The locks hold names and versions only, so they work behind any mirror."""
    for lock in ("requirements.lock", "requirements-dev.lock"):
        assert "://" not in (ROOT / lock).read_text()


@pytest.mark.parametrize("path", CODE, ids=lambda p: str(p.relative_to(ROOT)))
def test_module_is_short_and_says_what_it_is_for(path):
    """Every module has at most 400 lines and a docstring of a sentence."""
    text = path.read_text()
    assert text.count("\n") <= 400
    assert len(ast.get_docstring(ast.parse(text)) or "") > 20


@pytest.mark.parametrize("path", CODE, ids=lambda p: str(p.relative_to(ROOT)))
def test_functions_are_short(path):
    """No function of the package is longer than 60 lines."""
    functions = [
        node
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    long = [f.name for f in functions if (f.end_lineno or 0) - f.lineno >= 60]
    assert long == []
