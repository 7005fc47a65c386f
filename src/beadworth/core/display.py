"""The smallest step of a display, read off what was read from it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

STEPS = (1.0, 2.0, 5.0)
"""A display counts in ones, twos or fives of its last digit."""
ENOUGH = 8
"""Different readings that must all be multiples of two or five before a display is taken to count
so: one in 256 would be by chance."""


def display_step(read: Sequence[float]) -> float:
    """Smallest step of the display that all these readings can have been read from.

    Parameters
    ----------
    read : sequence of float
        As read, in one unit; at least one.

    Returns
    -------
    float
        1, 2 or 5 in the last decimal used, in their unit; 0 where they have more than six decimals,
        as computed values do.
    """
    values = np.asarray(read, dtype=np.float64)
    for places in range(7):
        unit = 10.0**-places
        counts = np.round(values / unit)
        if np.abs(values / unit - counts).max() < 1e-3:
            many = len(np.unique(counts)) >= ENOUGH
            return unit * max(s for s in STEPS if s == 1.0 or (many and not (counts % s).any()))
    return 0.0
