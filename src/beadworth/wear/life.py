"""How long a part lasts: a Weibull law from failures and from lives that have not ended.

Formulas from the NIST/SEMATECH e-Handbook of Statistical Methods: 8.4.1.3 (maximum likelihood
with units still running), 8.2.2.1 (product limit). Its printed results are the tests.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import CONFIDENCE, FitError, InputError, Problem
from beadworth.wear.reliability import plain_hours

FEWEST_FAILURES = 5
"""Failures a life law needs here; docs/explanation/wear.md shows what fewer would give."""
_WIDEST = 60.0
"""How far from the best value, in natural logarithms, the end of an interval is looked for."""

Times = NDArray[np.float64]


@dataclass(frozen=True)
class Estimate:
    """A value with the interval of its profile likelihood; None is an end that is not bounded."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Life:
    """A Weibull life law by maximum likelihood: survival exp(−(t/scale)^shape)."""

    shape: Estimate
    scale_h: Estimate
    """Characteristic life: 63 % have failed by then."""
    tenth_h: Estimate
    """By then a tenth have failed."""
    mean_h: float
    sd_h: float
    failures: int
    running: int
    """Lives that had not ended in failure when last seen (right-censored)."""
    confidence: float
    log_likelihood: float
    aic: float
    constant_rate_p: float
    """Likelihood-ratio test of shape = 1: how often chance alone would look this unlike it."""
    sentence: str


@dataclass(frozen=True)
class Survival:
    """The product-limit (Kaplan-Meier) share still running just after each failure time."""

    times_h: tuple[float, ...]
    share: tuple[float, ...]
    plotted: tuple[float, ...]
    """Share failed, half-way up each step: where the point stands in a Weibull plot."""


def product_limit(lives_h: Sequence[float], failed: Sequence[bool]) -> Survival:
    """The share still running after each failure, with lives that have not ended counted."""
    times, ended = _lives(lives_h, failed)
    share, shares, steps = 1.0, [], []
    moments = np.unique(times[ended])
    for moment in moments:
        at_risk = int((times >= moment).sum())
        now = share * (1.0 - int((times[ended] == moment).sum()) / at_risk)
        steps.append(1.0 - (share + now) / 2.0)
        share = now
        shares.append(share)
    return Survival(tuple(map(float, moments)), tuple(shares), tuple(steps))


def weibull_life(
    lives_h: Sequence[float], failed: Sequence[bool], confidence: float = CONFIDENCE
) -> Life:
    """Fit a Weibull law to lives of which some have not ended.

    The shape solves Σtᵝ·ln t / Σtᵝ − 1/β = mean of ln t over failures, which rises in β, so
    there is one root; the scale is (Σtᵝ/r)^(1/β). Intervals are those of the profile
    likelihood: values whose log likelihood is within a drop of the highest that allows for
    few failures (:func:`_drop`).

    Parameters
    ----------
    lives_h : sequence of float, > 0
        Hours each part ran until it failed, or so far.
    failed : sequence of bool
        Whether the life ended in failure.
    confidence : float, between 0 and 1

    Raises
    ------
    InputError
        A life that is not above zero, or lists of different length.
    FitError
        Fewer than :data:`FEWEST_FAILURES` failures, or all of them at one time.
    """
    times, ended = _lives(lives_h, failed)
    count = int(ended.sum())
    if count < FEWEST_FAILURES:
        raise FitError(
            f"cannot tell how lives are spread: {count} failures, {FEWEST_FAILURES} are needed.",
            "lives",
            count,
            "The bound on the rate is what these hours say; go on logging.",
        )
    if float(times.max()) == float(times[ended].min()):
        raise FitError(
            "cannot tell how lives are spread: every failure came at the same time and nothing ran "
            "longer.",
            "lives",
            float(times.max()),
            "Log each life by its own hours.",
        )
    return _fitted(times, ended, count, confidence)


def _fitted(times: Times, ended: NDArray[np.bool_], count: int, confidence: float) -> Life:
    from scipy.optimize import brentq
    from scipy.special import chdtrc

    # In units of the failures' geometric mean, so that their mean logarithm is zero.
    log_unit = float(np.log(times[ended]).mean())
    log_t = np.log(times) - log_unit

    def lack(log_shape: float) -> float:
        weight = _powers(log_t, math.exp(log_shape))
        return float((weight * log_t).sum() / weight.sum()) - math.exp(-log_shape)

    best = math.exp(brentq(lack, *_around(lack), xtol=1e-13, rtol=1e-14))
    log_scale = _log_scale(best, log_t, count)

    def by_shape(log_shape: float) -> float:
        shape = math.exp(log_shape)
        return count * (log_shape - 1.0 - shape * _log_scale(shape, log_t, count))

    top = by_shape(math.log(best))
    least = top - _drop(count, confidence)

    def life(part: float) -> Estimate:
        k = -math.log1p(-part)
        at = log_scale + math.log(k) / best
        ends = _ends(lambda x: _by_life(x, k, log_t, count) - least, at)
        return _estimate(at, *ends, log_unit)

    shape = _estimate(math.log(best), *_ends(lambda x: by_shape(x) - least, math.log(best)), 0.0)
    whole = life(1.0 - math.exp(-1.0))
    likelihood = top - count * log_unit
    mean, sd = _moments(best, whole.value)
    running = len(times) - count
    return Life(
        shape, whole, life(0.1), mean, sd, count, running, confidence, likelihood,
        4.0 - 2.0 * likelihood, float(chdtrc(1, 2.0 * (top - by_shape(0.0)))),
        _life_sentence(shape, whole, count, running, confidence),
    )  # fmt: skip


