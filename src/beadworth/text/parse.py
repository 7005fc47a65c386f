"""A number, and a list or a range of numbers, as a person types them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from itertools import pairwise, product
from typing import Any

MOST_RUNGS = 500
"""Steps of one range; more is a slip of the keys."""
_MOST_COMMAS = 8
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,4})?")
_PLAIN = r"([0-9]+(?:[.,][0-9]+)?)"
_RANGE = re.compile(rf"{_PLAIN}\s*(?:\.\.|[-\u2013]|to)\s*{_PLAIN}(?:\s*by\s*{_PLAIN})?")
# What may stand around a decimal comma where commas could part values as well: nobody types
# 210.220 °C, so three digits behind one are a value of their own unless a 0 stands before it.
_DECIMAL_COMMA = re.compile(r"[+-]?(0?,[0-9]+|[0-9]+,[0-9]{1,2})")


def parse_number(text: str) -> float | None:
    """A number with a decimal point or a decimal comma; None where it is neither, or too large."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if not _NUMBER.fullmatch(plain):
        return None
    value = float(plain.replace(",", "."))
    return value if math.isfinite(value) else None


def whole_number(text: str, digits: int = 9) -> int | None:
    """A whole number from 0 of so many digits at most; None for anything else."""
    return int(text) if text.isdecimal() and len(text) <= digits else None


def parse_numbers(text: str) -> list[Any]:
    """Numbers from ``210 220 230``, ``210,220,230``, ``9,5; 11; 12,5``, ``4:20:2`` or ``6..22``.

    ``first:last:step`` is the subscript triplet of ISO/IEC 1539-1 (Fortran): it includes the last;
    so does ``8 to 22 by 2``. Without a step, ``6..22``,
    ``6-22`` and ``6 to 22`` are the two ends. Between numbers parted by spaces or semicolons a
    comma inside one is a decimal comma. In one unbroken run commas part the numbers, unless
    only with a decimal comma it is a range, or a ladder that climbs (``5:25:2,5``). What is no
    number, or can be read in more than one way (:func:`ambiguity`), stays text.
    """
    ends = _RANGE.fullmatch(text.strip())
    if ends:
        step = f":{ends[3]}" if ends[3] else ""
        return _values([f"{ends[1]}:{ends[2]}{step}"] if step else [ends[1], ends[2]])
    ways = list(_ways(text).values())
    return ways[0] if len(ways) == 1 else [text.strip()]


def ambiguity(text: str) -> tuple[str, str] | None:
    """What to say, and the remedy, of a list that can be read in two ways; None of any other.

    ``2,5`` may be 2.5, or 2 and 5; ``9,5,11`` may be 9.5 and 11 with a decimal comma.
    """
    if _RANGE.fullmatch(text.strip()):
        return None
    ways = [f'"{way}"' for way in _ways(text)]
    if len(ways) == 1:
        return None
    return (
        f"{text.strip()!r} can be read in more than one way.",
        f"Write {', '.join(ways[1:3])} or {ways[0]}, whichever you mean: a point for decimals, a "
        "space between values, in a terminal with quotes around them.",
    )


def _ways(text: str) -> dict[str, list[Any]]:
    """Every sensible reading of a list, by how to write it so that it is the only one."""
    parts = [part for part in re.split(r"[;\s]+|,(?=\s)", text.strip()) if part]
    if len(parts) != 1:
        return {text: _values(parts)}
    pieces = parts[0].split(",")
    listed = _values(pieces)
    others = _with_decimal_commas(pieces)
    ranged = ":" in text
    if not others or (_in_order(listed) and (len(pieces) > 2 or ranged)):
        return {text: listed}
    if len(others) == 1 and (ranged or pieces[0] in ("", "0")):
        return others
    as_list = {} if any(isinstance(value, str) for value in listed) else {" ".join(pieces): listed}
    return as_list | others


def _with_decimal_commas(pieces: list[str]) -> dict[str, list[Any]]:
    """The readings of a run in which at least one comma is a decimal comma, and which climb."""
    found: dict[str, list[Any]] = {}
    if not 1 < len(pieces) <= _MOST_COMMAS + 1:
        return found
    for signs in product(",;", repeat=len(pieces) - 1):
        run = pieces[0] + "".join(map("".join, zip(signs, pieces[1:], strict=True)))
        typed = [number for number in re.split("[;:]", run) if "," in number]
        if not typed or not all(map(_DECIMAL_COMMA.fullmatch, typed)):
            continue
        values = _values(run.split(";"))
        if _in_order(values) and values[0] <= values[-1]:
            found[run.replace(",", ".").replace(";", " ")] = values
    return found


def _in_order(values: list[Any]) -> bool:
    """Numbers alone, each above the one before, or each below it."""
    if not values or any(isinstance(value, str) for value in values):
        return False
    steps = [after - before for before, after in pairwise(values)]
    return all(step > 0 for step in steps) or all(step < 0 for step in steps)


def _values(parts: Iterable[str]) -> list[Any]:
    """Numbers and ranges, each part for itself; what is neither stays text."""
    values: list[Any] = []
    for part in filter(None, parts):
        pieces = [parse_number(piece) for piece in part.split(":")]
        if len(pieces) == 3 and None not in pieces:
            first, last, step = (float(piece or 0) for piece in pieces)
            count = (last - first) / step if step else -1
            if 0 <= count <= MOST_RUNGS:
                values += [round(first + i * step, 9) for i in range(int(count + 1e-9) + 1)]
                continue
        values.append(part if len(pieces) != 1 or pieces[0] is None else pieces[0])
    return values
