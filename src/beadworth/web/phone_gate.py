"""What stands between a network and the bench: a paired phone may weigh in and add photos.

The server that phones reach passes every request through here first. What is not on the short
lists below is refused, whoever asks and whatever route it names: a new page of the app is closed
to phones until somebody writes it down here.
"""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from beadworth.core import BeadworthError, NotAllowedError, UnknownVisitorError
from beadworth.web.responses import error_response, status_of
from beadworth.workflow import Bench, Grant, entries_by, phone_of

COOKIE = "beadworth_phone"
FOR_ALL = frozenset({("GET", "/pair"), ("POST", "/pair"), ("GET", "/look.css")})
FILES = "/static/"
OF_ITS_TRIAL = frozenset(
    {("GET", "weigh"), ("GET", "live"), ("POST", "readings"), ("POST", "photos")}
)
"""What a phone may ask of ``/trials/ITS TRIAL/``."""
FOR_PHONES = frozenset({("GET", "/balances/live")})
"""What every paired phone may ask: the reading of the balance that is weighed with."""


class PhoneGate:
    """The ASGI layer round the app for whoever comes over the network."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self.app = app
        self.bench = bench

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass the request on as the phone's."""
        if scope["type"] != "http":  # the app has no web sockets, and is started elsewhere
            return
        scope["phone_door"] = True
        method = "GET" if scope["method"] == "HEAD" else scope["method"]
        path: str = scope["path"]
        if (method, path) in FOR_ALL or (method == "GET" and path.startswith(FILES)):
            await self.app(scope, receive, send)
            return
        try:
            phone = await run_in_threadpool(self._phone, scope)
            if (method, path) == ("GET", "/"):
                answer: Response = RedirectResponse(f"/trials/{phone.trial}/weigh", 303)
                await answer(scope, receive, send)
                return
            require_allowed(phone, method, path)
        except BeadworthError as error:
            answer = error_response(Request(scope), error, status_of(error))
            if (method, path) == ("GET", "/") and isinstance(error, UnknownVisitorError):
                answer = RedirectResponse("/pair", 303)
            await answer(scope, receive, send)
            return
        scope["phone"] = phone
        with entries_by(phone.name):
            await self.app(scope, receive, send)

    def _phone(self, scope: Scope) -> Grant:
        return phone_of(self.bench, cookie_of(Headers(scope=scope), COOKIE))


def cookie_of(headers: Headers, name: str) -> str | None:
    """The cookie of a name, where it is sent."""
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return None
    return found.value if found is not None else None


def require_allowed(phone: Grant, method: str, path: str) -> None:
    """Raise :class:`NotAllowedError` for what a phone may not ask."""
    mine = f"/trials/{phone.trial}/"
    if (method, path) in FOR_PHONES:
        return
    if path.startswith(mine) and (method, path[len(mine) :]) in OF_ITS_TRIAL:
        return
    if path.startswith("/trials/") and not path.startswith(mine):
        raise NotAllowedError(
            "this phone was paired for another trial.",
            f"{method} {path}",
            phone.trial,
            "Weigh in its own trial, or pair it anew at the desk.",
        )
    raise NotAllowedError(
        f"{phone.name} may weigh in and add photos of one trial, nothing else.",
        f"{method} {path}",
        phone.trial,
        "Do this at the desk.",
    )
