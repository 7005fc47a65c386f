"""Sockets that listen: the port asked for, or the next one that is free."""

from __future__ import annotations

import errno
import socket

from beadworth.core import InputError

TRIES = 20
"""Ports that are tried, one after the other, where the one asked for is in use."""


def in_address(host: str) -> str:
    """A host as it stands in an address: IPv6 in brackets (RFC 3986)."""
    return f"[{host}]" if ":" in host else host


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
