"""What a coupon delivered, and what that says of loss."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from beadworth.trial.record import Reading


def delivered_g_per_mm(
    readings: Sequence[Reading], nominal_diameter_mm: float | None = None
) -> NDArray[np.float64]:
    """Net mass per commanded mm of filament, freed of the diameter where it was measured.

    A coupon fed from filament thicker than the rest weighs more without the hot end having
    delivered better. Where a reading has its own ``diameter_mm`` its mass is divided by its
    section and multiplied by the nominal one.

    Parameters
    ----------
    readings : sequence of Reading
    nominal_diameter_mm : float, optional
        Diameter that measured ones are referred to; left out: their mean. Only the absolute
        delivery depends on it, loss does not.

    Returns
    -------
    array (readings,), g/mm
        Negative or zero where the net mass is.
    """
    y = np.array([r.net_g / r.filament_mm for r in readings], dtype=np.float64)
    measured = np.array([r.diameter_mm or np.nan for r in readings], dtype=np.float64)
    known = np.isfinite(measured)
    if known.any():
        nominal = nominal_diameter_mm or float(measured[known].mean())
        y[known] *= (nominal / measured[known]) ** 2
    return y
