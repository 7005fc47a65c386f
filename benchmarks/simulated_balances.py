"""Balances of our own making: how each writes a line, and sessions at their pans.

The formats are invented, no maker's: what a line may hold (marks, units, signs, counts, clocks,
check sums) put together in different ways.
"""
# ruff: noqa: E501 - one line for each balance, so that what it writes can be compared

from __future__ import annotations

import string
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

Write = Callable[[int, bool, int], str]
"""A line, or several with a line end between: the mass in last digits, stable, its number."""


@dataclass(frozen=True)
class Balance:
    """One invented balance."""

    name: str
    write: Write
    decimals: int = 2
    unit_g: float = 1.0
    stated: str | None = None
    """Unit a person states, where the lines have none."""
    types_shown: bool = False
    """Whether the person has to type what the display shows."""
    refused: str = ""
    """What the refusal says, where the lines cannot be learnt; empty where they can."""
    flicker: float = 0.15
    """Chance that a line at rest is a last digit off."""
    settle: int = 3
    """Lines at rest before its mark of stability comes."""
    step: int = 1
    """Display step, in last digits."""
    marked: bool = True
    """Whether lines say that the balance is stable."""
    reads: Callable[[str], bool] = field(default=lambda line: True)
    """Whether a line holds the mass (a balance may send others between)."""

    def grams(self, count: int) -> float:
        return round(count * self.unit_g * 10.0**-self.decimals, 12)


def _plain(count: int, decimals: int, mark: str = ".") -> str:
    sign, digits = "-" if count < 0 else "", f"{abs(count):0{decimals + 1}d}"
    return f"{sign}{digits[:-decimals]}{mark}{digits[-decimals:]}" if decimals else sign + digits


def _sum(text: str) -> str:
    return f"{text}{sum(text.encode()) % 256:02X}"


def _zeros(count: int, width: int, decimals: int) -> str:
    digits = f"{abs(count):0{width - 1}d}"
    return f"{'-' if count < 0 else '+'}{digits[:-decimals]}.{digits[-decimals:]}"


LEARNT = (
    Balance("mark first, blanks, unit", lambda v, s, n: f"{'S' if s else 'U'}{_plain(v, 2):>9} g  "),
    Balance("unit only when stable", lambda v, s, n: f"{_plain(v, 3):>10}{' g' if s else '  '}", 3),
    Balance("words and commas", lambda v, s, n: f"{'ST' if s else 'MO'},NET,{_zeros(v, 8, 2)} g"),
    Balance("sign apart, comma", lambda v, s, n: f"{'-' if v < 0 else ' '}{_plain(abs(v), 2, ','):>8} g {' ' if s else '*'}"),
    Balance("mg in whole numbers", lambda v, s, n: f"{'=' if s else '~'}{v:>9d} mg", 0, 0.001),
    Balance("zeros, no unit", lambda v, s, n: f"{'+' if v >= 0 else '-'}{abs(v) // 100:05d}.{abs(v) % 100:02d}{'.' if s else '?'}", stated="g"),
    Balance("no decimal mark, display typed", lambda v, s, n: f"w{'-' if v < 0 else '0'}{abs(v):07d}{'a' if s else 'b'}", 3, stated="g", types_shown=True),
    Balance("nothing filled up", lambda v, s, n: f"{_plain(v, 2)} g", marked=False),
    Balance("nothing filled up, mark behind", lambda v, s, n: f"{_plain(v, 1)}g{' ok' if s else ' ..'}", 1),
    Balance("blanks behind the number", lambda v, s, n: f"{_plain(v, 2):<9}g {'S' if s else 'D'}"),
    Balance("start byte and status digit", lambda v, s, n: f"\x02{'0' if s else '1'}{'-' if v < 0 else ' '}{_plain(abs(v), 2):>7}"
            , stated="g"),
    Balance("with a count", lambda v, s, n: f"#{n % 10000:>4d} {_plain(v, 2):>9} g {'S' if s else ' '}"),
    Balance("with a clock", lambda v, s, n: f"{12 + n // 18000 % 12}:{n // 300 % 60:02d}:{n // 5 % 60:02d} {_plain(v, 3):>9} g {'=' if s else '<'}", 3),
    Balance("carats", lambda v, s, n: f"{'  ' if s else 'US'}{_plain(v, 3):>10} ct", 3, 0.2),
    Balance("three lines a reading", lambda v, s, n: f"NO {n % 10000:04d}\nNET {_plain(v, 2):>8} g {'S' if s else 'M'}\n--------",
            reads=lambda line: line.startswith("NET")),
    Balance("gross, tare and net, display typed", lambda v, s, n: f"G{_plain(v + 1050, 2):>8} T{_plain(1050, 2):>8} N{_plain(v, 2):>8} g{' ' if s else '?'}", types_shown=True),
    Balance("ounces", lambda v, s, n: f"{_plain(v, 4):>10} oz{' S' if s else '  '}", 4, 28.349523125),
    Balance("zero mark at zero", lambda v, s, n: f"{'Z' if s and v == 0 else 'S' if s else '_'} {_plain(v, 2):>8} g"),
    Balance("steps of 5", lambda v, s, n: f"{'S' if s else ' '}{_plain(5 * round(v / 5), 3):>9} g", 3, flicker=0.0, step=5),
    Balance("nothing but the number", lambda v, s, n: f"{_plain(v, 2):>8}", stated="g", marked=False),
)  # fmt: skip
REFUSED = (
    Balance("status digit at the number", lambda v, s, n: f"w{abs(v):07d}{'0' if s else '1'}", 3, stated="g", types_shown=True, refused="display shows"),
    Balance("check sum", lambda v, s, n: _sum(f"{'S' if s else 'U'}{_plain(v, 2):>9} g "), refused="check sum"),
    Balance("unit changes", lambda v, s, n: f"{'S' if s else ' '}{_plain(v, 2) if abs(v) >= 100 else v * 10:>9} {'g ' if abs(v) >= 100 else 'mg'}", refused="decimals"),
    Balance("pieces", lambda v, s, n: f"{'S' if s else ' '}{v // 3:>9} pcs", 0, refused="no mass"),
    Balance("gross and net alike", lambda v, s, n: f"G{_plain(v, 2):>8} N{_plain(v, 2):>8} g", refused="2 numbers"),
    Balance("wrong speed", lambda v, s, n: "".join(chr(128 + (37 * n + 11 * k + v) % 120) for k in range(9)), refused="speed"),
    Balance("nothing said of the unit", lambda v, s, n: f"{_plain(v, 2):>8}", refused="no unit"),
    Balance("resolution changes", lambda v, s, n: f"{'S' if s else ' '}{_plain(v, 3) if abs(v) < 300 else _plain(v // 10, 2):>9} g", 3, refused="decimals"),
)  # fmt: skip


