"""Candidate less baseline at one temperature."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A value with its interval; parts that are not known are None."""

    value: float | None
    low: float | None
    high: float | None

    @property
    def ends(self) -> tuple[float | None, float | None]:
        """Low and high."""
        return self.low, self.high

    def times(self, factor: float) -> Span:
        """The same in another unit."""
        return Span(*(None if v is None else v * factor for v in (self.value, self.low, self.high)))


@dataclass(frozen=True)
class Difference:
    """Candidate less baseline at one temperature."""

    temperature_c: float
    difference_mm3_s: float | None
    """None where a ceiling is known from one side only."""
    low: float | None
    high: float | None
    """Ends that hold at this temperature, taken alone."""
    percent: Span
    """Of the baseline's ceiling, as a fraction."""
    speed_mm_s: Span
    """Print speed at the stated bead."""
    probability_better: float | None
    """That the candidate's ceiling is the higher; None where a ceiling is one-sided."""
    resolved: bool
    """Whether the ends that hold at all temperatures at once leave zero out, and nothing speaks
    against the curves."""
    money_per_mm3_s: Span
    """Price ÷ added flow; all None where the difference is not resolved or the price is
    unknown."""
    sentence: str
    low_together: float | None = None
    high_together: float | None = None
    """Ends that hold at all common temperatures at once; a one-sided end, at its own alone."""
    doubt: str = ""
    """Why nothing is resolved here whatever the interval says; empty where nothing speaks
    against the curves."""
