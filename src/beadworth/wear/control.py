"""Control charts of a check that is repeated: individuals with moving range, and EWMA.

Both ask one question of a series: is it still what it was in a stated baseline, or towards a
stated target? Formulas from the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2
(individuals) and 6.3.2.4 (EWMA); its printed results are the tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from beadworth.core import FitError, InputError
from beadworth.text import count as noun_count
from beadworth.text import fixed

D2_PAIRS = 1.128
"""Mean range of two readings over their standard deviation, as tabulated; exact 2/√π = 1.12838."""
D4_PAIRS = 3.267
"""Upper limit of a moving range over its mean, as tabulated."""
FEWEST = 5
"""Readings a baseline needs here. Common practice, no source: limits from fewer say nothing."""
RUN = 8
"""Readings in a row on one side of the centre that make a signal (e-Handbook 6.3.2, WECO)."""
USUAL_WEIGHT = 0.3
WIDTH = 3.0
"""Half-width of the limits in standard deviations, as the handbook has it."""
Rule = Literal["beyond a limit", "run on one side", "jump", "drift"]


@dataclass(frozen=True)
class Signal:
    """One reading at which a chart says: look."""

    index: int
    """Place in the series, from 0."""
    rule: Rule
    value: float
    words: str


@dataclass(frozen=True)
class Baseline:
    """What a series was when it was good: level and scatter, and from how many readings."""

    count: int
    """How many readings, from the first, the scatter (and the level) were taken from."""
    center: float
    target: float | None
    """The stated target, where the centre is one and not the baseline's mean."""
    mean_moving_range: float
    sigma: float
    """Mean moving range ÷ d2."""
    u_sigma_relative: float
    """Standard uncertainty of sigma over sigma, from the count alone (normal readings)."""


@dataclass(frozen=True)
class Individuals:
    """An individuals chart with its moving ranges."""

    values: tuple[float, ...]
    baseline: Baseline
    lower: float
    upper: float
    moving_ranges: tuple[float, ...]
    """|value − the one before|, for the second reading on."""
    moving_range_upper: float
    more_rules: bool
    """Whether steps and runs are signals too."""
    signals: tuple[Signal, ...]


@dataclass(frozen=True)
class Ewma:
    """An exponentially weighted moving average and its limits."""

    values: tuple[float, ...]
    averages: tuple[float, ...]
    """After each reading; before the first it is the centre."""
    center: float
    sigma: float
    weight: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    """Exact limits after each reading."""
    lower_settled: float
    upper_settled: float
    """What the limits tend to (asymptotic)."""
    signals: tuple[Signal, ...]


def baseline_of(
    values: Sequence[float], count: int | None = None, target: float | None = None
) -> Baseline:
    """Level and scatter of the first ``count`` readings.

    Parameters
    ----------
    values : sequence of float
        In the order measured, all in one unit.
    count : int, optional
        How many of the first readings are the baseline; left out: all of them.
    target : float, optional
        A stated level to hold the series against; left out: the baseline's mean.

    Raises
    ------
    InputError
        A count beyond the readings there are.
    FitError
        Fewer than :data:`FEWEST` readings, or readings that do not differ at all.
    """
    count = len(values) if count is None else count
    if count > len(values):
        raise InputError(
            f"a baseline of {count} readings is more than the {len(values)} there are.",
            "baseline",
            count,
            f"State one of {FEWEST} to {len(values)}.",
        )
    if count < FEWEST:
        raise FitError(
            f"cannot tell yet: {noun_count(count, 'reading is', 'readings are')} too few for "
            f"limits, {FEWEST} are needed.",
            "baseline",
            count,
            "Repeat the check the same way until there are enough.",
        )
    ranges = np.abs(np.diff(np.asarray(values[:count], dtype=float)))
    mean_range = float(ranges.mean())
    if mean_range == 0.0:
        raise FitError(
            f"cannot tell: the {count} readings of the baseline are all the same, so the "
            "smallest step of the instrument hides their scatter.",
            "baseline",
            values[0],
            "Read one more digit, or measure with a finer instrument.",
        )
    level = float(np.mean(values[:count])) if target is None else target
    return Baseline(
        count, level, target, mean_range, mean_range / D2_PAIRS, sigma_u_relative(count)
    )


def sigma_u_relative(count: int) -> float:
    """Relative standard uncertainty of sigma from the mean moving range of ``count`` readings.

    For independent normal readings, with D a difference of two neighbours: var|D| = 2 − 4/π,
    cov of neighbouring |D| (correlation −½) = (4/π)·(√¾ + π/12 − 1), and the mean of |D| is
    2/√π, all in units of sigma. Tends to √(0.826 / count).
    """
    pairs = count - 1
    variance = 2.0 - 4.0 / math.pi
    neighbours = 4.0 / math.pi * (math.sqrt(0.75) + math.pi / 12.0 - 1.0)
    of_mean = (pairs * variance + 2.0 * (pairs - 1) * neighbours) / pairs**2
    return math.sqrt(of_mean / (4.0 / math.pi))


def level_text(value: float, sigma: float) -> str:
    """A level with as many decimals as the scatter makes worth reading: to a tenth of sigma."""
    decimals = max(0, 1 - math.floor(math.log10(sigma)))
    return fixed(value, min(decimals, 12))


