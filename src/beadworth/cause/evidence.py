"""How strongly a power in a spectrum speaks for a wave there.

Power S over its floor is exponential with mean 1 where there is noise alone, and with mean 1 + R
where a wave of mean power R is added (complex Gaussian amplitudes: textbook). The floor itself is
estimated, and no wall's noise is quite stationary: with a floor that is known like a variance from
:data:`FLOOR_DEGREES` ÷ 2 pairs, the exponential becomes (1 + S/n)^−(n+1), a heavier tail, so that
one high spot never proves a cause. R is spread evenly over its logarithm.
"""

from __future__ import annotations

import numpy as np

FLOOR_DEGREES = 8.0
"""n above: small trusts the floor little. Chosen on simulated walls."""
SLOW_DEGREES = 1.5
"""The same where a wall holds few cycles: the floor there is hardly more than a guess. Of 504 such
powers of simulated walls without a wave there one in 20 was over 18, one in 100 over 45."""
SLOW_CYCLES, SURE_CYCLES = 3.0, 9.0
"""Cycles over a wall at which its floor is known like that, and from which as well as anywhere: the
spots round a wave, of which its floor is found, are as many as its cycles. Assumed."""
STRENGTHS = np.geomspace(3.0, 1e6, 15)
"""Mean powers R that are taken as equally likely; assumed."""
_TABLE_S = np.concatenate([[0.0], np.exp(np.linspace(np.log(0.01), np.log(1e8), 800))])


def _log_ratio(power: np.ndarray, n: float) -> np.ndarray:
    scale = 1.0 + STRENGTHS[:, None]
    with_wave = np.mean((1 + power / (n * scale)) ** (-(n + 1)) / scale, axis=0)
    return np.asarray(np.log(with_wave) + (n + 1) * np.log1p(power / n))


_TABLES = {n: _log_ratio(_TABLE_S, n) for n in np.arange(SLOW_DEGREES, FLOOR_DEGREES + 0.5, 0.5)}
"""By n in halves."""


def degrees_at(cycles: np.ndarray) -> np.ndarray:
    """Degrees n of the floor under waves of so many cycles over a wall, in halves."""
    share = (np.asarray(cycles, float) - SLOW_CYCLES) / (SURE_CYCLES - SLOW_CYCLES)
    n = SLOW_DEGREES + (FLOOR_DEGREES - SLOW_DEGREES) * np.clip(share, 0.0, 1.0)
    return np.asarray(np.rint(2 * n) / 2)


def log_ratio(power: np.ndarray, degrees: np.ndarray | float = FLOOR_DEGREES) -> np.ndarray:
    """Log evidence of a wave against noise alone, from power over the floor.

    Parameters
    ----------
    power : array, ≥ 0
        In units of the floor; not a number where nothing can be told.
    degrees : float or array
        Of the floor: halves from :data:`SLOW_DEGREES` to :data:`FLOOR_DEGREES`.

    Returns
    -------
    array
        0 where nothing can be told.
    """
    power = np.asarray(power, float)
    n = np.broadcast_to(np.asarray(degrees, float), power.shape)
    logs = np.zeros(power.shape)
    for one, table in _TABLES.items():
        here = n == one
        if here.any():
            logs[here] = np.interp(power[here], _TABLE_S, table)
    return np.where(np.isnan(power), 0.0, logs)


def log_mean(logs: np.ndarray, weights: np.ndarray | None = None) -> float:
    """Log Σ wᵢ·exp(logsᵢ), w normalised to 1; even where no log weights are given."""
    logs = np.asarray(logs, float).ravel()
    if weights is None:
        total = logs - np.log(logs.size)
    else:
        weights = np.asarray(weights, float).ravel()
        top = weights.max()
        total = logs + weights - (top + np.log(np.sum(np.exp(weights - top))))
    top = float(total.max())
    return top + float(np.log(np.sum(np.exp(total - top))))
