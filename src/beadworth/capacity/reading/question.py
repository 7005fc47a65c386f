"""Whether the question of a trial is answered: by intervals against the difference that counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from beadworth.capacity.reading.comparison import Comparison
from beadworth.capacity.reading.difference import Difference
from beadworth.capacity.result import Ceiling
from beadworth.text import join_words, number

Known = Literal["answered", "open"]


@dataclass(frozen=True)
class Answered:
    """How far a question is answered."""

    state: Known
    sentence: str


def answered(
    ceilings: Sequence[Ceiling], difference_mm3_s: float, comparison: Comparison | None = None
) -> Answered:
    """Hold what is known against the difference that would change one's mind.

    Parameters
    ----------
    ceilings : sequence of Ceiling
        Of all rigs.
    difference_mm3_s : float, > 0
    comparison : Comparison, optional
        Of two rigs. Answered where, at every temperature, the whole interval of the difference
        lies above the one that counts or below it, or is no wider. For one rig: where every
        ceiling's interval is no wider.
    """
    if comparison is not None:
        return _compared(comparison, difference_mm3_s)
    open_at = [
        f"{number(c.temperature_c)} °C"
        for c in ceilings
        if c.low is None or c.high is None or c.high - c.low > difference_mm3_s
    ]
    wanted = f"{number(difference_mm3_s, 3)} mm³/s"
    if not open_at:
        return Answered("answered", f"Answered: every ceiling is known to {wanted} or better.")
    return Answered("open", f"Not answered yet at {join_words(open_at)}: {wanted} are asked for.")


def _compared(comparison: Comparison, wanted: float) -> Answered:
    open_at = [d for d in comparison.differences if not _settled(d, wanted)]
    counts = f"{number(wanted, 3)} mm³/s"
    if open_at:
        places = join_words(f"{number(d.temperature_c)} °C" for d in open_at)
        return Answered(
            "open", f"Not answered yet at {places}: the interval of the difference holds {counts}."
        )
    known = [d for d in comparison.differences if d.low is not None and d.high is not None]
    low, high = min(d.low or 0.0 for d in known), max(d.high or 0.0 for d in known)
    gain = f"{comparison.candidate} gives {low:.1f} to {high:.1f} mm³/s more"
    if high < 0:
        gain = f"{comparison.candidate} gives {-high:.1f} to {-low:.1f} mm³/s less"
    elif low < 0:
        gain = f"{comparison.candidate} gives from {-low:.1f} mm³/s less to {high:.1f} more"
    return Answered("answered", f"Answered: {gain}; {counts} would change your mind.")


def _settled(d: Difference, wanted: float) -> bool:
    """Whether more coupons could not change the mind."""
    if d.doubt or d.low is None or d.high is None:
        return False
    return d.low >= wanted or d.high <= wanted or d.high - d.low <= wanted
