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
NEAR = 4.0
"""A ceiling rests on flows with up to this many times its loss (benchmarks/comparison_calls.py)."""
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


def lack_of_fit(posterior: Posterior, deepest: float = 1.0) -> float | None:
    """F test: misfit of the flows' means against the scatter within flows.

    The middle curve is held against the means; what it has used up of each
    (:attr:`.Posterior.used_up`), deliveries counted, is taken off the degrees of freedom.

    Parameters
    ----------
    posterior : Posterior
    deepest : float, 0 to 1
        Flows with more fitted loss do not count: a curve may miss what happens far above a ceiling
        and be right about the ceiling. 1: all count.

    Returns
    -------
    float or None
        Probability of as much misfit of a curve that is right; None without replicates or with no
        flow to spare.
    """
    from scipy.special import fdtrc

    count = sum(b.count for b in posterior.blocks)
    within = sum(b.within for b in posterior.blocks)
    replicates = count - sum(len(b.flow) for b in posterior.blocks)
    squares, spare = 0.0, 0.0
    for i, (b, used) in enumerate(zip(posterior.blocks, posterior.used_up, strict=True)):
        h = posterior.losses[i].mean(axis=0)
        near = -np.expm1(-h) <= deepest
        away = b.mean + h
        away = away - (away[near] @ b.weight[near]) / b.weight[near].sum()
        squares += float(b.weight[near] @ away[near] ** 2)
        spare += float(near.sum() - used[near].sum())
    if replicates < 1 or spare < 1 or within <= 0:
        return None
    return float(fdtrc(spare, replicates, (squares / spare) / (within / replicates)))
