"""How does an editor know what may stand in a job file?"""

from __future__ import annotations

from typing import Any

from photomeasure.files.job_model import JobFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def job_schema() -> dict[str, Any]:
    """The JSON Schema of a job file, with a description for every key."""
    return {"$schema": DIALECT, **JobFile.model_json_schema(), "title": "A photomeasure job"}
