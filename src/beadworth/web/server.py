"""Run the app with uvicorn on the loopback interface, and say where."""

from __future__ import annotations

import errno
import json
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from beadworth.core import InputError, ends_in_order
from beadworth.web.watch import watched
from beadworth.workflow import Bench

if TYPE_CHECKING:
    import uvicorn

TRIES = 20
"""Ports that are tried, one after the other, where the one asked for is in use."""


def listen_near(host: str, port: int) -> socket.socket:
    """A listening socket on a port, or on the next one that is free.

    Raises
    ------
    InputError
        All of :data:`TRIES` ports are in use, or the address is not this machine's.
    """
    last = min(port + TRIES, 2**16) - 1
    for near in range(port, last):
        try:
            return listen(host, near)
        except InputError as error:
            if not _in_use(error):
                raise
    return listen(host, max(port, last))


def _in_use(error: InputError) -> bool:
    cause = error.__cause__
    return isinstance(cause, OSError) and cause.errno == errno.EADDRINUSE


def listen(host: str, port: int) -> socket.socket:
    """A listening socket.

    Raises
    ------
    InputError
        The port is in use, or the address is not this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # The protocol is named: only then does asyncio send small pieces at once. Without it the body
    # of every answer waits 40 ms behind its head for the other side's acknowledgement.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(64)
    except (OSError, OverflowError) as error:
        listener.close()
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(
            f"cannot listen on {host} port {port}: {reason}.",
            where="--port",
            value=port,
            remedy="Close what uses it, or name another port (0 takes a free one).",
        ) from error
    return listener


def serve(
    bench: Bench, host: str = "127.0.0.1", port: int = 8642, *, as_json: bool = False
) -> None:
    """Run the web app until interrupted; prints its address once it listens.

    Where the port is in use it takes the next one that is free, and says so.

    Parameters
    ----------
    bench : Bench
        Stays the caller's to close.
    host : str
        The default is the loopback interface: there are no passwords, so another
        address lets everyone on that network read and change the bench.
    port : int
        0 takes a free one.
    as_json : bool
        Print ``{"address": …}`` instead of words.
    """
    import uvicorn

    from beadworth.web.app import create_app

    listener = listen_near(host, port)
    shown = f"[{host}]" if ":" in host else host
    taken = listener.getsockname()[1]
    if port not in (0, taken):
        print(f"Port {port} is in use; port {taken} is taken instead.", file=sys.stderr)
    address = f"http://{shown}:{taken}/"
    words = f"Beadworth is open at {address}  (Ctrl+C closes it)"
    print(json.dumps({"address": address}) if as_json else words, flush=True)
    if host not in ("127.0.0.1", "::1", "localhost"):
        print(
            "There are no passwords: everyone who reaches this address can change the bench.",
            file=sys.stderr,
        )
    config = uvicorn.Config(
        create_app(bench, names=(host,)),
        log_level="warning",
        timeout_graceful_shutdown=3,
        server_header=False,
    )
    server = uvicorn.Server(config)
    with ends_in_order(), watched(bench), _hang_up(server):
        server.run(sockets=[listener])


@contextmanager
def _hang_up(server: uvicorn.Server) -> Iterator[None]:
    """A terminal that is closed ends the server as Ctrl+C does: requests first, then the bench."""
    number = getattr(signal, "SIGHUP", None)
    ours = number is not None and threading.current_thread() is threading.main_thread()
    if number is None or not ours or signal.getsignal(number) is signal.SIG_IGN:
        yield
        return
    before = signal.signal(number, server.handle_exit)
    try:
        yield
    finally:
        signal.signal(number, before)
