"""One balance's line: where the mass stands in it, how it is written, which marks mean stable.

Nothing is known beforehand of any maker's lines. A line that is not exactly of the format is
refused, never half-read.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Final, Literal

from pydantic import Field

from beadworth.core import Record

UNIT_G: Final = {
    "g": 1.0,
    "mg": 0.001,
    "kg": 1000.0,
    "ct": 0.2,
    "oz": 28.349523125,
    "lb": 453.59237,
    "ozt": 31.1034768,
}
"""Grams in a unit: SI; the metric carat; the international pound of 1959, 0.453 592 37 kg exactly,
its ounce 1/16, the troy ounce 480 of its 7000 grains (NIST Handbook 44, appendix C)."""
WILD: Final = "\N{REPLACEMENT CHARACTER}"
"""Stands in a mark for a place where any digit or a blank may come: a count, a clock."""
MOST_CHARACTERS = 120
Places = Annotated[int, Field(ge=0, le=MOST_CHARACTERS)]


class LineMark(Record):
    """What stands around the mass in some lines, and what it says."""

    before: Annotated[str, Field(max_length=MOST_CHARACTERS)]
    after: Annotated[str, Field(max_length=MOST_CHARACTERS)]
    stable: bool | None = Field(None, description="whether it means stable; none: says nothing")


class LineFormat(Record):
    """How one balance writes a line."""

    shortest: Places = Field(description="characters of the shortest line")
    longest: Places = Field(description="characters of the longest line")
    start: Places = Field(description="characters before the number and its blanks")
    behind: Places = Field(description="characters behind them")
    decimals: Annotated[int, Field(ge=0, le=8)] = Field(description="digits behind the mark")
    decimal_mark: Literal[".", ",", ""] = Field(description="none: the digits stand without one")
    filled: Literal["blanks left", "blanks right", "zeros", "no"] = Field(
        description="what fills up a short number"
    )
    unit: str = Field(description="of the number")
    unit_in_line: bool = Field(description="false where a person named it")
    step: Annotated[int, Field(ge=1)] = Field(1, description="display step, in last digits")
    flicker: Annotated[int, Field(ge=0)] = Field(
        0, description="how far still lines lie apart at most, in last digits"
    )
    marks: Annotated[tuple[LineMark, ...], Field(min_length=1, max_length=20)]

    @property
    def marked(self) -> bool:
        """Whether lines say themselves that the balance is stable."""
        return any(mark.stable is not None for mark in self.marks)

    @property
    def digit_g(self) -> float:
        """One in the last digit, g."""
        return float(UNIT_G[self.unit] * 10.0**-self.decimals)

    @property
    def step_g(self) -> float:
        """The display step, g."""
        return self.step * self.digit_g

    def text(self, grams: float) -> str:
        """A mass in grams with the decimals that this balance has."""
        return f"{grams:.{max(0, math.ceil(-math.log10(self.digit_g) - 1e-9))}f}"

    def grams(self, count: int) -> float:
        """The mass of so many last digits, g."""
        return round(count * self.digit_g, self.decimals + 9)


@dataclass(frozen=True)
class ReadLine:
    """What one line says."""

    count: int
    """The mass in last digits: exact, so that two lines can be compared."""
    stable: bool | None
    """None where the line does not say."""


Fault = Literal["length", "characters"]


def read_line(form: LineFormat, text: str) -> ReadLine | Fault:
    """One line by its format.

    Parameters
    ----------
    form : LineFormat
    text : str
        Without its line end.

    Returns
    -------
    ReadLine, or ``"length"`` or ``"characters"``
        What is not of the format. A line of the right shape may still be damaged, in a digit; see
        :class:`.follow.LineFollower`.
    """
    if not form.shortest <= len(text) <= form.longest:
        return "length"
    end = len(text) - form.behind
    found = _number(form).fullmatch(text, form.start, end) if end >= form.start else None
    if found is None:
        return "characters"
    for before, after, stable in _marks(form):
        if before.fullmatch(text, 0, form.start) and after.fullmatch(text, end):
            sign = "".join(found["sign"].split())
            count = int(found["whole"] + (found["rest"] or ""))
            return ReadLine(-count if sign == "-" else count, stable)
    return "characters"


@lru_cache(maxsize=16)
def _number(form: LineFormat) -> re.Pattern[str]:
    whole = "[0-9]+" if form.filled == "zeros" or not form.decimal_mark else "(?:0|[1-9][0-9]*)"
    rest = f"{re.escape(form.decimal_mark)}(?P<rest>[0-9]{{{form.decimals}}})"
    if not form.decimal_mark:
        rest = "(?P<rest>)"
    left, right = {
        "blanks left": (r" *(?P<sign>[+-]? *)", ""),
        "blanks right": (r"(?P<sign>[+ -]?)", " *"),
        "zeros": (r"(?P<sign> *[+-]?)", ""),
        "no": (r"(?P<sign>[+-]? ?)", ""),
    }[form.filled]
    return re.compile(f"{left}(?P<whole>{whole}){rest}{right}")


@lru_cache(maxsize=16)
def _marks(form: LineFormat) -> list[tuple[re.Pattern[str], re.Pattern[str], bool | None]]:
    return [(_mark(mark.before), _mark(mark.after), mark.stable) for mark in form.marks]


def _mark(text: str) -> re.Pattern[str]:
    return re.compile("".join("[ 0-9]" if one == WILD else re.escape(one) for one in text))


def split_lines(data: bytes) -> tuple[list[str], bytes]:
    """Whole lines in what came, and the rest that waits for its end.

    A line ends with CR, LF or ETX, or several of them. Bytes become the characters of the same
    number, so that damage is seen and nothing is refused here.
    """
    *whole, rest = re.split(rb"[\r\n\x03]", data)
    lines = [line.decode("latin-1") for line in whole if line.strip(b" \t\0")]
    return lines, rest[-4 * MOST_CHARACTERS :]
