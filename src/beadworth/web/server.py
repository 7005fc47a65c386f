"""Run the app with uvicorn on the loopback interface, and say where."""

from __future__ import annotations

import json
import signal
import sys
import threading
from collections.abc import Generator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from beadworth.core import ends_in_order
from beadworth.web.guard import Guard
from beadworth.web.listening import in_address, listen_near
from beadworth.web.outside import Outside, is_loopback
from beadworth.web.people_gate import PeopleGate
from beadworth.web.share import pairing_link, whom
from beadworth.web.square import square_text
from beadworth.web.watch import watched
from beadworth.workflow import Bench, PairingCode, bench_view, make_pairing_code

if TYPE_CHECKING:
    import uvicorn
    from starlette.types import ASGIApp


def serve(
    bench: Bench,
    host: str = "127.0.0.1",
    port: int = 8642,
    *,
    as_json: bool = False,
    share: bool = False,
    share_address: str | None = None,
    share_trial: str | None = None,
    people: Outside | None = None,
) -> None:
    """Run the web app until interrupted; prints its address once it listens.

    Where the port is in use it takes the next one that is free, and says so.

    Parameters
    ----------
    bench : Bench
        Stays the caller's to close.
    host : str
        The default is the loopback interface: without ``people`` nobody is asked who they are, so
        another address lets everyone on that network read and change the bench.
    port : int
        0 takes a free one.
    as_json : bool
        Print ``{"address": …}`` instead of words.
    share : bool
        Open the door for phones too (see :mod:`beadworth.web.share`), on ``share_address``, or
        the usual one of this machine; the bench itself stays on ``host``.
    share_trial : str, optional
        Print a code that pairs a phone with this trial.
    people : Outside, optional
        Whoever asks must be let in (see :mod:`beadworth.workflow.people`).

    Raises
    ------
    InputError
        An address, certificate or key that cannot be used.
    """
    import uvicorn

    from beadworth.web.app import create_app

    outside = people or Outside()
    if people is not None:
        people.check(host)
    names = (host, *outside.names)
    app = create_app(bench, names=names)
    served: ASGIApp = app if people is None else Guard(PeopleGate(app, bench), names)
    code = make_pairing_code(bench, share_trial) if share and share_trial else None
    phones = app.state.share.open(share_address) if share else None
    try:
        listener = listen_near(host, port)
        _tell(host, port, listener.getsockname()[1], people, as_json=as_json)
        if phones:
            _tell_of_phones(phones, code, as_json=as_json)
        config = uvicorn.Config(
            served, log_level="warning", timeout_graceful_shutdown=3, server_header=False,
            **outside.options(),
        )  # fmt: skip
        server = uvicorn.Server(config)
        threading.Thread(target=_read_ahead, args=(bench,), daemon=True).start()
        with ends_in_order(), watched(bench), _hang_up(server):
            server.run(sockets=[listener])
    finally:
        app.state.share.close()


def _read_ahead(bench: Bench) -> None:
    """Count a large bench once, so that the first page need not wait for it."""
    with suppress(Exception):  # what is wrong with the bench is said where somebody looks
        bench_view(bench)


def _tell(host: str, port: int, taken: int, people: Outside | None, *, as_json: bool) -> None:
    """Say where the app is open, and whether that is not where it was asked for."""
    if port not in (0, taken):
        print(f"Port {port} is in use; port {taken} is taken instead.", file=sys.stderr)
    address = f"{people.scheme if people else 'http'}://{in_address(host)}:{taken}/"
    words = f"Beadworth is open at {address}  (Ctrl+C closes it)"
    print(json.dumps({"address": address}) if as_json else words, flush=True)
    if people is None and not is_loopback(host):
        print(
            "There are no passwords: everyone who reaches this address can change the bench.",
            file=sys.stderr,
        )


def _tell_of_phones(address: str, code: PairingCode | None, *, as_json: bool) -> None:
    """Say what is open and to whom; the code, where one was asked for, as a square and in words."""
    if as_json:
        link = pairing_link(address, code) if code else None
        print(json.dumps({"phones": address, "pair": link}), flush=True)
        return
    print(whom(address), flush=True)
    if code is None:
        print("To pair a phone, open a trial here and choose 'Weigh with a phone'.", flush=True)
        return
    print(square_text(pairing_link(address, code)))
    until = code.until.astimezone().strftime("%H:%M")
    print(f"Or open {address} on the phone and type {code.code}: one phone, until {until}.")
    sys.stdout.flush()


@contextmanager
def _hang_up(server: uvicorn.Server) -> Generator[None]:
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