def individuals_chart(
    values: Sequence[float],
    *,
    baseline: int | None = None,
    target: float | None = None,
    more_rules: bool = False,
    width: float = WIDTH,
    first: int = 0,
    display: float = 0.0,
) -> Individuals:
    """Hold each reading against limits from a baseline.

    Limits: centre ± ``width`` · mean moving range ÷ 1.128, 3 in the handbook; a moving range up to
    3.267 times its mean, wider by as much as ``width`` is wider than 3.

    Parameters
    ----------
    values, baseline, target
        As for :func:`baseline_of`.
    more_rules : bool
        Whether a step beyond its limit, and :data:`RUN` readings in a row on one side of the
        centre, are signals too. They find a shift sooner and double the false alarms
        (benchmarks/control_false_alarms.py).
    width : float, > 0
        Half-width of the limits in standard deviations: see :func:`.limits.limit_width`.
    first : int
        Place of the first reading that may be a signal.
    display : float, ≥ 0
        Smallest step of the instrument: limits are wider by what it hides (its standard
        uncertainty, step ÷ √12, JCGM 100:2008, 4.3.7) and by half a step.

    Raises
    ------
    InputError, FitError
        As :func:`baseline_of`.
    """
    base = baseline_of(values, baseline, target)
    reach = width * math.hypot(base.sigma, display / math.sqrt(12.0)) + display / 2
    lower, upper = base.center - reach, base.center + reach
    ranges = np.abs(np.diff(np.asarray(values, dtype=float)))
    most = (1 + (D4_PAIRS - 1) * width / WIDTH) * base.mean_moving_range
    signals: list[Signal] = []
    for index, value in enumerate(values):
        if not lower <= value <= upper:
            side, limit = (
                ("above the upper", upper) if value > upper else ("below the lower", lower)
            )
            words = f"{value:.6g} is {side} limit, {level_text(limit, base.sigma)}"
            signals.append(Signal(index, "beyond a limit", value, words))
        if more_rules and index and ranges[index - 1] > most:
            words = (
                f"a step of {level_text(float(ranges[index - 1]), base.sigma)} from the reading "
                f"before, where up to {level_text(most, base.sigma)} is usual"
            )
            signals.append(Signal(index, "jump", value, words))
    if more_rules:
        signals += _runs(values, base.center)
    return Individuals(
        tuple(values), base, lower, upper, tuple(map(float, ranges)), most, more_rules,
        tuple(sorted((s for s in signals if s.index >= first), key=lambda signal: signal.index)),
    )  # fmt: skip


def _runs(values: Sequence[float], center: float) -> list[Signal]:
    """Where a run on one side becomes long enough; once for each run."""
    found = []
    side, length = 0, 0
    for index, value in enumerate(values):
        now = int(value > center) - int(value < center)
        length = length + 1 if now and now == side else abs(now)
        side = now
        if length == RUN:
            where = "above" if side > 0 else "below"
            found.append(
                Signal(index, "run on one side", value, f"the {RUN}th in a row {where} the centre")
            )
    return found


def ewma_chart(
    values: Sequence[float],
    *,
    center: float,
    sigma: float,
    weight: float = USUAL_WEIGHT,
    width: float = WIDTH,
    first: int = 0,
) -> Ewma:
    """Average a series with weights that fade, and hold the average against its limits.

    z₀ = centre, zₜ = weight·xₜ + (1 − weight)·zₜ₋₁; limits centre ± ``width``·sigma·
    √(weight/(2 − weight)·(1 − (1 − weight)²ᵗ)), which settle as t grows.

    Parameters
    ----------
    values : sequence of float
    center : float
        Target, or mean of a baseline.
    sigma : float, > 0
        Standard deviation of one reading.
    weight : float, above 0 to 1
        Of the newest reading; the handbook finds 0.2 to 0.3 usual. Small weights find slow drift.
    width, first
        As for :func:`individuals_chart`.

    Raises
    ------
    InputError
        A weight or sigma out of its range.
    """
    if not 0.0 < weight <= 1.0:
        raise InputError(
            f"a weight of {weight:g} is not above 0 and up to 1.",
            "weight",
            weight,
            "0.2 to 0.3 is usual.",
        )
    if not (sigma > 0.0 and math.isfinite(sigma)):
        raise InputError(
            f"a standard deviation of {sigma:g} is not above 0.",
            "sigma",
            sigma,
            "Take it from a baseline.",
        )
    settled = width * sigma * math.sqrt(weight / (2.0 - weight))
    average, averages, lower, upper = center, [], [], []
    signals = []
    for index, value in enumerate(values):
        average = weight * value + (1.0 - weight) * average
        reach = settled * math.sqrt(1.0 - (1.0 - weight) ** (2 * (index + 1)))
        averages.append(average)
        lower.append(center - reach)
        upper.append(center + reach)
        if index >= first and abs(average - center) > reach:
            way, limit = ("up", upper[-1]) if average > center else ("down", lower[-1])
            words = (
                f"the average has drifted {way} to {level_text(average, sigma)}, beyond its limit "
                f"{level_text(limit, sigma)}"
            )
            signals.append(Signal(index, "drift", average, words))
    return Ewma(
        tuple(values), tuple(averages), center, sigma, weight, tuple(lower), tuple(upper),
        center - settled, center + settled, tuple(signals),
    )  # fmt: skip
