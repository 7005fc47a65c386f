"""How a bench that several people use is served beyond this machine, and when that is refused."""

from __future__ import annotations

import ipaddress
import ssl
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from beadworth.core import InputError, Problem


@dataclass(frozen=True)
class Outside:
    """The doors of a bench for several people; :meth:`check` says what is wrong with them."""

    certificate: Path | None = None
    """PEM file, with the certificates between it and the one that browsers know."""
    key: Path | None = None
    """PEM file of its private key."""
    names: tuple[str, ...] = ()
    """Host names the bench is reached under, besides its addresses."""
    behind_proxy: bool = False
    """A proxy on this machine speaks HTTPS to the world and HTTP to us, and says who asked."""

    def check(self, host: str) -> None:
        """Raise :class:`InputError` with everything that is wrong."""
        problems = []
        if (self.certificate is None) != (self.key is None):
            what = "a certificate and its key go together, and one is missing."
            problems.append(Problem(what, "--certificate, --key", None, "Give both, or neither."))
        elif self.certificate is not None and self.key is not None:
            problems += _certificate_problem(self.certificate, self.key)
        if self.behind_proxy and not is_loopback(host):
            problems.append(
                Problem("behind a proxy the bench listens to this machine alone, or anybody could "
                        "pass for the proxy.", "--address", host, "Leave --address out.")
            )  # fmt: skip
        elif self.certificate is None and not is_loopback(host):
            problems.append(
                Problem("without a certificate secrets would cross the network in clear text.",
                        "--address", host,
                        "Give --certificate and --key, or put a proxy before it: --behind-proxy.")
            )  # fmt: skip
        if problems:
            raise InputError(problems)

    @property
    def scheme(self) -> str:
        """Of the address that is printed."""
        return "https" if self.certificate is not None else "http"

    def options(self) -> dict[str, Any]:
        """For uvicorn."""
        if self.behind_proxy:
            return {"proxy_headers": True, "forwarded_allow_ips": "127.0.0.1,::1"}
        given: dict[str, Any] = {"proxy_headers": False}
        if self.certificate is not None:
            given |= {"ssl_certfile": str(self.certificate), "ssl_keyfile": str(self.key)}
        return given


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches an address."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _certificate_problem(certificate: Path, key: Path) -> list[Problem]:
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(
            certificate, key, password=lambda: ""
        )
    except (OSError, ValueError) as error:  # ssl.SSLError is an OSError
        reason = getattr(error, "strerror", None) or getattr(error, "reason", None) or error
        return [
            Problem(f"certificate and key cannot be used: {reason}.", "--certificate, --key",
                    f"{certificate}, {key}",
                    "Give PEM files that belong together and can be read; a key without a "
                    "password.")
        ]  # fmt: skip
    return []
