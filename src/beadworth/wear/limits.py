"""How wide limits must be that a short baseline gives and many readings are held against."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from beadworth.wear.control import D2_PAIRS, WIDTH

UNCHANGED = 8000
"""Simulated logs from which the width of wider limits is taken."""
SETTLED, MOST_AFTER = 60, 400
"""Readings of a baseline, and after it, beyond which that width is no longer reckoned anew."""


@lru_cache(maxsize=256)
def limit_width(baseline: int, after: int, level: float, weight: float = 1.0) -> float:
    """Half-width, in standard deviations of the average, that is passed as seldom as wanted.

    The quantile, over simulated logs of independent normal readings (a fixed seed), of the largest
    departure after the baseline from the mean of the baseline, in units of the scatter that the
    baseline's own moving ranges give: so that what a short baseline does not know is in it. Never
    below 3.

    Parameters
    ----------
    baseline, after : int, ≥ 2 and ≥ 1
        Readings of the baseline, and after it.
    level : float, 0 to 1
        Chance that any of those after it passes, where nothing changed.
    weight : float, above 0 to 1
        Of the newest reading; 1: single readings (:func:`individuals_chart`), else their average
        (:func:`ewma_chart`).
    """
    baseline, after = min(baseline, SETTLED), min(after, MOST_AFTER)
    rng = np.random.default_rng(0)
    values = rng.standard_normal((UNCHANGED, baseline + after))
    known = values[:, :baseline]
    sigma = np.abs(np.diff(known, axis=1)).mean(axis=1) / D2_PAIRS
    values = values - known.mean(axis=1, keepdims=True)
    average, largest = np.zeros(UNCHANGED), np.zeros(UNCHANGED)
    for index in range(baseline + after):
        average = weight * values[:, index] + (1.0 - weight) * average
        if index >= baseline:
            own = weight / (2.0 - weight) * (1.0 - (1.0 - weight) ** (2 * (index + 1)))
            largest = np.maximum(largest, np.abs(average) / math.sqrt(own))
    return max(float(np.quantile(largest / sigma, 1.0 - level)), WIDTH)
