"""Pooling where some trials bound their value from one side only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from beadworth.core import CONFIDENCE
from beadworth.typical.pooling import Pooled, pool

Array = NDArray[np.float64]

MEANS, SPREADS = 161, 61
"""Grid of the mean and of τ."""
WIDEST = 4.0
"""Reach of the grid: τ up to so many spreads of the data, the mean to twice that beyond them."""


def pool_censored(
    estimates: Sequence[float],
    u: Sequence[float],
    at_least: Sequence[float] = (),
    at_most: Sequence[float] = (),
    *,
    confidence: float = CONFIDENCE,
) -> Pooled:
    """Estimates pooled with trials that say 'at least' or 'at most'.

    Parameters
    ----------
    estimates, u : sequences of float
        As for :func:`~beadworth.typical.pooling.pool`; three at least.
    at_least, at_most : sequences of float
        Bounds of the other trials, in the same unit. Their own uncertainty is taken as the median
        of ``u``: where a ladder ended, nothing else is known of it.

    Returns
    -------
    Pooled
        Without bounds that of :func:`~beadworth.typical.pooling.pool`. With them, mean and both
        intervals are those of the posterior of the random-effects model with a censored
        likelihood, Φ((μ − bound)/√(τ² + u²)) for 'at least' (J. Tobin, Econometrica 26 (1958) 24),
        the mean's and τ's priors even (A. Gelman, Bayesian Analysis 1 (2006) 515; both from
        memory). ``k``, Q, I² and weights are of the estimates alone.

    Raises
    ------
    InputError, FitError
        As :func:`~beadworth.typical.pooling.pool`.
    """
    plain = pool(estimates, u, confidence=confidence)
    if not len(at_least) and not len(at_most):
        return plain
    y, s2 = np.asarray(estimates, dtype=np.float64), np.asarray(u, dtype=np.float64) ** 2
    low, high = np.asarray(at_least, dtype=np.float64), np.asarray(at_most, dtype=np.float64)
    known = np.concatenate([y, low, high])
    spread = max(float(np.std(known, ddof=1)), float(np.sqrt(np.median(s2))))
    tau = spread * WIDEST * (np.arange(SPREADS) + 0.5) / SPREADS
    reach = 2.0 * WIDEST * spread
    mean = np.linspace(known.min() - reach, known.max() + reach, MEANS)
    weight = _posterior(mean, tau, y, s2, low, high)
    of_mean = weight.sum(axis=1)
    tail = 0.5 - confidence / 2
    ends = _quantiles(mean, _shares(of_mean), (tail, 0.5, 1.0 - tail))
    ahead = _quantiles(mean, _further(mean, tau, weight), (tail, 1.0 - tail))
    middle = float(of_mean @ mean)
    return replace(
        plain,
        mean=float(ends[1]),
        u=float(np.sqrt(of_mean @ (mean - middle) ** 2)),
        low=float(ends[0]),
        high=float(ends[2]),
        prediction_low=float(ahead[0]),
        prediction_high=float(ahead[1]),
        tau2=float(_quantiles(tau, _shares(weight.sum(axis=0)), (0.5,))[0]) ** 2,
    )


def _posterior(mean: Array, tau: Array, y: Array, s2: Array, low: Array, high: Array) -> Array:
    """Weights (means, spreads) that add to 1."""
    from scipy.special import log_ndtr

    m, t2 = mean[:, None, None], tau[None, :, None] ** 2
    v = s2 + t2
    log = -0.5 * (np.log(v) + (y - m) ** 2 / v).sum(axis=2)
    s = np.sqrt(np.median(s2) + t2)
    for bound, side in ((low, 1.0), (high, -1.0)):
        if len(bound):
            log = log + log_ndtr(side * (m - bound) / s).sum(axis=2)
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum())


def _further(mean: Array, tau: Array, weight: Array) -> Array:
    """Distribution function of a further trial's true value, at the means."""
    from scipy.special import ndtr

    step = ndtr((mean[:, None, None] - mean[None, :, None]) / tau)
    return np.asarray(np.einsum("imt,mt->i", step, weight))


def _shares(weight: Array) -> Array:
    """Distribution function at the middles of the grid's cells."""
    return np.asarray(np.cumsum(weight) - 0.5 * weight)


def _quantiles(at: Array, cumulative: Array, shares: tuple[float, ...]) -> Array:
    return np.interp(shares, cumulative, at)
