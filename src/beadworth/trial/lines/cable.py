"""How a balance is connected, and what is stored of it under a name of one's own."""

from __future__ import annotations

import re
from typing import Annotated, Final, Literal, get_args

from pydantic import Field, field_validator

from beadworth.core import InputError, Record
from beadworth.trial.lines.format import LineFormat

Frame = Literal["8N1", "7E1", "7O1", "8E1", "8O1", "7N2"]
FRAMES: Final[tuple[str, ...]] = get_args(Frame)
"""Data bits, parity and stop bits of a character."""
SPEEDS_BD: Final = (9600, 2400, 4800, 1200, 19200, 38400, 57600, 115200, 600)
"""Speeds that are tried, the commonest first (common practice, no source)."""
_ESCAPES: Final = {"r": "\r", "n": "\n", "t": "\t", "e": "\x1b", "\\": "\\"}


class Cable(Record):
    """The line to a balance."""

    port: Annotated[str, Field(min_length=1, max_length=200)] = Field(
        description="name of the serial port on this computer"
    )
    speed_bd: Annotated[int, Field(ge=50, le=4_000_000)] = Field(9600, description="baud")
    frame: Frame = Field("8N1", description="data bits, parity, stop bits")
    request: Annotated[str, Field(max_length=40)] = Field(
        "",
        description=r"what is sent to ask for a line, \r and \n for CR and LF; empty: it sends "
        "by itself",
    )

    by_key: bool = Field(False, description="whether it sends a line only when its key is pressed")

    @field_validator("request")
    @classmethod
    def _readable(cls, request: str) -> str:
        request_bytes(request)
        return request


class CabledBalance(Record):
    """A balance by cable, under a name of the person's own."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    cable: Cable
    lines: LineFormat


def request_bytes(text: str) -> bytes:
    r"""What a person typed as a request, ``\r``, ``\n``, ``\t``, ``\e``, ``\x05`` put in.

    Raises
    ------
    InputError
        A backslash before anything else, or a character that is not ASCII.
    """
    wrong = re.search(r"\\(?![rnte]|x[0-9A-Fa-f]{2})", text.replace("\\\\", ""))
    if wrong or not text.isascii():
        raise InputError(
            f"the request {text!r} cannot be sent.",
            "request",
            text,
            r"Use letters and digits, \r for CR, \n for LF, \x05 for the byte 5.",
        )

    def one(match: re.Match[str]) -> str:
        word = match[1]
        return chr(int(word[1:], 16)) if word.startswith("x") else _ESCAPES[word]

    return re.sub(r"\\([rnte\\]|x[0-9A-Fa-f]{2})", one, text).encode("latin-1")
