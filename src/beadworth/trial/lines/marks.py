"""What stands around the mass in sample lines: which marks mean stable, and the unit."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from beadworth.trial.lines.columns import Region
from beadworth.trial.lines.format import UNIT_G, WILD, LineMark
from beadworth.trial.lines.samples import Numbered, counts_up, in_a_date, refuse

MOST_MARKS = 12
MOST_CODES = 4
"""Numbers a status may have; one with more is a value of its own."""
AT_REST = 3
"""Last digits that neighbours may lie apart and yet be at rest."""
_WORD: Final = re.compile(r"[A-Za-z]+|%")
_NO_MASS: Final = ("pcs", "pc", "%")


@dataclass
class _Seen:
    """How often a mark came: in all, in lines at rest, and while the value changed."""

    lines: int = 0
    empty: int = 0
    loaded: int = 0
    changing: int = 0


def marks_of(group: Numbered, place: int, region: Region, flicker: int) -> tuple[LineMark, ...]:
    """The marks around the mass, each with what it says.

    A mark means stable where the value never changes under it and it stands in most lines at rest,
    empty and loaded; the others of the same lines then mean that it is not.

    Raises
    ------
    InputError
        Marks that are another in every line.
    """
    lines = group.samples.all
    texts = _texts(group, place, region)
    once = [text for text, times in Counter(texts).items() if times == 1]
    many = len(once) > max(2, 0.2 * len(lines)) or len(set(texts) - set(once)) > MOST_MARKS
    if many or _counts_in_letters(texts):
        refuse(
            f"characters {_changing(texts)} are others in every line, and no count.",
            "Switch check sum, clock and count off on the balance, and learn again.",
        )
    counts = [token.count for token in group.at(place)]
    changing = _changes(counts, flicker)
    empty, loaded = len(group.samples.empty), len(group.samples.loaded)
    seen: dict[tuple[str, str], _Seen] = {}
    for n, text in enumerate(texts):
        if text in once and len(lines) >= 10:
            continue  # may be damaged
        one = seen.setdefault(text, _Seen())
        one.lines += 1
        one.empty += n < empty
        one.loaded += n >= len(lines) - loaded
        one.changing += changing[n]
    stable = {
        text
        for text, one in seen.items()
        if one.empty + one.loaded >= 2 and one.changing <= 0.05 * one.lines
    }
    said = (
        sum(one.changing for text, one in seen.items() if text not in stable) >= 2
        and sum(seen[text].empty for text in stable) >= 0.6 * empty
        and sum(seen[text].loaded for text in stable) >= 0.6 * loaded
    )
    return tuple(
        LineMark(before=text[0], after=text[1], stable=text in stable if said else None)
        for text in seen
    )


def _changes(counts: Sequence[int], flicker: int) -> list[bool]:
    """Whether each differs from the one before and from the one after."""
    apart = [abs(b - a) > max(flicker, AT_REST) for a, b in pairwise(counts)]
    return [a and b for a, b in zip([False, *apart], [*apart, False], strict=True)]


def _texts(group: Numbered, place: int, region: Region) -> list[tuple[str, str]]:
    """Before and after of each line, with what counts or is a clock made wild."""
    lines = group.samples.all
    wild = [at for at in range(len(group.tokens[0])) if at != place and _is_wild(group, at)]
    texts = []
    for line, tokens in zip(lines, group.tokens, strict=True):
        letters = list(line)
        for at in wild:
            token = tokens[at]
            start = token.start
            while start > 0 and letters[start - 1] == " " and at != place + 1:
                start -= 1  # a count grows into the blanks before it
            for column in range(start, token.end):
                if letters[column] in " 0123456789":
                    letters[column] = WILD
        made = "".join(letters)
        texts.append((made[: region.start], made[len(made) - region.behind :]))
    return texts


def _is_wild(group: Numbered, at: int) -> bool:
    tokens = group.at(at)
    counts = [token.count for token in tokens]
    first, last = group.at_rest(counts)
    if (counts_up(first) and counts_up(last)) or max(len(set(first)), len(set(last))) > 2:
        return True
    if len(set(counts)) > MOST_CODES:
        return True
    return any(in_a_date(line, t) for line, t in zip(group.samples.all, tokens, strict=True))


def _counts_in_letters(texts: Sequence[tuple[str, str]]) -> bool:
    """Whether a place of a count holds letters in other lines: digits of base 16, a check sum."""
    return any(
        WILD in column and any(one.isalpha() for one in column if one != WILD)
        for side in (0, 1)
        for column in zip(*(text[side] for text in texts), strict=False)
    )


def _changing(texts: Sequence[tuple[str, str]]) -> str:
    """The characters of the marks that change, counted from 1 before and from the end after."""
    before = [n + 1 for n, one in enumerate(zip(*(t[0] for t in texts), strict=False))
              if len(set(one)) > 2]  # fmt: skip
    after = [n + 1 for n, one in enumerate(zip(*(t[1][::-1] for t in texts), strict=False))
             if len(set(one)) > 2]  # fmt: skip
    words = [f"{', '.join(map(str, before))}"] if before else []
    if after:
        words.append(f"{', '.join(map(str, sorted(after, reverse=True)))} from the end")
    return " and ".join(words) or "around the number"


def unit_of(marks: Sequence[LineMark], stated: str | None) -> tuple[str, bool]:
    """The unit of the mass, and whether the lines say it.

    Raises
    ------
    InputError
        None, two, one that is no mass, or another than was stated.
    """
    behind = {word for mark in marks for word in _WORD.findall(mark.after)}
    before = {word for mark in marks for word in _WORD.findall(mark.before)}
    other = sorted(word for word in behind if word.lower() in _NO_MASS)
    if other:
        refuse(f"the unit of the lines is {other[0]}, no mass.", "Set the balance to grams.")
    found = sorted({word.lower() for word in behind if word.lower() in UNIT_G})
    found = found or sorted(word for word in before if word in UNIT_G)
    if len(found) > 1:
        refuse(f"the lines have two units, {' and '.join(found)}.", "Set the balance to one unit.")
    if stated is not None and stated not in UNIT_G:
        refuse(f"{stated!r} is no unit of mass known here.", f"Give one of {', '.join(UNIT_G)}.")
    if not found and stated is None:
        refuse("the lines have no unit.", "State the unit that the display shows.")
    if found and stated not in (None, found[0]):
        refuse(f"the lines are in {found[0]}, you stated {stated}.", "Leave the unit out.")
    return (found[0], True) if found else (str(stated), False)
