"""Line formats of invented balances learnt or refused, and how damaged lines are taken.

Run: python benchmarks/balance_lines.py [--pieces 400]

Each balance is learnt from lines with the pan empty, those while a piece is put on, and eight at
rest. Then pieces are weighed while about every seventh line is damaged: a character lost, inserted,
replaced, one bit of one turned, or the end of the line lost. 'Wrong alone' are damaged lines that
have the learnt shape and another value than was sent; 'wrong used' those that are used all the
same, because a line before or after says so too, or used as stable where the balance did not say
so; 'wrong readings' those that are not what was on the pan, within the last digit by which the
invented balances move at rest.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from machine import machine
from simulated_balances import KINDS, LEARNT, REFUSED, Balance, Sent, damaged, session

from beadworth.core import InputError
from beadworth.trial import (
    LineFollower,
    LineFormat,
    ReadLine,
    Samples,
    learn_format,
    read_line,
)

SHARE = 0.15
"""Of the lines that are damaged."""
LINE_S = 0.3
"""From one line to the next."""
COUPON = {0: 1784, 1: 18, 2: 178, 3: 1784, 4: 1784}
"""A coupon in last digits, by decimals (0: mg)."""


def samples_of(balance: Balance, seed: int) -> tuple[Samples, str]:
    """An empty pan, a piece put on, the piece at rest; and what the display shows then."""
    rng = np.random.default_rng(seed)
    level = COUPON[balance.decimals] * int(rng.integers(6, 14))
    empty, moving, loaded = session(balance, rng, [0, level], lines=12)
    moving, loaded = moving + loaded[:4], loaded[4:]
    digits = f"{level:0{balance.decimals + 1}d}"
    shown = f"{digits[: len(digits) - balance.decimals]}.{digits[-balance.decimals :]}"
    return Samples(*([one.text for one in part] for part in (empty, moving, loaded))), shown


def learn(balance: Balance, seed: int) -> LineFormat:
    """The format of an invented balance."""
    samples, shown = samples_of(balance, seed)
    return learn_format(samples, unit=balance.stated, shown=shown if balance.types_shown else "")


@dataclass
class Tally:
    """What came of the damaged lines and of the pieces of one balance."""

    damaged: Counter[str] = field(default_factory=Counter)
    alone: Counter[str] = field(default_factory=Counter)
    used: Counter[str] = field(default_factory=Counter)
    pieces: int = 0
    readings: int = 0
    wrong: int = 0

    def add(self, other: Tally) -> None:
        for name in ("damaged", "alone", "used"):
            getattr(self, name).update(getattr(other, name))
        self.pieces += other.pieces
        self.readings += other.readings
        self.wrong += other.wrong


def weigh(balance: Balance, form: LineFormat, pieces: int, seed: int) -> Tally:
    """Pieces weighed over a bad cable, the pan empty between them."""
    rng = np.random.default_rng([7, seed])
    tally, follower = Tally(), LineFollower(form)
    top = COUPON[balance.decimals]
    levels = [int(v) for _ in range(pieces) for v in (0, rng.integers(top // 3, 14 * top))]
    sent: dict[int, tuple[str, list[Sent]]] = {}
    for place, group in enumerate(session(balance, rng, levels, lines=10)):
        reading = None
        for text, kind, whole in with_damage(group, rng):
            number = len(sent)
            sent[number] = kind, whole
            tally.damaged[kind] += 1
            read = read_line(form, text)
            tally.alone[kind] += isinstance(read, ReadLine) and not _said(balance, read, whole)
            for seen in follower.line(text, LINE_S * number):
                was, lines = sent[round(seen.at_s / LINE_S)]
                if seen.fate == "still" and seen.count is not None:
                    read = ReadLine(seen.count, seen.stable)
                    tally.used[was] += not _said(balance, read, lines)
            if reading is None:
                reading = follower.reading_g
        if place and place % 2 == 0:  # at rest
            level = levels[place // 2]
            tally.pieces += 1
            tally.readings += reading is not None
            shown = {round(form.grams(_shown(balance, level + k)), 9) for k in (-1, 0, 1)}
            tally.wrong += reading is not None and round(reading, 9) not in shown
    return tally


def _said(balance: Balance, read: ReadLine, lines: list[Sent]) -> bool:
    """Whether the balance sent that."""
    return any(
        read.count == _shown(balance, one.count) and (one.stable or read.stable is not True)
        for one in lines
        if balance.reads(one.text)
    )


def _shown(balance: Balance, count: int) -> int:
    return balance.step * round(count / balance.step)


def with_damage(group: list[Sent], rng: np.random.Generator) -> list[tuple[str, str, list[Sent]]]:
    """Lines as they arrive, the damage to them, empty for whole ones, and what was sent."""
    made, left = [], list(group)
    while left:
        one = left.pop(0)
        kind = KINDS[int(rng.integers(len(KINDS)))] if rng.random() < SHARE else ""
        whole = [one, left.pop(0)] if kind == "run together" and left else [one]
        text = damaged(one.text, kind, rng, whole[-1].text) if kind else one.text
        made.append((text, "" if text == one.text else kind, whole))
    return made


def _per_cent(some: int, of: int, digits: int) -> str:
    return f"{100 * some / of:.{digits}f} %"


def _row(name: str, found: Tally) -> str:
    lines, alone, used = (
        sum(c[k] for k in KINDS) for c in (found.damaged, found.alone, found.used)
    )
    return (
        f"| {name} | {lines} | {_per_cent(alone, lines, 1)} | {_per_cent(used, lines, 2)} | "
        f"{found.readings} of {found.pieces} | {found.wrong} |"
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pieces", type=int, default=400)
    pieces = parser.parse_args().pieces
    print(f"{pieces} pieces a row, {SHARE:.0%} of the lines damaged\n")
    print("| lines, one of them | damaged | wrong alone | wrong used | readings | wrong readings |")
    print("|---|---|---|---|---|---|")
    total = Tally()
    for seed, balance in enumerate(LEARNT):
        found = weigh(balance, learn(balance, seed), pieces, seed)
        example = balance.write(COUPON[balance.decimals], True, 7)
        for letter, name in (("\n", " / "), ("\x02", "␂")):
            example = example.replace(letter, name)
        print(_row(f"{balance.name}: `{example}`", found), flush=True)
        total.add(found)
    print(_row("all", total))
    print("\n| damage | lines | wrong alone | wrong used |\n|---|---|---|---|")
    for kind in KINDS:
        lines = total.damaged[kind]
        alone, used = _per_cent(total.alone[kind], lines, 1), _per_cent(total.used[kind], lines, 3)
        print(f"| {kind} | {lines} | {alone} | {used} |")
    print(f"| none | {total.damaged['']} | {total.alone['']} | {total.used['']} |")
    print("\n| lines refused | because |\n|---|---|")
    for seed, balance in enumerate(REFUSED):
        try:
            learn(balance, seed)
        except InputError as error:
            print(f"| {balance.name} | {error.problems[0].what} |")
        else:
            print(f"| {balance.name} | **learnt all the same** |")
    print("\n" + machine("numpy"))


if __name__ == "__main__":
    main()
