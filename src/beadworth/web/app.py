"""The app factory: routes by noun, one shape of error, the guard round everything."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from beadworth import __version__
from beadworth.core import BeadworthError, InputError, NotFoundError, Place, Problem
from beadworth.web.balance_desk import BalanceDesk
from beadworth.web.guard import Guard
from beadworth.web.guesses import Guesses
from beadworth.web.responses import STATIC, InternalError, MalformedError, error_response
from beadworth.web.share import Share
from beadworth.workflow import Bench

_log = logging.getLogger(__name__)


class _Static(StaticFiles):
    """Static files; their addresses change with their content, so a browser may keep them."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return response


def create_app(bench: Bench, names: Iterable[str] = ()) -> FastAPI:
    """The web app over an open bench.

    Parameters
    ----------
    bench : Bench
        Stays the caller's to close.
    names : iterable of str
        Host names the app answers to besides ``localhost`` and IP literals.
    """
    from beadworth.web.routes import routers

    app = FastAPI(
        title="Beadworth",
        version=__version__,
        description="The bench as JSON: the same data as every command's --json.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        # A page of the app must not be reachable under two addresses.
        redirect_slashes=False,
    )
    app.state.bench = bench
    app.state.share = Share(app, bench)
    app.state.guesses = Guesses()
    app.state.balances = BalanceDesk()
    for router in routers():
        # The routes themselves: an app that includes a router makes all of it anew for itself.
        app.router.routes.extend(router.routes)
    app.mount("/static", _Static(directory=STATIC), name="static")
    app.add_middleware(Guard, names=tuple(names))
    app.add_exception_handler(BeadworthError, _ours)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _fault)
    app.openapi = lambda: _description(app)  # pyrefly: ignore[method-assign]
    return app


def _description(app: FastAPI) -> dict[str, Any]:
    from beadworth.web.openapi import description

    return description(app)


def _ours(request: Request, error: Exception) -> Response:
    assert isinstance(error, BeadworthError)
    return error_response(request, error)


def _invalid(request: Request, error: Exception) -> Response:
    """A parameter of an address or a header that is not what the route takes."""
    assert isinstance(error, RequestValidationError)
    problems = [
        Problem(
            f"{item['msg']} (seen: {item.get('input')!r}).",
            where=" ".join(str(part) for part in item["loc"]),
            path=Place(str(item["loc"][0]), field=tuple(item["loc"][1:])),
            value=item.get("input"),
            remedy="Correct this value.",
        )
        for item in error.errors()
    ]
    return error_response(request, InputError(problems))


def _http(request: Request, error: Exception) -> Response:
    """What the router itself refuses."""
    assert isinstance(error, HTTPException)
    where = f"{request.method} {request.url.path}"
    if error.status_code == HTTPStatus.NOT_FOUND:
        problem = Problem("there is nothing at this address.", where, remedy="Start at /.")
        ours: BeadworthError = NotFoundError(problem)
    else:
        phrase = HTTPStatus(error.status_code).phrase.lower()
        ours = MalformedError(f"{phrase}: {error.detail}.", where)
    response = error_response(request, ours, error.status_code)
    for name, value in (error.headers or {}).items():
        response.headers[name] = value
    return response


def _fault(request: Request, error: Exception) -> Response:
    _log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    problem = Problem(
        "Beadworth failed while answering; nothing was saved.",
        where=f"{request.method} {request.url.path}",
        remedy="The terminal it runs in shows the fault. It is safe to go back and try again.",
    )
    return error_response(request, InternalError(problem), 500)
