"""What every request passes first: host, origin, size; and what every answer carries.

The app has no passwords: it listens on the loopback interface and trusts the
person at this machine; phones come through another server (:mod:`.phone_gate`).
What it must not trust is another web page open in the same browser. Such a page can
send requests here, and by pointing its own name at 127.0.0.1 (DNS rebinding) it can
even read answers. Hence:

- the Host must be an IP literal, ``localhost``, or the name the server was told to
  listen on: a rebound name is a name, never a literal;
- a request that changes something must come from our own pages (Origin, or
  Sec-Fetch-Site, which browsers set and pages cannot);
- a body is bounded, and read whole before any route sees it; print files, which are large,
  are bounded too and handed on as they come.
"""

from __future__ import annotations

import asyncio
import ipaddress
import time
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from beadworth.core import BeadworthError, Problem
from beadworth.web.responses import error_response
from beadworth.workflow import PHOTO_LIMIT_BYTES, PRINT_LIMIT_BYTES

BODY_LIMIT_BYTES = 4_000_000
"""About fifty thousand readings: more than any bench sees in one file."""
STREAMED = frozenset({"/prints", "/api/prints"})
"""Addresses that take a print file."""
PRINT_BODY_BYTES = PRINT_LIMIT_BYTES + 1_000_000
"""A print, and the form around it."""
PHOTOS = ("/journal/", "/api/photos", "/cause/", "/api/cause", "/vibration", "/api/vibration")
"""Beginnings of addresses that take photos, up to four at once, or records as large."""
PHOTOS_OF_A_TRIAL = "/photos"
PATIENCE_S = 20.0
"""How long a body may say nothing before its connection is let go."""
SLOWEST_BYTES_S = 20_000.0
"""A body that comes slower than this, on the whole, holds a place for nothing."""
PHOTO_BODY_BYTES = 4 * PHOTO_LIMIT_BYTES + 1_000_000
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
OPENER = "Cross-Origin-Opener-Policy"
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    OPENER: "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class ForeignHostError(BeadworthError):
    """A request under a name that is not ours."""

    kind = "foreign-host"


class ForeignOriginError(BeadworthError):
    """A change asked for by a page that is not ours."""

    kind = "foreign-origin"


class TooSlowError(BeadworthError):
    """A body that does not come."""

    kind = "too-slow"


class TooLargeError(BeadworthError):
    """A body larger than any this app has a use for."""

    kind = "too-large"


def host_is_ours(host: str, names: Iterable[str]) -> bool:
    """Whether a Host header is an IP literal or one of ``names`` (port left aside)."""
    try:
        name = urlsplit(f"//{host}").hostname
    except ValueError:
        return False
    if not name:
        return False
    if name.lower() in names:
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def origin_is_ours(headers: Headers, scheme: str) -> bool:
    """Whether a change comes from our own pages, or from something that is no browser."""
    origin = headers.get("origin")
    if origin is not None:
        return origin.lower() == f"{scheme}://{headers.get('host', '')}".lower()
    site = headers.get("sec-fetch-site")
    return site in (None, "same-origin", "none")


class Guard:
    """The ASGI layer round the app (see the module's text)."""

    def __init__(self, app: ASGIApp, names: Iterable[str] = ()) -> None:
        self.app = app
        self.names = frozenset({"localhost", *(name.lower() for name in names)})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass the request on with its body read and its answer's headers set."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    # Without encryption a browser ignores this one on a network, and complains.
                    if name != OPENER or not _plain_network(scope):
                        out.setdefault(name, value)
                out.setdefault("Cache-Control", "no-store")
                if scope["scheme"] == "https":
                    out.setdefault("Strict-Transport-Security", "max-age=31536000")
            await send(message)

        refusal = self._refusal(scope, headers)
        streamed = scope["method"] == "POST" and scope["path"] in STREAMED
        if refusal is None and streamed:
            await self.app(scope, _bounded(_prompt(receive)), send_with_headers)
            return
        body = b""
        if refusal is None:
            path: str = scope["path"]
            photos = path.startswith(PHOTOS) or path.endswith(PHOTOS_OF_A_TRIAL)
            limit = PHOTO_BODY_BYTES if photos else BODY_LIMIT_BYTES
            try:
                body, refusal = await _whole_body(_prompt(receive), headers, limit)
            except TooSlowError as slow:
                refusal = 408, slow
        if refusal is not None:
            status, error = refusal
            response = error_response(Request(scope), error, status)
            await response(scope, receive, send_with_headers)
            return
        await self.app(scope, _replay(body, receive), send_with_headers)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, BeadworthError] | None:
        host = headers.get("host", "")
        if not host_is_ours(host, self.names):
            return 421, ForeignHostError(
                f"this request came under the name {host!r}, which is not this server's.",
                where="header Host",
                value=host,
                remedy="Open the address that was printed when Beadworth started.",
            )
        if scope["method"] not in SAFE_METHODS and not origin_is_ours(headers, scope["scheme"]):
            return 403, ForeignOriginError(
                "this change was asked for by a page that is not Beadworth's own.",
                where="header Origin",
                value=headers.get("origin"),
                remedy="Make the change on Beadworth's own page; nothing was changed.",
            )
        return None


def _plain_network(scope: Scope) -> bool:
    return scope["scheme"] == "http" and bool(scope.get("phone_door"))


async def _whole_body(
    receive: Receive, headers: Headers, limit: int
) -> tuple[bytes, tuple[int, BeadworthError] | None]:
    """The body, or the refusal of one that is too large."""
    length = headers.get("content-length", "0")
    parts: list[bytes] = []
    size = int(length) if length.isdecimal() else 0
    if size <= limit:
        size, more = 0, True
        while more and size <= limit:
            message = await receive()
            if message["type"] != "http.request":
                break
            part = message.get("body", b"")
            parts.append(part)
            size += len(part)
            more = message.get("more_body", False)
    if size <= limit:
        return b"".join(parts), None
    problem = Problem(
        f"this is more than the {limit / 1e6:g} MB taken at once.",
        where="request body",
        value=size,
        remedy="Send a smaller file, or what it holds in parts; nothing was taken.",
    )
    return b"", (413, TooLargeError(problem))


def _prompt(receive: Receive) -> Receive:
    """A ``receive`` that gives up on a body that stops, or comes in drops."""
    began = time.monotonic()
    size = 0
    more = True

    async def timed() -> Message:
        nonlocal size, more
        if not more:  # what comes now is that the browser has gone
            return await receive()
        due = began + PATIENCE_S + size / SLOWEST_BYTES_S
        try:
            message = await asyncio.wait_for(receive(), max(0.0, due - time.monotonic()))
        except TimeoutError:
            raise TooSlowError(
                f"only {size} bytes came in {time.monotonic() - began:.0f} s.",
                where="request body",
                value=size,
                remedy="Send it again; nothing was taken.",
            ) from None
        size += len(message.get("body", b""))
        more = message.get("more_body", False)
        return message

    return timed


def _bounded(receive: Receive) -> Receive:
    """A ``receive`` that gives up on a body larger than any print."""
    size = 0

    async def counted() -> Message:
        nonlocal size
        message = await receive()
        size += len(message.get("body", b""))
        if size > PRINT_BODY_BYTES:
            raise TooLargeError(
                f"this is more than the {PRINT_LIMIT_BYTES / 1e9:g} GB taken of one print.",
                where="request body",
                value=size,
                remedy="Replay it from the command line, which takes any size; nothing was taken.",
            )
        return message

    return counted


def _replay(body: bytes, receive: Receive) -> Receive:
    """A ``receive`` that gives the body once, then what the server has to say."""
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again
