"""Numbers and findings in words: one way to print each, for page, picture and alt text."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from beadworth.text import NO_BREAK, fixed, flow_decimals, number
from beadworth.text import percent as percent_with_gap

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference

FLOW = "mm³/s"
percent = partial(percent_with_gap, gap=NO_BREAK)
"""A fraction as per cent that a line of a page never breaks before its sign."""


def temperature(value_c: float) -> str:
    """``220 °C`` with a no-break space."""
    return f"{number(value_c)}\u00a0°C"


def level(loss: float) -> str:
    """A stated loss: ``2 %``, ``0.5 %``."""
    return f"{number(100 * loss)}\u00a0%"


def interval(low: float | None, high: float | None) -> str:
    """``17.9 to 19.0``; an unknown side is named."""
    decimals = flow_decimals(low, high)
    if low is None and high is None:
        return "not bounded"
    if low is None:
        return f"up to {fixed(high or 0.0, decimals)}"
    if high is None:
        return f"from {fixed(low, decimals)}"
    return f"{fixed(low, decimals)} to {fixed(high, decimals)}"


def ceiling_value(ceiling: Ceiling) -> str:
    """The figure alone: ``18.4``, ``at least 21.0``, ``at most 9.0``, ``cannot tell``."""
    decimals = flow_decimals(ceiling.low, ceiling.high)
    if ceiling.bound == "at-least" and ceiling.low is not None:
        return f"at least {fixed(ceiling.low, decimals)}"
    if ceiling.bound == "at-most" and ceiling.high is not None:
        return f"at most {fixed(ceiling.high, decimals)}"
    if ceiling.flow_mm3_s is None:
        return "cannot tell"
    return fixed(ceiling.flow_mm3_s, decimals)


def ceiling_words(ceiling: Ceiling) -> str:
    """``18.4 mm³/s (17.9 to 19.0)``, ``at least 21.0 mm³/s``, ``cannot tell``."""
    value = ceiling_value(ceiling)
    if value == "cannot tell":
        return value
    if ceiling.bound == "interval" and (ceiling.low is not None or ceiling.high is not None):
        return f"{value}\u00a0{FLOW} ({interval(ceiling.low, ceiling.high)})"
    return f"{value}\u00a0{FLOW}"


def difference_words(row: Difference) -> str:
    """``3.6 mm³/s more (2.9 to 4.3)``, ``at least 2.0 mm³/s more``, ``cannot tell``.

    Signed towards the candidate. One that is not resolved is called so, whatever its middle.
    """
    low, high = row.low, row.high
    decimals = flow_decimals(low, high)
    if row.doubt:
        return "not called: a curve does not fit"
    if low is None and high is None:
        return "cannot tell"
    if row.difference_mm3_s is None or low is None or high is None:
        return _one_sided_words(low, high, decimals)
    if not row.resolved:
        return f"not resolved ({interval(*open_ends(row))}\u00a0{FLOW})"
    size = abs(row.difference_mm3_s)
    near, far = sorted((abs(low), abs(high)))
    word = "more" if low > 0 else "less"
    return f"{fixed(size, decimals)}\u00a0{FLOW} {word} ({interval(near, far)})"


def _one_sided_words(low: float | None, high: float | None, decimals: int) -> str:
    if low is not None and low > 0:
        return f"at least {fixed(low, decimals)}\u00a0{FLOW} more"
    if high is not None and high < 0:
        return f"at least {fixed(-high, decimals)}\u00a0{FLOW} less"
    return "cannot tell"


def open_ends(row: Difference) -> tuple[float | None, float | None]:
    """The ends that hold zero: those of its own temperature, else those of all at once."""
    own = row.low is not None and row.high is not None and row.low <= 0 <= row.high
    return (row.low, row.high) if own else (row.low_together, row.high_together)


def answer_sentence(
    ceilings: Sequence[Ceiling],
    differences: Sequence[Difference] = (),
    *,
    baseline: str,
    candidate: str | None = None,
) -> str:
    """What the trial found, in one or two sentences.

    The temperature quoted is the middle one tested (of those compared, where
    two rigs are), fixed by the plan rather than picked by the result.
    """
    rig = candidate if candidate is not None else baseline
    own = sorted(
        (c for c in ceilings if c.rig == rig and c.basis == "readings"),
        key=lambda c: c.temperature_c,
    )
    rows = sorted(differences, key=lambda row: row.temperature_c)
    if candidate is not None and rows:
        shared = {row.temperature_c for row in rows}
        own = [c for c in own if c.temperature_c in shared] or own
    if not own:
        return "No ceiling can be read from these readings yet."
    middle = own[(len(own) - 1) // 2]
    subject = "the candidate's" if candidate is not None else "the"
    place = f"At {temperature(middle.temperature_c)}"
    words = ceiling_words(middle)
    if words == "cannot tell":
        first = f"{place} the readings cannot tell {subject} ceiling at {level(middle.loss)} loss"
    else:
        if middle.bound == "interval":
            words = words.replace(")", f", {level(middle.confidence)})")
        first = f"{place} {subject} ceiling is {words}"
    row = next((row for row in rows if row.temperature_c == middle.temperature_c), None)
    if candidate is None or row is None:
        return f"{first}."
    return f"{first}{_against_baseline(row)}. {_everywhere(rows)}".rstrip()


def _against_baseline(row: Difference) -> str:
    """The tail of the answer: how it stands to the baseline."""
    words = difference_words(row)
    if row.doubt:
        return f"; a difference from the baseline is not called: {row.doubt}"
    if words == "cannot tell":
        return "; how it compares with the baseline, this trial cannot tell"
    if words.startswith("not resolved"):
        return (
            "; a difference from the baseline is not resolved "
            f"({interval(*open_ends(row))}\u00a0{FLOW})"
        )
    amount, _, bounds = words.partition(" (")
    return f", {amount} than the baseline" + (f" ({bounds}" if bounds else "")


def _everywhere(rows: Sequence[Difference]) -> str:
    """Whether the other temperatures say the same."""
    if len(rows) < 2:
        return ""
    found = sum(row.resolved for row in rows)
    every = "both" if len(rows) == 2 else f"all {len(rows)}"
    if found == len(rows):
        more = {row.low is not None and row.low > 0 for row in rows}
        if len(more) == 1:
            word = "more" if more == {True} else "less"
            return f"It delivers {word} at {every} temperatures tested."
        return f"{every.capitalize()} temperatures resolve a difference, but not of one sign."
    if not found:
        return f"At none of the {len(rows)} temperatures can the trial tell the rigs apart."
    return f"A difference is resolved at {found} of {len(rows)} temperatures."