@dataclass(frozen=True)
class Sent:
    """One line that a balance sent, whole."""

    text: str
    count: int
    stable: bool


def session(
    balance: Balance, rng: np.random.Generator, levels: list[int], *, lines: int = 8, start: int = 0
) -> Iterator[list[Sent]]:
    """What is sent at each level: lines on the way there, then at rest, in turns.

    Parameters
    ----------
    levels : list of int
        Masses in last digits, one after the other.
    lines : int
        At rest, at each level.
    """
    n, before = start, levels[0]
    for place, level in enumerate(levels):
        moving = []
        ways = 0 if place == 0 else int(rng.integers(5, 10))
        for step in range(ways):
            share = 1 - np.exp(-4.0 * (step + rng.uniform(0.3, 0.9)) / ways)
            value = round(before + (level - before) * float(share) + rng.normal(0, 3))
            moving.append(_sent(balance, value, False, n))
            n += 1
        if place:
            yield [one for group in moving for one in group]
        rest = []
        for k in range(lines):
            off = int(rng.choice([-1, 1])) if rng.random() < balance.flicker else 0
            stable = k >= balance.settle or place == 0
            rest.append(_sent(balance, level + (off if level else 0), stable, n))
            n += 1
        yield [one for group in rest for one in group]
        before = level


def _sent(balance: Balance, value: int, stable: bool, n: int) -> list[Sent]:
    return [Sent(text, value, stable) for text in balance.write(value, stable, n).split("\n")]


KINDS = ("dropped", "inserted", "flipped", "one bit turned", "run together")
"""Damage to a line: a character lost, one too many, another one, one bit of one, its end lost."""
_PRINTABLE = string.ascii_letters + string.digits + string.punctuation + " "


def damaged(text: str, kind: str, rng: np.random.Generator, following: str) -> str:
    """A line with one fault; ``following`` is the line it may run into."""
    at = int(rng.integers(len(text)))
    letter = _PRINTABLE[int(rng.integers(len(_PRINTABLE)))]
    if kind == "dropped":
        return text[:at] + text[at + 1 :]
    if kind == "inserted":
        return text[:at] + letter + text[at:]
    if kind == "flipped":
        return text[:at] + letter + text[at + 1 :]
    if kind == "one bit turned":
        return text[:at] + chr(ord(text[at]) ^ (1 << int(rng.integers(7)))) + text[at + 1 :]
    return text + following
