"""How often something fails: a constant rate with its bounds.

A time without a failure bounds the rate from above and never shows that something cannot
fail. Formulas from the NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1; its example is
a test.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import CONFIDENCE, InputError, Problem
from beadworth.text import count, number


@dataclass(frozen=True)
class Rate:
    """Failures per hour, taken as constant."""

    failures: int
    hours: float
    confidence: float
    rate_per_h: float | None
    """Failures ÷ hours; None without a failure."""
    low_per_h: float | None
    """None without a failure: the bound is then one-sided."""
    high_per_h: float
    sentence: str


def failure_rate(failures: int, hours: float, confidence: float = CONFIDENCE) -> Rate:
    """The rate of failures in a stated time, with its bounds.

    Without a failure: one-sided, at most χ²(confidence; 2)/(2·hours) = −ln(1 − confidence)/hours,
    at 95 % 3.00/hours. With failures: two-sided, χ²(α/2; 2r)/(2·hours) to
    χ²(1 − α/2; 2r + 2)/(2·hours), exact for a fixed time of something that is mended.

    Parameters
    ----------
    failures : int, ≥ 0
    hours : float, > 0
    confidence : float, between 0 and 1

    Raises
    ------
    InputError
        A value out of its range.
    """
    from scipy.special import chdtri

    problems = []
    if failures < 0:
        problems.append(Problem(f"{failures} failures: a count is not negative.", "failures",
                                failures, "Count them again."))  # fmt: skip
    if not (hours > 0 and math.isfinite(hours)):
        problems.append(Problem(f"{hours:g} h is no time to fail in.", "hours", hours,
                                "Enter the hours it has run."))  # fmt: skip
    if not 0 < confidence < 1:
        problems.append(Problem(f"a confidence of {confidence:g} is not between 0 and 1.",
                                "confidence", confidence, "0.95 is usual."))  # fmt: skip
    if problems:
        raise InputError(problems)
    if not failures:
        high = float(chdtri(2, 1.0 - confidence)) / (2.0 * hours)
        sentence = (
            f"No failure in {plain_hours(hours)} h: at most {1000 * high:.2g} failures per 1000 h "
            f"({confidence * 100:g} %), or one in {plain_hours(1 / high)} h. Not seeing a failure "
            "does not say that it cannot fail."
        )
        return Rate(0, hours, confidence, None, None, high, sentence)
    half = (1.0 - confidence) / 2.0
    low = float(chdtri(2 * failures, 1.0 - half)) / (2.0 * hours)
    high = float(chdtri(2 * failures + 2, half)) / (2.0 * hours)
    rate = failures / hours
    times = count(failures, "failure")
    sentence = (
        f"{times} in {plain_hours(hours)} h: {1000 * rate:.2g} per 1000 h "
        f"({1000 * low:.2g} to {1000 * high:.2g}, {confidence * 100:g} %), "
        f"one in {plain_hours(1 / high)} to {plain_hours(1 / low)} h."
    )
    return Rate(failures, hours, confidence, rate, low, high, sentence)


def plain_hours(hours: float) -> str:
    """Hours to three figures, the rest of a large number as zeros."""
    return number(float(f"{hours:.3g}"))
