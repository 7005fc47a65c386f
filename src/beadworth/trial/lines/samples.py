"""Sample lines, the numbers in them, and the one refusal of what cannot be learnt."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median_low
from typing import Final, NoReturn

from beadworth.core import InputError

_NUMBER: Final = re.compile(r"[+-]? *[0-9]+(?:[.,][0-9]+)?")


def refuse(what: str, remedy: str) -> NoReturn:
    """Say why lines cannot be learnt."""
    raise InputError(what, "balance lines", remedy=remedy)


@dataclass(frozen=True)
class Samples:
    """Lines in the order they came, without their ends."""

    empty: Sequence[str]
    """The pan empty and at rest."""
    moving: Sequence[str]
    """While a piece is put on; may hold lines at rest too, or none."""
    loaded: Sequence[str]
    """The piece on, at rest."""

    @property
    def all(self) -> list[str]:
        """Every line, in order."""
        return [*self.empty, *self.moving, *self.loaded]

    def where(self, keep: Sequence[bool]) -> Samples:
        """Only some of them, by a flag for each of ``all``."""
        flags = iter(keep)
        parts = (self.empty, self.moving, self.loaded)
        return Samples(*([line for line in part if next(flags)] for part in parts))


@dataclass(frozen=True)
class Token:
    """A number in a line."""

    start: int
    """Of its sign, or first digit."""
    end: int
    text: str
    """Without blanks."""

    @property
    def decimals(self) -> int:
        """Digits behind its mark."""
        return len(re.split("[.,]", self.text)[1]) if re.search("[.,]", self.text) else 0

    @property
    def count(self) -> int:
        """Its digits, signed, the mark left out."""
        return int(re.sub("[.,]", "", self.text))

    @property
    def value(self) -> float:
        """The number."""
        return float(self.text.replace(",", "."))


@dataclass(frozen=True)
class Numbered:
    """Samples whose lines all hold the same count of numbers."""

    samples: Samples
    tokens: Sequence[Sequence[Token]]
    """For each line of ``samples.all``."""

    def where(self, keep: Sequence[bool]) -> Numbered:
        """Only some lines."""
        kept = [row for row, flag in zip(self.tokens, keep, strict=True) if flag]
        return Numbered(self.samples.where(keep), kept)

    def at(self, place: int) -> list[Token]:
        """One number of every line."""
        return [row[place] for row in self.tokens]

    def at_rest(self, counts: Sequence[int]) -> tuple[Sequence[int], Sequence[int]]:
        """What stands for the empty and for the loaded lines in a list with one for each line."""
        loaded = len(self.samples.loaded)
        return counts[: len(self.samples.empty)], counts[len(counts) - loaded :]


def tokens_of(line: str) -> list[Token]:
    """The numbers in a line, a sign and blanks behind it included."""
    found = []
    for match in _NUMBER.finditer(line):
        text = match[0]
        start = match.start() + len(text) - len(text.lstrip())
        found.append(Token(start, match.end(), text.replace(" ", "")))
    return found


def numbered(samples: Samples, fewest: int) -> Numbered:
    """Lines with the commonest count of numbers.

    Raises
    ------
    InputError
        Lines that do not look alike.
    """
    tokens = [tokens_of(line) for line in samples.all]
    count, times = Counter(map(len, tokens)).most_common(1)[0]
    kept = samples.where([len(row) == count for row in tokens])
    if times < 0.8 * len(tokens) or not count or min(len(kept.empty), len(kept.loaded)) < fewest:
        refuse(
            f"the lines do not look alike: {times} of {len(tokens)} have {count} numbers in them.",
            "Set the balance to send one kind of line, without a check sum; where the letters look "
            "random, set another speed.",
        )
    return Numbered(kept, [row for row in tokens if len(row) == count])


def spread(*parts: Sequence[int]) -> int:
    """Greatest distance from the middle within a part, the farthest fifth left out."""
    far = []
    for part in parts:
        away = sorted(abs(one - median_low(part)) for one in part)
        far.append(away[max(0, math.ceil(0.8 * len(away)) - 1)])
    return max(far)


def counts_up(counts: Sequence[int]) -> bool:
    """Whether each is above the one before."""
    return all(b > a for a, b in pairwise(counts))


def in_a_date(line: str, token: Token) -> bool:
    """Whether a number is part of a clock or a date."""
    around = line[max(0, token.start - 1) : token.start] + line[token.end : token.end + 1]
    if ":" in around or "/" in around:
        return True
    dates = re.finditer(r"[0-9]{1,4}([-.])[0-9]{1,2}\1[0-9]{2,4}", line)
    return any(day.start() <= token.start and token.end <= day.end() for day in dates)
