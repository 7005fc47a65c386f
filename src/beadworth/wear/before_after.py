"""Readings before and after a change: is there a difference, and how large can it be?

Unpaired: the unequal-variances t test (Welch), NIST/SEMATECH e-Handbook 1.3.5.3 and 7.3.1.
Paired: Student's t test on the differences, e-Handbook 7.3.1.1. Both suppose readings that
scatter normally and independently.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from beadworth.core import CONFIDENCE, FitError, InputError
from beadworth.text import count as noun_count
from beadworth.text import number


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

    @property
    def resolved(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0 or self.high < 0

    def sentence(self, unit: str) -> str:
        """The finding in words, with the unit of the readings."""
        sure = f"{unit}, {self.confidence * 100:g}\u00a0%"
        if not self.resolved:
            middle, low, high = map(_signed, (self.difference, self.low, self.high))
            return f"No change resolved: {middle} {unit} ({low} to {high} {sure})."
        near, far = sorted((abs(self.low), abs(self.high)))
        way = "more" if self.difference > 0 else "less"
        size = f"{number(abs(self.difference), 3)} {unit}"
        return f"{size} {way} than before ({number(near, 3)} to {number(far, 3)} {sure})."


def _signed(value: float) -> str:
    """A difference to three figures, its sign always written."""
    return f"+{number(value, 3)}" if value > 0 else number(value, 3)


def unpaired_change(
    before: Sequence[float], after: Sequence[float], confidence: float = CONFIDENCE
) -> Change:
    """Compare two independent sets of readings (Welch; the scatter may differ).

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
    return _change(
        "unpaired", difference, math.sqrt(variance), dof, confidence, len(first), len(second)
    )


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
                "Repeat the check; four or more on each side tell far more.")  # fmt: skip


def _no_scatter() -> FitError:
    return FitError("cannot tell: the readings do not scatter at all, so the smallest step of the "
                "instrument hides what they would.", "readings", None,
                "Read one more digit, or measure with a finer instrument.")  # fmt: skip