def _drop(count: int, confidence: float) -> float:
    """How far below the highest log likelihood an interval ends: (r/2)·ln(1 + t²/(r − 1)).

    Half of χ²(confidence; 1) holds for many failures only. This is what the profile likelihood
    of a normal mean from r readings asks for exactly, t being Student's with r − 1 degrees of
    freedom, and tends to the same; benchmarks/life_intervals.py measures what either holds.
    """
    from scipy.special import stdtrit

    t = float(stdtrit(count - 1, (1.0 + confidence) / 2.0))
    return count / 2.0 * math.log1p(t * t / (count - 1))


def _by_life(log_life: float, k: float, log_t: Times, count: int) -> float:
    """The highest log likelihood of any shape with a life at which the share 1 − e⁻ᵏ has failed."""
    from scipy.optimize import brentq

    beyond = log_t - log_life

    def rises(log_shape: float) -> float:
        shape = math.exp(log_shape)
        growth = np.exp(np.minimum(shape * beyond, 700.0))
        return -(count / shape - count * log_life - k * float((growth * beyond).sum()))

    shape = math.exp(brentq(rises, *_around(rises), xtol=1e-13, rtol=1e-14))
    used = float(np.exp(np.minimum(shape * beyond, 700.0)).sum())
    return count * (math.log(shape) + math.log(k) - shape * log_life) - k * used


def _log_scale(shape: float, log_t: Times, count: int) -> float:
    """Logarithm of the best scale for a shape: (Σtᵝ/r)^(1/β)."""
    most = float(log_t.max())
    return most + math.log(float(np.exp(shape * (log_t - most)).sum()) / count) / shape


def _powers(log_t: Times, shape: float) -> Times:
    """tᵝ over the largest of them."""
    weight: Times = np.exp(shape * (log_t - log_t.max()))
    return weight


def _around(rising: Callable[[float], float]) -> tuple[float, float]:
    """Two places between which a rising function passes zero."""
    low, high = -1.0, 1.0
    while rising(low) > 0.0:
        low *= 2.0
    while rising(high) < 0.0:
        high *= 1.5
    return low, high


def _ends(above: Callable[[float], float], at: float) -> tuple[float | None, float | None]:
    """Where a function that is positive at ``at`` passes zero on either side, if it does."""
    low, high = (_end(above, at, side) for side in (-1.0, 1.0))
    return low, high


def _end(above: Callable[[float], float], at: float, side: float) -> float | None:
    from scipy.optimize import brentq

    inner, step = at, 0.05
    while step < _WIDEST:
        outer = at + side * step
        if above(outer) < 0.0:
            return float(brentq(above, inner, outer, xtol=1e-12))
        inner, step = outer, step * 1.5
    return None


def _estimate(at: float, low: float | None, high: float | None, log_unit: float) -> Estimate:
    return Estimate(
        math.exp(at + log_unit),
        None if low is None else math.exp(low + log_unit),
        None if high is None else math.exp(high + log_unit),
    )


def _moments(shape: float, scale: float) -> tuple[float, float]:
    """Mean and standard deviation of a Weibull life; infinite where they are past all floats."""
    from scipy.special import gamma

    first, second = float(gamma(1.0 + 1.0 / shape)), float(gamma(1.0 + 2.0 / shape))
    if not math.isfinite(second):
        return scale * first, math.inf
    return scale * first, scale * math.sqrt(max(second - first * first, 0.0))


def _life_sentence(
    shape: Estimate, whole: Estimate, failures: int, running: int, confidence: float
) -> str:
    low = 0.0 if shape.low is None else shape.low
    high = math.inf if shape.high is None else shape.high
    if low > 1.0:
        said = "it wears out: the longer it has run, the sooner it fails next"
    elif high < 1.0:
        said = "it fails young: what has run a while is less likely to fail"
    else:
        said = "wear-out is not distinguished from failures at a constant rate"
    return (
        f"{failures} failures, {running} still running: shape {shape.value:.2f} "
        f"({low:.2f} to {high:.2f}, {confidence * 100:g} %), so {said}; "
        f"63 % fail by {plain_hours(whole.value)} h ({_reach(whole)})."
    )


def _reach(estimate: Estimate) -> str:
    low = "no lower bound" if estimate.low is None else plain_hours(estimate.low)
    high = "no upper bound" if estimate.high is None else plain_hours(estimate.high)
    return f"{low} to {high}"


def _lives(lives_h: Sequence[float], failed: Sequence[bool]) -> tuple[Times, NDArray[np.bool_]]:
    problems = []
    if len(lives_h) != len(failed):
        problems.append(
            Problem(
                f"{len(lives_h)} lives and {len(failed)} answers whether they failed.", "lives",
                len(lives_h), "Give one answer for each life.",
            )
        )  # fmt: skip
    problems += [
        Problem(f"a life of {hours:g} h is not above 0.", f"lives, number {place}", hours,
                "Correct the hours, or leave this life out.")
        for place, hours in enumerate(lives_h, 1)
        if not (hours > 0 and math.isfinite(hours))
    ]  # fmt: skip
    if problems:
        raise InputError(problems)
    return np.asarray(lives_h, dtype=float), np.asarray(failed, dtype=bool)
