"""What stands before a bench that several people use: who asks, and what their role lets them do.

Three roles. A reader looks. A measurer also enters what is measured: the short list below. An owner
does the rest, so that a new page that changes something is the owners' until it is listed here.
"""

from __future__ import annotations

import re
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from beadworth.core import BeadworthError, NotAllowedError, UnknownVisitorError
from beadworth.web.guard import SAFE_METHODS
from beadworth.web.phone_gate import cookie_of
from beadworth.web.responses import error_response, is_fragment, status_of, wants_json
from beadworth.workflow import Bench, Visitor, entries_by, visitor_of

COOKIE: Final = "beadworth_session"
SECURE_COOKIE: Final = f"__Host-{COOKIE}"
FOR_ALL: Final = frozenset(
    {("GET", "/sign-in"), ("POST", "/sign-in"), ("GET", "/look.css"), ("POST", "/sign-out")}
)
FILES: Final = "/static/"
COMPUTING: Final = frozenset(
    {
        "/trials/preview",
        "/api/plan",
        "/api/fit",
        "/api/melt/predict",
        "/vibration",
        "/api/vibration",
        "/api/cause/read",
    }
)
"""Changes nothing: for all roles."""
MEASURING: Final = re.compile(
    r"(?:/api)?/trials/[^/]+/(?:readings(?:/\d+/void)?|import)"
    r"|/trials/[^/]+/photos|/balance-checks(?:/void)?"
    r"|/journal/.+|/wear/.+|/api/(?:wear|journal)(?:/void)?|/api/photos"
    r"|/witness/\d+/(?:grade|open|journal)|/api/witness/\d+/(?:looks|open)"
    r"|/live-weighing/(?:(?:first|\d+)/end|\d+/(?:go-on|void))"
    r"|/api/trials/[^/]+/live-weighings|/api/live-weighings/\d+/void"
    r"|/cause/photo|/cause/read/[0-9a-f]+(?:/(?:photo|record))?|/cause/\d+/(?:journal|void)"
    r"|/api/cause(?:/\d+/void)?"
)
"""Enters what was measured on what there is: for measurers."""
OWNERS_PAGES: Final = re.compile(r"/trials/[^/]+/phone(?:/list)?")
"""Pages that only those may see who may use them."""


class PeopleGate:
    """The ASGI layer round the app of a bench that several people use."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self.app = app
        self.bench = bench

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass the request on as that person's or script's."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope["people_door"] = True
        method, path = scope["method"], scope["path"]
        plain = "GET" if method == "HEAD" else method
        if (plain, path) in FOR_ALL or (plain == "GET" and path.startswith(FILES)):
            await self.app(scope, receive, send)
            return
        try:
            visitor = await run_in_threadpool(self._visitor, Headers(scope=scope))
            require_role(visitor, method, path)
        except BeadworthError as error:
            await _refusal(scope, error)(scope, receive, send)
            return
        scope["visitor"] = visitor
        with entries_by(visitor.name):
            await self.app(scope, receive, send)

    def _visitor(self, headers: Headers) -> Visitor:
        kind, _, token = headers.get("authorization", "").partition(" ")
        if kind.lower() == "bearer":
            return visitor_of(self.bench, token=token.strip())
        return visitor_of(self.bench, session_of(headers))


def session_of(headers: Headers) -> str | None:
    """What a browser shows that is signed in."""
    return cookie_of(headers, SECURE_COOKIE) or cookie_of(headers, COOKIE)


def _refusal(scope: Scope, error: BeadworthError) -> Response:
    request = Request(scope)
    unknown = isinstance(error, UnknownVisitorError)
    if unknown and request.method == "GET" and not (wants_json(request) or is_fragment(request)):
        return RedirectResponse("/sign-in", 303)
    answer = error_response(request, error, status_of(error))
    if unknown:
        answer.headers["WWW-Authenticate"] = "Bearer"
    return answer


def require_role(visitor: Visitor, method: str, path: str) -> None:
    """Raise :class:`NotAllowedError` for what a role does not let its people do."""
    if visitor.role == "owner":
        return
    if method in SAFE_METHODS:
        if not OWNERS_PAGES.fullmatch(path):
            return
    elif path in COMPUTING or (visitor.role == "measurer" and MEASURING.fullmatch(path)):
        return
    lets = {"reader": "look", "measurer": "look and enter what is measured"}[visitor.role]
    raise NotAllowedError(
        f"{visitor.name} may {lets}, as {visitor.role}; this is more.",
        f"{method} {path}",
        visitor.role,
        "Ask an owner of the bench.",
    )
