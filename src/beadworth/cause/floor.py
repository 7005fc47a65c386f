"""The noise floor under a spectrum, found without being lifted by what stands out of it."""

from __future__ import annotations

import numpy as np

EULER_GAMMA = 0.5772156649
"""−E[log S] of exponential S with mean 1."""
CUT = 1.9
"""Residual of log power above which a spot is no noise: an exponential lies there once in 43.
Chosen on simulated walls."""
MOST = 6.0
"""Times the floor above which a spot is no noise: an exponential lies there once in 400."""
STEPS = 8
ROUNDS = 6
"""Fits, each without what stood out of the one before."""


def fit_log_floor(
    power: np.ndarray, design: np.ndarray, weights: np.ndarray | None = None
) -> np.ndarray:
    """Coefficients of log floor = design @ coefficients, robust against lines.

    Parameters
    ----------
    power : array (n,)
        Raw power of independent spots.
    design : array (n, m)
        Smooth functions at these spots.
    weights : array (n,), optional
        Weight of each spot; even where left out.

    Notes
    -----
    log of exponential power has mean log floor − 0.5772; a plain least-squares fit of the logs is
    therefore unbiased, and its upper tail can be cut without much bias.
    """
    y = np.log(power + 1e-300) + EULER_GAMMA
    ok = np.ones(y.size, bool)
    root = np.ones(y.size) if weights is None else np.sqrt(weights)
    coefficients = np.zeros(design.shape[1])
    for _ in range(ROUNDS):
        a = design[ok] * root[ok, None]
        coefficients = np.linalg.solve(a.T @ a, a.T @ (y[ok] * root[ok]))
        again = (y - design @ coefficients) < CUT
        if np.array_equal(again, ok):
            break
        ok = again
    return coefficients


def fit_floor(power: np.ndarray, design: np.ndarray) -> np.ndarray:
    """The same by maximum likelihood of exponential powers (Whittle), from that fit on.

    Logs of powers have a long lower tail, to which least squares give way; where few spots hold a
    floor this is the better by a third. Spots over :data:`MOST` times the floor are no noise.
    """
    coefficients = fit_log_floor(power, design)
    usual = 1 - MOST / np.expm1(MOST)  # mean of an exponential cut there
    for _ in range(STEPS):
        over = power / np.exp(design @ coefficients)
        if np.count_nonzero(over < MOST) < max(power.size / 2, 2 * design.shape[1]):
            break  # too few are noise to tell it better
        a = design[over < MOST]
        score = a.T @ (over[over < MOST] / usual - 1)
        coefficients = coefficients + np.clip(np.linalg.solve(a.T @ a, score), -1, 1)
    return coefficients


def red_design(logs: np.ndarray, order: int = 4) -> np.ndarray:
    """Powers of log k (cycles/mm): a floor that may rise towards long waves as it likes.

    Parameters
    ----------
    logs : array (n,)
    order : int
        Highest power.
    """
    return np.vander(logs, order + 1, increasing=True)
