"""The door for phones: a second server on one address of this machine, opened and closed by hand.

The app itself goes on listening on the loopback interface alone. What comes through this door is
another server of the same process, whose every request passes :class:`.phone_gate.PhoneGate`.
"""

from __future__ import annotations

import ipaddress
import socket
import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from beadworth.core import InputError
from beadworth.web.guard import Guard
from beadworth.web.listening import in_address, listen_near
from beadworth.web.phone_gate import PhoneGate
from beadworth.workflow import PHONE_LIFE

if TYPE_CHECKING:
    import uvicorn
    from starlette.types import ASGIApp

    from beadworth.workflow import Bench, PairingCode

PHONE_PORT = 8652
START_S = 10.0


def network_addresses() -> list[str]:
    """Addresses of this machine that others on its network reach, the usual one first.

    None that the whole internet could reach.
    """
    found = []
    # Nothing is sent: the system only says which of its addresses it would send from.
    for family, elsewhere in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((elsewhere, 9))
            found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)]
    return [one for one in dict.fromkeys(found) if _of_a_network(one)]


def _of_a_network(address: str) -> bool:
    try:
        one = ipaddress.ip_address(address)
    except ValueError:  # a link-local one with its interface
        return False
    return one.is_private and not (one.is_loopback or one.is_link_local or one.is_unspecified)


def require_address(address: str | None) -> str:
    """The address to open for phones; None takes the usual one.

    Raises
    ------
    InputError
        None there, all addresses at once, or one that the whole internet could reach.
    """
    if address is None:
        there = network_addresses()
        if not there:
            raise InputError(
                "this machine has no address on a network of its own.",
                "--share",
                remedy="Join the network the phone is on, or name an address: --share-address.",
            )
        return there[0]
    try:
        one = ipaddress.ip_address(address)
    except ValueError:
        one = None
    if one is None or one.is_unspecified or not one.is_private:
        raise InputError(
            f"{address!r} is not one address on a network of your own.",
            "--share-address",
            address,
            f"Name one of this machine's: {', '.join(network_addresses()) or 'none found'}. All "
            "at once, or one that the internet reaches, is not opened.",
        )
    return address


class Share:
    """The door: closed, or open on one address."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self._app = Guard(PhoneGate(app, bench))
        self._lock = threading.Lock()
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None
        self.address: str | None = None
        """``http://192.168.1.7:8652`` while it is open."""

    def open(self, host: str | None = None, port: int = PHONE_PORT) -> str:
        """Open it; where it is open already, it stays as it is. Gives its address.

        Raises
        ------
        InputError
            An address that is not opened (see :func:`require_address`), or is not this machine's.
        """
        import uvicorn

        with self._lock:
            if self.address is not None:
                return self.address
            host = require_address(host)
            listener = listen_near(host, port)
            config = uvicorn.Config(
                self._app, log_level="warning", lifespan="off", timeout_graceful_shutdown=3,
                server_header=False, ws="none", proxy_headers=False,
            )  # fmt: skip
            self._server = uvicorn.Server(config)
            self._thread = threading.Thread(
                target=self._server.run, kwargs={"sockets": [listener]}, name="phones", daemon=True
            )
            self._thread.start()
            deadline = time.monotonic() + START_S
            while not self._server.started and time.monotonic() < deadline:
                time.sleep(0.01)
            self.address = f"http://{in_address(host)}:{listener.getsockname()[1]}"
            return self.address

    def close(self) -> None:
        """Close it: requests under way are answered, new ones find nobody."""
        with self._lock:
            if self._server is None or self._thread is None:
                return
            self._server.should_exit = True
            self._thread.join(START_S)
            self._server = self._thread = self.address = None


def pairing_link(address: str, code: PairingCode) -> str:
    """Where a phone pairs: the code stands behind ``#``, which a browser sends to nobody."""
    return f"{address}/pair#{code.code}"


def whom(address: str) -> str:
    """Plainly, what an open door lets whom do."""
    reached = "everyone on the network of this address reaches it."
    return f"Open for phones at {address}: {reached} {phones_may()}"


def phones_may() -> str:
    """Plainly, what whoever reaches the door can do, with a code and without."""
    hours = round(PHONE_LIFE.total_seconds() / 3600)
    return (
        "Without a code they see one page that asks for it. A paired phone can weigh in and add "
        f"photos of its one trial, nothing else, for {hours} hours or until you unpair it. What it "
        "sends is not encrypted: use a network whose users you trust."
    )
