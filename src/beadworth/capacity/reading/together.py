"""Intervals that hold at several temperatures at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def intervals_together(draws: Array, confidence: float) -> Array:
    """Ends that all values of a draw keep together with a probability.

    Parameters
    ----------
    draws : array (draws, values)
        Equally likely; the values of a row belong together.
    confidence : float, 0 to 1

    Returns
    -------
    array (values, 2)
        Each value's own order statistics, all of one rank from either end, the rank such that a
        share ``confidence`` of the rows lies within all of them. One value: its usual interval.

    Notes
    -----
    The simultaneous credible region of J. Besag, P. Green, D. Higdon and K. Mengersen, 'Bayesian
    computation and stochastic systems', Statistical Science 10 (1995) 3, section 6.3 (from
    memory).
    """
    count = len(draws)
    order = np.argsort(draws, axis=0, kind="stable")
    rank = np.empty_like(order)
    np.put_along_axis(rank, order, np.arange(count)[:, None], axis=0)
    outermost = np.maximum(rank, count - 1 - rank).max(axis=1)
    at = int(np.sort(outermost)[min(int(np.ceil(confidence * count)), count) - 1])
    ranked = np.take_along_axis(draws, order, axis=0)
    return np.stack([ranked[count - 1 - at], ranked[at]], axis=1)


def paired_differences(baseline: Array, candidate: Array) -> Array:
    """Candidate less baseline for draws of two independent groups.

    Parameters
    ----------
    baseline, candidate : arrays (draws, values)
        Values of a row belong together; rows of the two do not.

    Returns
    -------
    array (draws × pairings, values)
        Each row of one against :data:`PAIRINGS` rows of the other, evenly apart.
    """
    rows = min(len(baseline), len(candidate))
    shifts = np.unique(np.linspace(0, rows, PAIRINGS, endpoint=False).astype(int))
    pairs = [np.roll(candidate[:rows], int(s), axis=0) - baseline[:rows] for s in shifts]
    return np.concatenate(pairs)


PAIRINGS = 40
"""All 400 × 400 pairs of draws say no more than this many each: the draws themselves limit it."""
