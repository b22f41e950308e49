"""Which addresses does the page talk to? One function each; what they do lies elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.staticfiles import StaticFiles

from photomeasure import __version__
from photomeasure.errors import PhotomeasureError
from photomeasure.web.answers import Conflict, Problem
from photomeasure.web.gate import ENTRANCE
from photomeasure.web.job_routes import OpenJob, job_routes
from photomeasure.web.keys import COOKIE, KEY_LIFE_S, Keys
from photomeasure.web.knowing_routes import Doors, knowing_routes

STATIC = Path(__file__).parent / "static"
_KEY_IS_OLD = (
    f"This link was used already or is older than {KEY_LIFE_S // 60} minutes. Scan the code that "
    "the computer shows now."
)
_PROBLEMS: dict[int | str, dict[str, object]] = {
    400: {"model": Problem, "description": "What is wrong, and what to do."},
    409: {"model": Conflict, "description": "The job was changed elsewhere."},
    422: {"model": Problem, "description": "The request is not one."},
}


@dataclass(frozen=True)
class Setting:
    """What is served. sample : the job to try things on, if there is one.

    doors : makes links for phones, with keys of `keys`; None where only this computer is served.
    """

    path: Path
    sample: Path | None = None
    doors: Doors | None = None
    keys: Keys | None = None


def create_app(setting: Setting) -> FastAPI:
    """The whole application for one job file; `gate.Gate` belongs around it."""
    app = FastAPI(
        title="photomeasure",
        version=__version__,
        description="What the page for pointing at features talks to. One job folder.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        responses=_PROBLEMS,
    )
    app.include_router(job_routes(OpenJob(setting.path)), prefix="/api")
    has_sample = setting.sample is not None
    app.include_router(knowing_routes(has_sample, setting.doors), prefix="/api")
    app.add_exception_handler(PhotomeasureError, _told)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _not_here)
    app.add_exception_handler(Exception, _mistake)
    if setting.keys is not None:
        _add_entrance(app, setting.keys)
    if setting.sample is not None:
        app.mount("/sample", create_app(Setting(setting.sample)))
    _serve_page(app)
    return app


def _add_entrance(app: FastAPI, keys: Keys) -> None:
    """Where a phone's link leads: the key becomes a session of that browser."""

    @app.get(ENTRANCE, include_in_schema=False)
    def enter(key: str = "") -> Response:
        session = keys.enter(key)
        if session is None:
            return JSONResponse({"problem": _KEY_IS_OLD}, status_code=401)
        answer = RedirectResponse("/", status_code=303)
        answer.set_cookie(COOKIE, session, httponly=True, samesite="strict", path="/")
        return answer


def _serve_page(app: FastAPI) -> None:
    @app.get("/", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(STATIC / "index.html", headers={"cache-control": "no-cache"})

    app.mount("/static", _Static(directory=STATIC))


class _Static(StaticFiles):
    """The page's own files: asked for again each time, sent again only when changed."""

    def file_response(self, *args: object, **kwargs: object) -> Response:
        answer = super().file_response(*args, **kwargs)  # type: ignore[arg-type]
        answer.headers["cache-control"] = "no-cache"
        return answer


def _told(request: Request, error: Exception) -> Response:
    return JSONResponse({"problem": str(error)}, status_code=400)


def _not_valid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    said = [f"{'.'.join(map(str, e['loc'][1:])) or 'request'}: {e['msg']}" for e in error.errors()]
    return JSONResponse({"problem": "\n".join(said)[:2000]}, status_code=422)


def _not_here(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return JSONResponse({"problem": str(error.detail)}, error.status_code, error.headers)


def _mistake(request: Request, error: Exception) -> Response:
    return JSONResponse(
        {"problem": "This is a mistake in the program, not in your job; please report it."},
        status_code=500,
    )
