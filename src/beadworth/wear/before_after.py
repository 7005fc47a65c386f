"""Readings before and after a change: is there a difference, and how large can it be?

Unpaired: the unequal-variances t test (Welch), NIST/SEMATECH e-Handbook 1.3.5.3 and 7.3.1.
Paired: Student's t test on the differences, e-Handbook 7.3.1.1. Both suppose readings that
scatter normally and independently.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import CONFIDENCE, FitError, InputError
from beadworth.text import count as noun_count
from beadworth.text import number
from beadworth.wear.alternatives import MONTH_DAYS

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Change:
    """Mean after less mean before, with its interval."""

    kind: Literal["unpaired", "paired"]
    difference: float
    low: float
    high: float
    confidence: float
    t: float
    dof: float
    p: float
    """Two-sided: how often chance alone would give a difference at least this large."""
    before: int
    after: int
    trend_per_month: float | None = None
    """Steady trend through both sides that would give the same difference; None where the days are
    not known, or pairs were compared."""
    trend_open: bool = False
    """Whether the readings within the sides leave such a trend possible."""

    @property
    def resolved(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0 or self.high < 0

    def sentence(self, unit: str) -> str:
        """The finding in words, with the unit of the readings."""
        sure = f"{unit}, {self.confidence * 100:g}\u00a0%"
        if not self.resolved:
            middle, low, high = map(_signed, (self.difference, self.low, self.high))
            return f"No change resolved: {middle} {unit} ({low} to {high} {sure}). {self.assumes}"
        near, far = sorted((abs(self.low), abs(self.high)))
        way = "more" if self.difference > 0 else "less"
        size = f"{number(abs(self.difference), 3)} {unit}"
        said = f"{size} {way} than before ({number(near, 3)} to {number(far, 3)} {sure})."
        if self.trend_open:
            said += (
                f" A steady trend of {_signed(self.trend_per_month or 0.0, 2)} {unit} a month "
                "through both sides would give as much, and the readings do not rule it out: this "
                "need not be the change's doing."
            )
        return f"{said} {self.assumes}"

    @property
    def assumes(self) -> str:
        """What the finding supposes of the readings."""
        if self.kind == "paired":
            return "Supposes that places differ from one another alike before and after."
        return "Supposes readings that scatter independently and a level on either side."


def _signed(value: float, digits: int = 3) -> str:
    """A difference to so many figures, its sign always written."""
    return f"+{number(value, digits)}" if value > 0 else number(value, digits)


def unpaired_change(
    before: Sequence[float],
    after: Sequence[float],
    confidence: float = CONFIDENCE,
    days: Sequence[float] | None = None,
) -> Change:
    """Compare two independent sets of readings (Welch; the scatter may differ).

    ``days``: of all readings, those before first, from any day. With them the change is held
    against a steady trend through both sides (:func:`trend_beside`).

    Raises
    ------
    FitError
        Fewer than two readings on a side, or none that differ on either side.
    InputError
        A confidence not between 0 and 1.
    """
    _check(confidence)
    first, second = np.asarray(before, dtype=float), np.asarray(after, dtype=float)
    for name, values in (("before", first), ("after", second)):
        if len(values) < 2:
            raise _too_few(name, len(values), "reading")
    shares = [float(values.var(ddof=1)) / len(values) for values in (first, second)]
    variance = sum(shares)
    if variance == 0.0:
        raise _no_scatter()
    dof = variance**2 / sum(
        share**2 / (len(values) - 1) for share, values in zip(shares, (first, second), strict=True)
    )
    difference = float(second.mean() - first.mean())
    found = _change(
        "unpaired", difference, math.sqrt(variance), dof, confidence, len(first), len(second)
    )
    if days is None:
        return found
    trend, possible = trend_beside(first, second, np.asarray(days, dtype=float), confidence)
    return replace(found, trend_per_month=trend, trend_open=possible)


def trend_beside(
    before: Array, after: Array, days: Array, confidence: float
) -> tuple[float | None, bool]:
    """The steady trend that would give a difference, and whether the sides leave it possible.

    The slope common to both sides, each freed of its own mean (analysis of covariance; R. A.
    Fisher, Statistical Methods for Research Workers, section 49.1, from memory), with Student's
    interval at n − 3 degrees of freedom: possible where that holds the trend, and where there are
    too few readings to tell.

    Returns
    -------
    trend a month, None where both sides are of one day; whether it is possible
    """
    from scipy.special import stdtrit

    t = days / MONTH_DAYS
    sides = ((t[: len(before)], before), (t[len(before) :], after))
    gap = float(sides[1][0].mean() - sides[0][0].mean())
    if gap <= 0:
        return None, False
    trend = float(after.mean() - before.mean()) / gap
    x = np.concatenate([when - when.mean() for when, _ in sides])
    y = np.concatenate([values - values.mean() for _, values in sides])
    spread, dof = float(x @ x), len(y) - 3
    if spread == 0 or dof < 1:
        return trend, True
    slope = float(x @ y) / spread
    rest = float(((y - slope * x) ** 2).sum()) / dof
    reach = float(stdtrit(dof, (1.0 + confidence) / 2.0)) * math.sqrt(rest / spread)
    return trend, abs(trend - slope) <= reach


def paired_change(
    before: Sequence[float], after: Sequence[float], confidence: float = CONFIDENCE
) -> Change:
    """Compare readings that belong together one to one, as at the same places of a bed.

    Raises
    ------
    FitError
        Fewer than two pairs, or pairs that all differ by the same amount.
    InputError
        Lists of different length, or a confidence not between 0 and 1.
    """
    _check(confidence)
    if len(before) != len(after):
        raise InputError(
            f"{len(before)} readings before and {len(after)} after cannot be paired.",
            "readings",
            len(after),
            "Give each its partner, or compare them unpaired.",
        )
    differences = np.asarray(after, dtype=float) - np.asarray(before, dtype=float)
    count = len(differences)
    if count < 2:
        raise _too_few("pairs", count, "pair")
    spread = float(differences.std(ddof=1))
    if spread == 0.0:
        raise _no_scatter()
    difference = float(differences.mean())
    return _change(
        "paired", difference, spread / math.sqrt(count), count - 1.0, confidence, count, count
    )


def _change(
    kind: Literal["unpaired", "paired"], difference: float, u: float, dof: float,
    confidence: float, before: int, after: int,
) -> Change:  # fmt: skip
    from scipy.special import stdtr, stdtrit

    reach = float(stdtrit(dof, (1.0 + confidence) / 2.0)) * u
    t = difference / u
    p = 2.0 * float(stdtr(dof, -abs(t)))
    return Change(
        kind, difference, difference - reach, difference + reach, confidence, t, dof, p,
        before, after,
    )  # fmt: skip


def _check(confidence: float) -> None:
    if not 0.0 < confidence < 1.0:
        raise InputError(
            f"a confidence of {confidence:g} is not between 0 and 1.",
            "confidence",
            confidence,
            "0.95 is usual.",
        )


def _too_few(where: str, count: int, what: str) -> FitError:
    return FitError(f"cannot tell: {noun_count(count, what)}, at least 2 are needed.", where, count,
                "Repeat the check; four or more on each side show far more.")  # fmt: skip


def _no_scatter() -> FitError:
    return FitError("cannot tell: the readings do not scatter at all, so the smallest step of the "
                "instrument hides what they would.", "readings", None,
                "Read one more digit, or measure with a finer instrument.")  # fmt: skip
