"""What worth says of an upgrade, as plain data; the shape of ``worth compare --json`` too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar, Literal

from beadworth.core import LEFT_OUT
from beadworth.worth.monte_carlo import Result, Shape
from beadworth.worth.tornado import Tornado

Status = Literal["interval", "at least", "never", "cannot tell", "no rate", "at once"]
Verdict = Literal[
    "worth it",
    "probably worth it",
    "cannot tell",
    "probably not worth it",
    "not worth it",
    "no rate",
]


def verdict_label(verdict: Verdict, pays: float) -> str:
    """The verdict as it stands in a table or before a sentence: ``probably worth it (87 %)``."""
    if verdict == "probably worth it":
        return f"{verdict} ({share_words(pays)})"
    if verdict == "probably not worth it":
        return f"{verdict} ({share_words(1 - pays)})"
    return verdict


def share_words(value: float) -> str:
    """A share of the draws as per cent, never rounded to none or all."""
    if value >= 0.995:
        return "over 99\u00a0%" if value < 1 else "all"
    if value <= 0.005:
        return "under 1\u00a0%" if value > 0 else "none"
    return f"{100 * value:.0f}\u00a0%"


@dataclass(frozen=True)
class PrintWorth:
    """One print on both rigs."""

    name: str
    per_year: Result
    before_s: Result
    after_s: Result
    saved_s: Result
    """Per print, replayed; failed attempts left out."""
    limits_before: Mapping[str, float]
    """Shares of its moving time by what it goes to, adding up to 1."""
    limits_after: Mapping[str, float]


@dataclass(frozen=True)
class BreakEven:
    """Prints and months until the cost is back."""

    prints: Result
    months: Result
    status: Status
    words: str


@dataclass(frozen=True)
class CostPer:
    """Cost for one unit of something gained."""

    of: str
    unit: str
    result: Result
    words: str


@dataclass(frozen=True)
class Point:
    """Money so far, so many months after the upgrade."""

    month: float
    net: Result


@dataclass(frozen=True)
class Worth:
    """What one upgrade buys, for one person's prints."""

    name: str
    baseline: str
    candidate: str
    feeds: str
    currency: str
    months: float
    sentence: str
    """Hours first, then money; to be said aloud."""
    verdict: Verdict
    """The one answer; headline, table and JSON say this and no other."""
    verdict_words: str
    hours_saved_per_year: Result
    hours_before_per_year: Result
    hours_after_per_year: Result
    hours_a_week: Result
    """Printing, rig as it is."""
    hours_a_week_needed: Result
    """Printing at which the cost is back within ``months``."""
    prints_per_year: Result
    cost: Result
    cost_parts: Mapping[str, float]
    """At the middles of what is known: parts, brackets, tools, fitting, resale (taken off)."""
    money_per_year: Result
    time_per_year: Result
    energy_per_year: Result
    filament_per_year: Result
    net: Result
    """Over ``months``, the cost taken off."""
    break_even: BreakEven = field(metadata=LEFT_OUT)
    costs_per: tuple[CostPer, ...]
    saves_time_share: float
    """Share of draws in which it saves time at all."""
    pays_share: float
    """Share of draws in which the cost is back within ``months``."""
    limits_before: Mapping[str, float]
    """Shares of all printing on the rig as it is by what it goes to."""
    limits_after: Mapping[str, float]
    prints: tuple[PrintWorth, ...]
    path: tuple[Point, ...]
    tornado: Mapping[str, Tornado]
    notes: tuple[str, ...]
    draws: int
    stable: bool
    """Whether the draws went on until two digits of the uncertainty stood still."""
    seed: int
    simulated: bool
    shapes: Mapping[str, Shape] = field(metadata=LEFT_OUT)
    """Of hours saved a year and cost."""

    json_also: ClassVar = {
        f"break_even_{part}": f"break_even_{part}"
        for part in ("prints", "months", "words", "status")
    }

    @property
    def verdict_label(self) -> str:
        """The verdict with its share of the draws, for a table or before a sentence."""
        return verdict_label(self.verdict, self.pays_share)

    @property
    def break_even_prints(self) -> Result:
        """Prints until the cost is back."""
        return self.break_even.prints

    @property
    def break_even_months(self) -> Result:
        """Months until the cost is back."""
        return self.break_even.months

    @property
    def break_even_words(self) -> str:
        """The same as words."""
        return self.break_even.words

    @property
    def break_even_status(self) -> Status:
        """Whether there is such a number, and how well it is known."""
        return self.break_even.status
