"""How deep into the knee readings are used.

A coupon that lost a third of its mass says how far the drive holds, and next to nothing of the
flow at which 2 % is lost.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.model.prepare import Group

DEEP = 0.35
"""Coupons with more loss do not enter the curve."""
_KEPT = 2
"""Flows of a temperature with at least the stated loss that stay, however deep."""


def too_deep(group: Group, stated_loss: float, cutoff: float = DEEP) -> NDArray[np.bool_]:
    """Readings beyond a loss, judged by the coupons alone: no curve enters.

    Loss of a flow is that of the median of its coupons against the best flow of its
    temperature. The two lowest flows that lost as much as the ceiling's loss always stay, and
    so do three flows in all.
    """
    cutoff = max(cutoff, 1.5 * stated_loss)
    mask = np.zeros(len(group.readings), dtype=np.bool_)
    for temperature in group.temperatures:
        at = group.members(temperature)
        flows = np.unique(group.flow[at])
        middle = np.array([np.median(group.log_delivered[at][group.flow[at] == q]) for q in flows])
        loss = -np.expm1(middle - middle.max())
        needed = np.flatnonzero(loss >= stated_loss)[:_KEPT]
        droppable = (loss > cutoff) & ~np.isin(np.arange(len(flows)), needed)
        droppable[:3] = False
        mask[at] = np.isin(group.flow[at], flows[droppable])
    return mask


def lack_of_fit(posterior: Posterior, parameters: float) -> float | None:
    """F test: misfit of the flows' means against the scatter within flows.

    The middle curve is held against the means; ``parameters`` is what it has used up, deliveries
    counted. None without replicates or with no flow to spare.
    """
    from scipy.special import fdtrc

    cells = sum(len(b.flow) for b in posterior.blocks)
    count = sum(b.count for b in posterior.blocks)
    spare = cells - parameters
    within = sum(b.within for b in posterior.blocks)
    if count <= cells or spare < 1 or within <= 0:
        return None
    squares = 0.0
    for i, b in enumerate(posterior.blocks):
        away = b.mean + posterior.loss_exponent(i, b.flow).mean(axis=0)
        away = away - (away @ b.weight) / b.weight.sum()
        squares += float(b.weight @ away**2)
    return float(fdtrc(spare, count - cells, (squares / spare) / (within / (count - cells))))
