"""The browser interface: one local web app over a bench.

:func:`create_app` makes the FastAPI app, :func:`serve` runs it on the loopback
interface and prints its address. Pages are rendered here; nothing is computed
here that another package can compute.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from fastapi import FastAPI

    from beadworth.store import Bench

__all__ = ["create_app", "serve"]


def create_app(bench: Bench) -> FastAPI:
    """The web app over an open bench (see :mod:`beadworth.web.app`)."""
    from beadworth.web.app import create_app as make

    return make(bench)


def serve(
    bench: Bench,
    host: str = "127.0.0.1",
    port: int = 8642,
    *,
    as_json: bool = False,
    share: bool = False,
    share_address: str | None = None,
    share_trial: str | None = None,
    people: bool = False,
    certificate: Path | None = None,
    key: Path | None = None,
    names: tuple[str, ...] = (),
    behind_proxy: bool = False,
) -> None:
    """Run the web app until interrupted (see :mod:`beadworth.web.server`).

    With ``people`` whoever asks must be let in, and the rest says how others reach the bench (see
    :mod:`beadworth.web.outside`).
    """
    from beadworth.web.outside import Outside
    from beadworth.web.server import serve as run

    run(
        bench, host, port, as_json=as_json, share=share, share_address=share_address,
        share_trial=share_trial,
        people=Outside(certificate, key, names, behind_proxy) if people else None,
    )  # fmt: skip
