"""The API keeps its own promises: no request makes a mistake of the program of it.

Schemathesis makes requests from the API's own OpenAPI document, valid and broken ones, and
checks every answer against that document.
"""

from contextlib import suppress

import pytest
import schemathesis
import worlds
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from photomeasure import files
from photomeasure.web.app import Setting, create_app

PROMISES = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


@pytest.fixture(scope="module")
def schema(tmp_path_factory):
    """A job whose photo is small, so that many requests take little time."""
    folder = tmp_path_factory.mktemp("fuzzed")
    (folder / "photo.jpg").write_bytes(worlds.jpeg_of(0.5))
    files.write_job(worlds.flange_job(worlds.flange_scene(0.5)), folder / "job.toml")
    app = create_app(Setting(folder / "job.toml"))
    return schemathesis.openapi.from_asgi("/api/openapi.json", app)


@pytest.mark.parametrize("mode", list(GenerationMode), ids=lambda mode: mode.value)
def test_every_address_keeps_its_promise(schema, mode):
    """Answers are as documented, whatever is asked, and never a mistake of the program."""
    asked = 0
    for found in schema.get_all_operations():
        strategy = found.ok().as_strategy(generation_mode=mode)
        asked += _ask(strategy)
    assert asked > 100


def _ask(strategy) -> int:
    """Ask for one address in many ways; returns in how many."""
    asked = 0

    @given(case=strategy)
    @settings(
        max_examples=12,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def keeps_its_promise(case):
        nonlocal asked
        asked += 1
        case.call_and_validate(checks=PROMISES)

    with suppress(Unsatisfiable):  # an address that takes nothing cannot be asked wrongly
        keeps_its_promise()
    return asked
