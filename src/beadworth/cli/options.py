"""Options that several nouns share, and how files and numbers behind options are read."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from beadworth.core import InputError, Problem

TrialArgument = Annotated[str, typer.Argument(help="Trial id, as `trial list` shows it.")]
RigArgument = Annotated[
    str, typer.Argument(help="Rig record (TOML), or a rig's name on the bench.")
]
LossOption = Annotated[
    float | None, typer.Option(help="Loss at which ceilings are read; left out: the trial's.")
]
DayOption = Annotated[
    str | None, typer.Option("--on", metavar="DATE", help="Day, as 2026-11-25; left out: today.")
]
LicenceOption = Annotated[
    str | None, typer.Option(metavar="SPDX", help="Licence of the data (default CC-BY-4.0).")
]
CreatorOption = Annotated[str, typer.Option(help="Whom to cite; left out: no name is given.")]
NotesOption = Annotated[bool, typer.Option(help="Show what was typed as a remark.")]
PricesOption = Annotated[bool, typer.Option(help="Show prices.")]


def read_bytes(path: Path) -> bytes:
    """A file's bytes.

    Raises
    ------
    InputError
        No such file, or not readable.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            f"cannot be read: {error.strerror or error}.",
            where=str(path),
            remedy="Check the name and the folder.",
        ) from None


def read_text(path: Path) -> str:
    """A file's text as UTF-8 (a byte-order mark is dropped).

    Raises
    ------
    InputError
        No such file, not readable, or not UTF-8.
    """
    try:
        return read_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"byte {error.start} is not UTF-8 text.",
            where=str(path),
            remedy="Save the file as UTF-8 and try again; nothing was stored.",
        ) from None


def parse_ladder(text: str, what: str) -> tuple[float, ...]:
    """Numbers from ``"210,220,230"`` or a range ``"4:20:2"``; see :mod:`beadworth.text`.

    Raises
    ------
    InputError
        Every part that is neither, or a list that can be read in more than one way.
    """
    from beadworth.text import ambiguity, parse_numbers

    if unclear := ambiguity(text):
        raise InputError(unclear[0], what, text, unclear[1])
    values = parse_numbers(text)
    problems = [
        Problem(
            _not_numbers(part),
            where=what,
            value=part,
            remedy="Write for example 210,220,230 or '4 to 20 by 2' (or 4:20:2).",
        )
        for part in values
        if isinstance(part, str)
    ]
    if problems or not values:
        raise InputError(problems or [Problem("no number is given.", what, text, "Write one.")])
    return tuple(values)


def _not_numbers(part: str) -> str:
    ends = re.fullmatch(r"(\d+(?:\.\d+)?):(\d+(?:\.\d+)?):\d+(?:\.\d+)?", part)
    if ends and float(ends[1]) > float(ends[2]):
        return f"{part!r} goes down; the lower end of a range comes first."
    return f"{part!r} is neither a number nor a range."


def parse_pairs(texts: Sequence[str], what: str) -> list[tuple[float, float]]:
    """Pairs of numbers from texts like ``30=30.1``.

    Raises
    ------
    InputError
        Every text that is no pair of numbers.
    """
    found, problems = [], []
    for text in texts:
        parts = text.split("=")
        try:
            first, second = (float(part) for part in parts)
            found.append((first, second))
        except ValueError:
            problems.append(
                Problem(f"{text!r} is no pair of numbers.", what, text, "Write it as 100=97.5.")
            )
    if problems:
        raise InputError(problems)
    return found
