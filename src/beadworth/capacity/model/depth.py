"""How deep into the knee readings are used.

A coupon that lost a third of its mass says where the family's far end lies, and whether the
drive slips; through the shape it also pulls on the ceiling, 25 % of loss away. A curve that
is a little wrong there would make the ceiling wrong and its interval too narrow.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.marginal import ceiling_covariance, median_ceiling
from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.model.prepare import Group

DEEP = 0.35
"""Coupons with more loss do not enter the curve."""
SHALLOW = 0.15
"""The same where the curve does not hold the coupons up to ``DEEP``."""
MISFIT_LEVEL = 0.03
"""Lack-of-fit probability under which the curve is taken not to hold them."""
DISAGREE_Z = 1.645
"""Standard deviations by which the deep coupons may raise the ceilings over what the shallow
ones say; a drive that loses its grip makes the knee look later and sharper than it is."""
_KEPT = 2
"""Flows of a temperature with at least the stated loss that stay, however deep."""


def too_deep(group: Group, stated_loss: float, cutoff: float) -> NDArray[np.bool_]:
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


def misfit(posterior: Posterior) -> float | None:
    """Lack-of-fit probability of the best shape on the grids; None without replicates."""
    return lack_of_fit(posterior, posterior.least_ss, posterior.least_parameters)


def disagreement(deep: Posterior, shallow: Posterior) -> float:
    """Mean ceiling with the deep coupons less without, in its standard deviations.

    The estimate with more coupons is the sharper of two estimates of one thing, so the variance
    of their difference is the difference of their variances (J.A. Hausman, Econometrica 46
    (1978) 1251; from memory).
    """
    means = [np.mean([median_ceiling(p, i) for i in range(len(p.blocks))]) for p in (deep, shallow)]
    own = ceiling_covariance(shallow).mean()
    # another family may lead and claim more from fewer coupons; a quarter is the least believed
    variance = max(own - ceiling_covariance(deep).mean(), own / 4)
    return float((means[0] - means[1]) / np.sqrt(variance))


def lack_of_fit(posterior: Posterior, sum_squares: float, parameters: int) -> float | None:
    """F test: misfit of the flows' means against the scatter within flows.

    Parameters
    ----------
    sum_squares : float
        Weighted squares of the means about the curve.
    parameters : int
        Of the curve, deliveries not counted.
    """
    from scipy.special import fdtrc

    cells = sum(len(b.flow) for b in posterior.blocks)
    count = sum(b.count for b in posterior.blocks)
    spare = cells - len(posterior.blocks) - parameters
    within = sum(b.within for b in posterior.blocks)
    if count <= cells or spare < 1 or within <= 0:
        return None
    return float(fdtrc(spare, count - cells, (sum_squares / spare) / (within / (count - cells))))
