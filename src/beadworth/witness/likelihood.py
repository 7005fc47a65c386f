"""Likelihood of ordinal grades along a ladder, on a grid of thresholds.

A grade of k or worse at level x has probability

    (1 − λ)·F((x − μ − δₖ) ÷ s) + λ·(5 − k)/5,   k = 1 … 4,

with F the logistic function: μ is where half the looks give grade 2 or worse (δ₂ = 0), s how fast
that changes, δ₁ < 0 < δ₃ < δ₄ how far a grader's other grades lie from it, λ how often a look is a
lapse, in which every grade is as likely. Levels are scaled so that the ladder goes from 0 to 1.

Each grader has spacings of their own, which are integrated out grader by grader: no grader's idea
of a 3 moves another's threshold.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from beadworth.witness.criteria import GRADES

Array = NDArray[np.float64]
STEP = 1 / 60
MU = np.arange(-1.0, 2.0 + STEP / 2, STEP)
WIDTH = np.geomspace(0.03, 0.8, 7)
"""From a tenth to nine tenths, in shares of the ladder."""
SPACING = np.array([0.02, 0.06, 0.17, 0.45, 1.5])
LAPSE = np.array([0.005, 0.03, 0.1])
_WIDTH_PRIOR = np.exp(-0.5 * ((np.log(WIDTH) - np.log(0.15)) / 0.9) ** 2)
_LAPSE_PRIOR = np.array([0.4, 0.4, 0.2])
PRIOR = np.log(np.outer(_WIDTH_PRIOR / _WIDTH_PRIOR.sum(), _LAPSE_PRIOR).ravel())
"""Log prior of each combination of width and lapse."""
SHIFT = np.array([0.03, 0.06, 0.1, 0.16])
"""Standard deviations of graders' own thresholds about the common one, in shares of the ladder."""
SHIFT_PRIOR = np.log(np.array([0.2, 0.35, 0.3, 0.15]))
TENTHS = 4.394449154672439
"""Quantile of 0.9 less that of 0.1 of the logistic distribution: 2 ln 9."""


@lru_cache(maxsize=16)
def _tables(levels: tuple[float, ...]) -> tuple[Array, Array]:
    """Log probabilities of the grades 0, 1 and of 2, 3, 4 at each level.

    Returns
    -------
    (array, array)
        levels × 2 × μ × width × lapse × δ₁, and levels × 3 × μ × width × lapse × δ₃ × (δ₄ − δ₃).
    """
    x = np.array(levels)[:, None, None, None, None]
    s = (WIDTH / TENTHS)[None, None, :, None, None]
    mu = MU[None, :, None, None, None]
    lapse = LAPSE[None, None, None, :, None]

    def at_least(grade: int, offset: Array) -> Array:
        """Levels × μ × width × lapse × offsets."""
        felt = expit((x - mu - offset[None, None, None, None, :]) / s)
        chance: Array = (1 - lapse) * felt + lapse * (GRADES - grade) / GRADES
        return chance

    one, two = at_least(1, -SPACING), at_least(2, np.zeros(1))
    beyond = SPACING[:, None] + SPACING[None, :]
    three = at_least(3, np.repeat(SPACING, len(SPACING)))
    four = at_least(4, beyond.ravel())
    low = np.stack([1 - one, one - two], axis=1)
    high = np.stack([two - three, three - four, four], axis=1)
    return np.log(np.maximum(low, 1e-12)), np.log(np.maximum(high, 1e-12))


def grader_likelihood(levels: Array, counts: Array) -> Array:
    """Log likelihood of one grader's looks: thresholds × combinations of width and lapse.

    Parameters
    ----------
    levels : array of n, scaled so that the ladder goes from 0 to 1
    counts : array of n × 5
        How often each grade was given at each level.
    """
    low, high = _tables(tuple(np.round(levels, 6).tolist()))
    parts = [
        np.tensordot(counts[:, :2], low, axes=([0, 1], [0, 1])),
        np.tensordot(counts[:, 2:], high, axes=([0, 1], [0, 1])),
    ]
    low_log, high_log = (_averaged(part) for part in parts)
    return (low_log + high_log).reshape(len(MU), -1)


def _averaged(log: Array) -> Array:
    """Over the spacings, the last axis, each as likely."""
    peak = log.max(axis=-1, keepdims=True)
    mean: Array = np.log(np.exp(log - peak).mean(axis=-1)) + peak[..., 0]
    return mean


@lru_cache(maxsize=8)
def _blur(sd: float) -> Array:
    """Average over thresholds drawn about each one of the grid; beyond its ends as at them."""
    from scipy.special import ndtr

    edges = np.concatenate([[-np.inf], (MU[1:] + MU[:-1]) / 2, [np.inf]])
    return np.diff(ndtr((edges[None, :] - MU[:, None]) / sd), axis=1)


def together(graders: list[Array]) -> Array:
    """Log likelihood of the common threshold, graders' shifts and all the rest integrated out.

    Returns
    -------
    array over :data:`MU`
    """
    parts = []
    for sd, prior in zip(SHIFT, SHIFT_PRIOR, strict=True):
        total = PRIOR[None, :] + prior
        for one in graders:
            peak = one.max(axis=0)
            blurred = _blur(float(sd)) @ np.exp(one - peak)
            total = total + np.log(np.maximum(blurred, 1e-300)) + peak
        parts.append(total)
    stacked = np.concatenate(parts, axis=1)
    peak = stacked.max(axis=1)
    whole: Array = peak + np.log(np.exp(stacked - peak[:, None]).sum(axis=1))
    return whole
