"""The serial port of a balance: named, opened, read, its speed found; each fault with its remedy.

The only module that touches a port. What comes over it is judged in :mod:`beadworth.trial`.
"""

from __future__ import annotations

import contextlib
import errno
import os
import time
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, Self

from beadworth.core import CableError
from beadworth.trial import SPEEDS_BD, Cable, request_bytes, split_lines

if TYPE_CHECKING:
    from serial import Serial

TYPING_WORKS = "Typing the mass works without a cable."
LISTEN_S: Final = 1.6
"""How long each speed is listened to: slow balances send a line a second."""
FRAMES_TRIED: Final[tuple[Literal["8N1", "7E1", "7O1"], ...]] = ("8N1", "7E1", "7O1")


@dataclass(frozen=True)
class PortName:
    """A serial port of this computer."""

    port: str
    description: str


def serial_ports() -> tuple[PortName, ...]:
    """The serial ports of this computer now, those of adapters first."""
    from serial.tools.list_ports import comports

    found = sorted(comports(), key=lambda one: (one.vid is None, one.device))
    said = {
        one.device: "" if one.description in ("n/a", None) else one.description for one in found
    }
    return tuple(PortName(device, words) for device, words in said.items())


class BalancePort:
    """An open port; a context manager.

    Raises
    ------
    CableError
        No such port, in use, not allowed, no serial port, a speed it does not have.
    """

    def __init__(self, cable: Cable) -> None:
        self.cable = cable
        self._request = request_bytes(cable.request)
        self._serial = _open(cable)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of it."""
        with contextlib.suppress(OSError, ValueError):
            self._serial.close()

    def ask(self) -> None:
        """Send the request, where there is one."""
        if self._request:
            with _gone(self.cable.port):
                self._serial.write(self._request)

    def read(self) -> bytes:
        """What came in the last tenth of a second; empty where nothing did.

        Raises
        ------
        CableError
            Unplugged.
        """
        with _gone(self.cable.port):
            first = self._serial.read(1)
            return first + self._serial.read(self._serial.in_waiting) if first else b""


def _open(cable: Cable) -> Serial:
    from serial import Serial

    port = cable.port
    try:
        return Serial(
            port,
            cable.speed_bd,
            bytesize=int(cable.frame[0]),
            parity=cable.frame[1],
            stopbits=int(cable.frame[2]),
            timeout=0.1,
            write_timeout=2.0,
            exclusive=True if os.name == "posix" else None,
        )
    except ValueError as error:
        raise CableError(
            f"{port} cannot be set to {cable.speed_bd} baud, {cable.frame}.",
            "balance cable",
            remedy=f"Choose a speed that the balance has, mostly 9600. {TYPING_WORKS}",
        ) from error
    except OSError as error:  # SerialException is one
        raise _refusal(port, error) from error


def _refusal(port: str, error: OSError) -> CableError:
    """Why a port does not open, with the remedy."""
    code = error.errno
    text = str(error).lower()
    if code in (errno.ENOENT, errno.ENODEV, errno.ENXIO) or "filenotfound" in text:
        there = [f"{one.port} ({one.description})" if one.description else one.port
                 for one in serial_ports()]  # fmt: skip
        now = f"There are now: {', '.join(there)}." if there else "This computer has none now."
        return CableError(
            f"there is no port {port}.",
            "balance cable",
            port,
            f"{now} Plug the adapter in and choose its port. {TYPING_WORKS}",
        )
    if code in (errno.EACCES, errno.EPERM) and Path(port).exists():
        return CableError(
            f"{port} may not be opened by you.",
            "balance cable",
            port,
            f"Join the group {_group(port)} and log in again, or close the program that holds it. "
            f"{TYPING_WORKS}",
        )
    if code in (errno.EAGAIN, errno.EBUSY) or "lock" in text or "access is denied" in text:
        return CableError(
            f"{port} is in use by another program.",
            "balance cable",
            port,
            "Close it there: another window of this program, a terminal, a printer's control. "
            f"{TYPING_WORKS}",
        )
    return CableError(
        f"{port} is no serial port that can be opened.",
        "balance cable",
        port,
        f"Choose another port. {TYPING_WORKS}",
    )


def _group(port: str) -> str:
    try:
        return Path(port).group()
    except (OSError, KeyError, NotImplementedError):
        return "that owns the port"


@contextlib.contextmanager
def _gone(port: str) -> Generator[None]:
    try:
        yield
    except (OSError, TypeError) as error:  # a port closed while it is read gives the second
        raise CableError(
            f"{port} is gone.",
            "balance cable",
            port,
            f"Push the plug home; it goes on by itself. {TYPING_WORKS}",
        ) from error


def find_cable(port: str, request: str = "") -> Cable:
    """The speed and frame at which a balance sends text, by listening to each in turn.

    Takes about 1.6 s for each of up to 27 settings; the commonest come first.

    Raises
    ------
    CableError
        Nothing came at all, or nothing that is text.
    """
    came = 0
    tried = [(speed, frame) for frame in FRAMES_TRIED for speed in SPEEDS_BD]
    for number, (speed, frame) in enumerate(tried):
        cable = Cable(port=port, speed_bd=speed, frame=frame, request=request)
        data = _listen(cable)
        came += len(data)
        if reads_as_text(data):
            return cable
        if number == 1 and not came:
            raise silent(port, request)
    raise CableError(
        f"{came} bytes came from {port}, and at none of {len(SPEEDS_BD)} speeds are they text.",
        "balance cable",
        port,
        f"Look the speed and parity up in the balance's manual and state them. {TYPING_WORKS}",
    )


def silent(port: str, request: str) -> CableError:
    """Nothing comes."""
    remedy = (
        "It does not answer this request: compare it with the balance's manual, letter by letter "
        r"and with its end (\r\n)."
        if request
        else "Switch the balance on, and set it to send by itself; or state the request it answers."
    )
    return CableError(
        f"nothing comes from {port}.",
        "balance cable",
        port,
        f"{remedy} A cable may be crossed, or of another port. {TYPING_WORKS}",
    )


def _listen(cable: Cable) -> bytes:
    data, until = b"", time.monotonic() + LISTEN_S
    with BalancePort(cable) as open_port:
        while time.monotonic() < until:
            open_port.ask()
            data += open_port.read()
            if cable.request:
                time.sleep(0.1)
            if data.count(b"\n") + data.count(b"\r") > 5 and reads_as_text(data):
                break
    return data


def reads_as_text(data: bytes) -> bool:
    """Whether bytes are lines of letters and digits."""
    lines, _ = split_lines(data)
    whole = lines[1:] if len(lines) > 1 else lines  # the first may have begun before
    text = "".join(whole)
    good = sum(" " <= one <= "~" or one in "\t\x02" for one in text)
    return any(one.isdigit() for one in text) and good >= 0.97 * len(text)
