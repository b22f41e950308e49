"""What is answered when the file that a change was meant for is another by now?"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.responses import Response

from photomeasure.files.job_history import ChangedElsewhereError

T = TypeVar("T")


def unless_changed(change: Callable[[], T], conflict: Callable[[str], BaseModel]) -> T | Response:
    """What a change leaves, or status 409 with what somebody else has left meanwhile."""
    try:
        return change()
    except ChangedElsewhereError as error:
        return JSONResponse(conflict(str(error)).model_dump(mode="json"), status_code=409)
