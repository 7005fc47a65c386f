"""What a coupon delivered, and what that says of loss."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.trial.record import Balance, Reading


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


@dataclass(frozen=True)
class CouponLoss:
    """Loss of one coupon against the references of its own block."""

    reading: Reading
    loss: float
    u_loss: float
    """Standard uncertainty: balance on the coupon, scatter of the references."""


def coupon_losses(
    readings: Sequence[Reading], balance: Balance | None = None
) -> tuple[CouponLoss, ...]:
    """Loss of every coupon that counts, relative to the references of its block.

    A block is one rig, material and temperature. Without references in a block its lowest
    flow stands in for them. Uncertainty: two weighings of the coupon (readability as a
    rectangle, repeatability) and the references' mean; the curve's own scatter is the
    capacity room's to add.
    """
    balance = balance or Balance()
    weighing = math.sqrt(2 * (balance.readability_g**2 / 12 + balance.repeatability_g**2))
    blocks: dict[tuple[str, str, float], list[int]] = {}
    kept = [reading for reading in readings if not reading.void]
    for index, reading in enumerate(kept):
        blocks.setdefault((reading.rig, reading.material, reading.temperature_c), []).append(index)
    delivered = delivered_g_per_mm(kept)
    found: dict[int, CouponLoss] = {}
    for members in blocks.values():
        anchors = [i for i in members if kept[i].reference]
        if not anchors:
            lowest = min(kept[i].flow_mm3_s for i in members)
            anchors = [i for i in members if kept[i].flow_mm3_s == lowest]
        mean = float(delivered[anchors].mean())
        each = [weighing / kept[i].filament_mm for i in anchors]
        scatter = float(delivered[anchors].std(ddof=1)) if len(anchors) > 1 else 0.0
        u_mean = max(scatter, *each) / math.sqrt(len(anchors))
        for i in members:
            ratio = float(delivered[i]) / mean
            u_own = weighing / kept[i].filament_mm
            found[i] = CouponLoss(
                kept[i], 1 - ratio, math.hypot(u_own / mean, ratio * u_mean / mean)
            )
    return tuple(found[i] for i in range(len(kept)))
