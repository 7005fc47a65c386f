"""A line format learnt from samples: an empty pan, a piece put on, the piece at rest."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from beadworth.core import InputError
from beadworth.trial.lines.columns import Region, decimals_of, mass_place, region_of
from beadworth.trial.lines.format import MOST_CHARACTERS, LineFormat, ReadLine, read_line
from beadworth.trial.lines.marks import marks_of, unit_of
from beadworth.trial.lines.samples import Numbered, Samples, numbered, refuse

FEWEST = 3
"""Lines at rest that are needed, empty and loaded."""
ALIKE = 0.7
"""Share of the lines that have to have one length, where there is only one."""
STEPS = (100, 50, 20, 10, 5, 2)
"""Display steps a balance may have, in last digits, beside 1."""


def learn_format(samples: Samples, *, unit: str | None = None, shown: str = "") -> LineFormat:
    """The format of the lines, or why there is none that could be trusted.

    Parameters
    ----------
    samples : Samples
    unit : str, optional
        The unit on the display, needed where lines have none.
    shown : str
        What the display shows of the loaded pan, as typed; needed where the lines leave open which
        number is the mass, or where its decimal mark stands.

    Raises
    ------
    InputError
        Why, and what to change on the balance or in the samples.
    """
    _require_text(samples)
    refusals: list[InputError] = []
    for group in _groups(samples):
        try:
            return _of_group(group, unit, shown)
        except InputError as error:
            refusals.append(error)
    raise refusals[0]


def _require_text(samples: Samples) -> None:
    lines = samples.all
    letters = "".join(lines)
    odd = sum(not " " <= one <= "~" and one not in "\t\x02\0" for one in letters)
    if odd > 0.1 * len(letters):
        refuse(
            f"{odd} of {len(letters)} characters are no letters, digits or signs.",
            "Set the speed and parity of the port as they are on the balance, and try again.",
        )
    if min(len(samples.empty), len(samples.loaded)) < FEWEST:
        refuse(
            f"{len(samples.empty)} lines came with the pan empty and {len(samples.loaded)} with a "
            f"piece on it; at least {FEWEST} each are needed.",
            "Set the balance to send by itself, or state the request it answers, and try again.",
        )
    if not any(re.search("[0-9]", line) for line in lines):
        refuse("there is no number in the lines.", "Check the port, the speed and the parity.")
    longest = max(map(len, lines))
    if longest > MOST_CHARACTERS:
        refuse(
            f"a line of {longest} characters came; at most {MOST_CHARACTERS} are read.",
            "Set the balance to end each line with CR, LF or both.",
        )


def _groups(samples: Samples) -> list[Samples]:
    """Lines that could be of one format: of the commonest length, of each common one, or all."""
    lines = samples.all
    rest = [*samples.empty, *samples.loaded]
    lengths = Counter(map(len, lines)).most_common()

    def of_length(length: int) -> Samples:
        return samples.where([len(line) == length for line in lines])

    most, times = lengths[0]
    if times >= ALIKE * len(lines) and sum(len(x) == most for x in rest) >= ALIKE * len(rest):
        return [of_length(most)]
    blocks = [of_length(length) for length, _ in lengths[:6]]
    whole = [one for one in blocks if min(len(one.empty), len(one.loaded)) >= FEWEST]
    return [*whole, samples]


def _of_group(samples: Samples, unit: str | None, shown: str) -> LineFormat:
    group = numbered(samples, FEWEST)
    place = mass_place(group, shown)
    decimals, mark = decimals_of(group.at(place), shown)
    region = region_of(group.samples.all, group.at(place))
    group = _without_odd(group, place, region, decimals if mark else 0)
    counts = [token.count for token in group.at(place)]
    flicker = _flicker(*group.at_rest(counts))
    marks = marks_of(group, place, region, flicker)
    found, in_line = unit_of(marks, unit)
    shortest, longest = _lengths(group.samples, region, decimals, mark)
    form = LineFormat(
        shortest=shortest,
        longest=longest,
        start=region.start,
        behind=region.behind,
        decimals=decimals,
        decimal_mark=mark,
        filled=region.filled,
        unit=found,
        unit_in_line=in_line,
        step=_step(counts),
        flicker=flicker,
        marks=marks,
    )
    _require_read(form, group.samples.all, 0.9, "lines")
    _require_read(form, samples.moving, 0.6, "lines that came while the piece was put on")
    return form


def _require_read(form: LineFormat, lines: Sequence[str], share: float, what: str) -> None:
    """The format has to read the lines it was learnt from, those in motion above all.

    Lines at rest are the same again and again: what changes with the value is not seen in them.
    """
    right = sum(isinstance(read_line(form, line), ReadLine) for line in lines)
    if right < share * len(lines):
        refuse(
            f"only {right} of {len(lines)} {what} follow one format.",
            "Set the balance to send one kind of line, without a check sum, and learn again.",
        )


def _without_odd(group: Numbered, place: int, region: Region, decimals: int) -> Numbered:
    """The lines whose number stands in its columns with its decimals."""
    lines = group.samples.all
    keep = [
        token.decimals == decimals
        and token.start >= region.start
        and (region.filled == "blanks right" or len(line) - token.end == region.behind)
        for line, token in zip(lines, group.at(place), strict=True)
    ]
    kept = group.where(keep)
    if min(len(kept.samples.empty), len(kept.samples.loaded)) < FEWEST:
        refuse(
            "the number stands at another place in every line.", "Set the balance to one format."
        )
    return kept


def _lengths(
    samples: Samples, region: Region, decimals: int, mark: Literal[".", ",", ""]
) -> tuple[int, int]:
    """Shortest and longest line; where nothing fills up a number, a digit and a sign more."""
    seen = sorted(len(line) for line in samples.all)
    if region.filled != "no":
        if seen[0] != seen[-1]:
            refuse(
                f"the lines have {seen[0]} to {seen[-1]} characters, with blanks or zeros in them.",
                "Set the balance to lines of one length.",
            )
        return seen[0], seen[0]
    least = region.start + region.behind + 1 + (decimals + 1 if mark else 0)
    return min(least, seen[0]), seen[-1] + 2


def _flicker(*rest: Sequence[int]) -> int:
    """How far neighbours at rest lie apart, in last digits; the farthest tenth left out."""
    apart = sorted(abs(b - a) for part in rest for a, b in pairwise(part))
    return apart[max(0, math.ceil(0.9 * len(apart)) - 1)]


def _step(counts: Sequence[int]) -> int:
    """The display step in last digits, where enough different values came to see it."""
    if len(set(counts)) < 8:
        return 1
    common = math.gcd(*counts)
    return next((step for step in STEPS if common % step == 0), 1)
