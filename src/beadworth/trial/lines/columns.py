"""Which number of sample lines is the mass, and the columns it has."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median_low
from typing import Literal

from beadworth.text import parse_number
from beadworth.trial.lines.samples import (
    Numbered,
    Token,
    counts_up,
    in_a_date,
    refuse,
    spread,
)


@dataclass(frozen=True)
class Region:
    """The columns of the number with what fills it up."""

    start: int
    """Characters before it."""
    behind: int
    """Characters behind it."""
    filled: Literal["blanks left", "blanks right", "zeros", "no"]


def mass_place(group: Numbered, shown: str) -> int:
    """Which number of a line is the mass: at rest twice, and another one when loaded.

    Parameters
    ----------
    group : Numbered
    shown : str
        What the display shows of the loaded pan; empty where it was not typed.

    Raises
    ------
    InputError
        None moved, or several did and ``shown`` does not tell them apart.
    """
    lines = group.samples.all
    moved = []
    for at in range(len(group.tokens[0])):
        tokens = group.at(at)
        first, last = group.at_rest([token.count for token in tokens])
        if counts_up(first) and counts_up(last):
            continue
        if any(in_a_date(line, token) for line, token in zip(lines, tokens, strict=True)):
            continue
        if abs(median_low(last) - median_low(first)) > max(9, 5 * spread(first, last)):
            moved.append(at)
    if not moved:
        refuse(
            "no number of the lines stood still, changed, and stood still again.",
            "Put a piece of some grams on between the two, and wait until the display is at rest.",
        )
    if shown.strip():
        moved = _as_shown(group, moved, shown)
    if len(moved) > 1:
        refuse(
            f"{len(moved)} numbers of a line change with the load.",
            "Tare the balance with a cup on it, learn again, and type what the display shows; or "
            "set the balance to send the net mass alone, without a check sum.",
        )
    return moved[0]


def _as_shown(group: Numbered, moved: Sequence[int], shown: str) -> list[int]:
    typed = re.sub(r"\s*[A-Za-z]+\s*$", "", shown.strip()).replace(" ", "")
    value = parse_number(typed)
    if value is None:
        refuse(f"{shown.strip()!r} is no number.", "Type the digits that the display shows.")
    there = {}
    for at in moved:
        tokens = sorted(group.at(at)[-len(group.samples.loaded) :], key=lambda one: one.count)
        there[at] = tokens[(len(tokens) - 1) // 2]
    digits = Token(0, 0, typed).count
    near = [
        at
        for at, token in there.items()
        if token.value == value or (not token.decimals and token.count == digits)
    ]
    if not near:
        seen = " and ".join(dict.fromkeys(token.text for token in there.values()))
        refuse(
            f"the display shows {shown.strip()}, but the lines say {seen}.",
            "Wait until the display is at rest, and type what it shows, with all its digits.",
        )
    return near


def decimals_of(tokens: Sequence[Token], shown: str) -> tuple[int, Literal[".", ",", ""]]:
    """How many decimals the mass has, and their mark; empty where the digits stand without one.

    Raises
    ------
    InputError
        Decimals that change.
    """
    counted = Counter(token.decimals for token in tokens)
    decimals, times = counted.most_common(1)[0]
    if len(tokens) - times > max(1, 0.1 * len(tokens)):
        several = " and ".join(str(one) for one in sorted(counted))
        refuse(
            f"the number has {several} decimals by turns.",
            "Set the balance to one range, one resolution and one unit.",
        )
    text = next(token.text for token in tokens if token.decimals == decimals)
    if "," in text:
        return decimals, ","
    if "." in text:
        return decimals, "."
    typed = re.split("[.,]", re.sub("[^0-9.,]", "", shown))
    return len(typed[1]) if len(typed) == 2 else 0, ""


def region_of(lines: Sequence[str], tokens: Sequence[Token]) -> Region:
    """The columns of the mass.

    Raises
    ------
    InputError
        A number that neither begins nor ends at one place.
    """
    pairs = list(zip(lines, tokens, strict=True))
    behinds = [len(line) - token.end for line, token in pairs]
    fixed = _share([len(line) for line in lines]) == 1
    lefts = [_left(line, token) for line, token in pairs]
    if fixed and _share(behinds) < 0.9:  # blanks fill it up on the right
        tails = [len(line[token.end :].lstrip(" ")) for line, token in pairs]
        return Region(_commonest(lefts), _often(tails), "blanks right")
    if _share(behinds) < 0.8:
        refuse(
            "the number ends at another place in every line.",
            "Set the balance to one format.",
        )
    behind, start = _commonest(behinds), _often(lefts)
    widths = [len(re.sub("[^0-9]", "", token.text)) for token in tokens]
    if _share(widths) >= 0.9 and any(re.match("[+-]?0[0-9]", token.text) for token in tokens):
        return Region(start, behind, "zeros")
    room = [len(line) - behind - start - len(token.text) for line, token in pairs]
    return Region(start, behind, "blanks left" if fixed and max(room) > 0 else "no")


def _left(line: str, token: Token) -> int:
    left = token.start
    while left and line[left - 1] in " +":
        left -= 1
    return left


def _share(values: Sequence[int]) -> float:
    return Counter(values).most_common(1)[0][1] / len(values)


def _commonest(values: Sequence[int]) -> int:
    return Counter(values).most_common(1)[0][0]


def _often(values: Sequence[int]) -> int:
    """The greatest that is no odd one out: a mark is blank at times, a line damaged."""
    enough = max(1, min(2, len(values) // 8))
    return max(value for value, times in Counter(values).items() if times >= enough)
