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

    @property
    def span(self) -> tuple[float, float]:
        """Range in which a ceiling is looked for, mm³/s."""
        return BELOW * float(self.flow[0]), ABOVE * float(self.flow[-1])
