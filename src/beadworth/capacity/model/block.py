"""One temperature of a group, reduced to what the likelihood needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BELOW, ABOVE = 0.4, 1.6
"""Ceilings are looked for from 0.4 × the lowest to 1.6 × the highest flow of a block."""


@dataclass(frozen=True)
class Block:
    """A row per distinct flow."""

    temperature_c: float
    flow: Array
    mean: Array
    """Weighted mean of ln(delivered g/mm)."""
    weight: Array
    """Sum of the readings' weights (a count where all weigh 1)."""
    within: float
    """Weighted sum of squares within flows."""
    count: int
    shared: Array | None = None
    """Covariance of the means over the variance of a coupon, where errors belong together."""

    @property
    def span(self) -> tuple[float, float]:
        """Range in which a ceiling is looked for, mm³/s."""
        return BELOW * float(self.flow[0]), ABOVE * float(self.flow[-1])


@dataclass(frozen=True)
class Scatter:
    """What is known of the scatter of a coupon before any is weighed."""

    sd: float
    """Relative standard deviation."""
    worth: float
    """Replicates it counts as."""


UNKNOWN_SCATTER = Scatter(0.005, 2.0)
"""Where nothing is said: a good balance and an even spool (common practice, no source)."""
PLANNED_WORTH = 6.0
"""Replicates that the budget of a plan counts as."""


def scatter_of(planned: float | None) -> Scatter:
    """The scatter as a plan's budget has it, or as it is where nothing is said."""
    return UNKNOWN_SCATTER if planned is None else Scatter(planned, PLANNED_WORTH)
