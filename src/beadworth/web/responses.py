"""How an answer is made: templates, and one way to refuse for pages, fragments and JSON."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from beadworth import __version__
from beadworth.core import BeadworthError
from beadworth.report import meanings, recolour_css, tokens_css
from beadworth.text import duration, fixed, grams, moment, number, percent
from beadworth.trial import describe_time, describe_weighing

HERE = Path(__file__).parent
STATIC = HERE / "static"
STATUS = {
    "not-found": 404,
    "conflict": 409,
    "bench": 503,
    "error": 500,
    "foreign-host": 421,
    "foreign-origin": 403,
    "too-large": 413,
    "malformed": 400,
    "too-slow": 408,
    "too-many-tries": 429,
    "unknown-visitor": 401,
    "not-allowed": 403,
}
"""HTTP status by kind of error; every other kind is an invalid input, 422."""


class MalformedError(BeadworthError):
    """A request that is not written as HTTP or JSON wants it."""

    kind = "malformed"


class InternalError(BeadworthError):
    """A fault of ours; the terminal has the traceback."""

    kind = "internal"


def status_of(error: BeadworthError) -> int:
    """The HTTP status an error answers with."""
    return STATUS.get(error.kind, 422)


def wants_json(request: Request) -> bool:
    """Everything under /api answers in JSON, its errors too."""
    path: str = request.scope["path"]
    return path == "/api" or path.startswith("/api/")


def is_fragment(request: Request) -> bool:
    """Whether htmx asks for a part of a page."""
    return request.headers.get("hx-request") == "true"


@cache
def asset(name: str) -> str:
    """The address of a static file, changed whenever its content does."""
    return f"/static/{name}?v={_digest(STATIC / name)}"


@cache
def look_css() -> bytes:
    """Colours, type and spacing of the dossier, and its charts' colours turned into them."""
    return (tokens_css() + recolour_css(".chart")).encode()


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:10]


@cache
def environment() -> Environment:
    """The templates, escaping everything, silent about nothing."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        grams=grams,
        number=number,
        percent=percent,
        fixed=fixed,
        duration=duration,
        moment=moment,
        describe_time=describe_time,
        describe_weighing=describe_weighing,
    )
    shared: dict[str, Any] = made.globals
    shared.update(
        asset=asset,
        meanings=meanings,
        duration=duration,
        version=__version__,
        look_address=f"/look.css?v={hashlib.sha256(look_css()).hexdigest()[:10]}",
    )
    return made


def script_json(data: Any) -> Markup:
    """Data as JSON for a ``script`` element, which no text in it can close."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("<", "\\u003c"))


def page(
    request: Request, template: str, context: Mapping[str, Any], status: int = 200
) -> HTMLResponse:
    """A page or fragment from a template."""
    text = (
        environment()
        .get_template(template)
        .render(
            request=request,
            fragment=is_fragment(request),
            for_phone=request.scope.get("phone_door", False),
            visitor=request.scope.get("visitor"),
            for_people=request.scope.get("people_door", False),
            **context,
        )
    )
    return HTMLResponse(text, status_code=status)


def error_response(request: Request, error: BeadworthError, status: int | None = None) -> Response:
    """The refusal: JSON under /api, a fragment for htmx, else a page."""
    code = status or status_of(error)
    if wants_json(request):
        return JSONResponse(error.to_json(), status_code=code)
    template = "problems.html" if is_fragment(request) else "error.html"
    return page(request, template, {"error": error, "status": code}, code)
