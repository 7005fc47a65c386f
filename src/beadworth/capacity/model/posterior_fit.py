"""A group of readings with its posterior: what every answer of the room starts from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.depth import (
    DEEP,
    DISAGREE_Z,
    MISFIT_LEVEL,
    SHALLOW,
    disagreement,
    misfit,
    too_deep,
)
from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.model.prepare import Group
from beadworth.capacity.model.quadrature import integrate
from beadworth.capacity.model.robust import reweigh

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Weighed:
    """A group with its posterior and the weights it was computed with."""

    group: Group
    posterior: Posterior
    weight: Array
    fitted: Array
    """ln(g/mm) per reading, nan where its temperature was not fitted."""
    loss: Array
    """Fitted loss per reading, nan likewise."""
    log_delivery: Array
    """Mean of ln D per block."""
    u_log_delivery: Array
    deep: NDArray[np.bool_]
    """Readings too deep in the knee to be used."""
    notes: tuple[str, ...]

    @property
    def sd(self) -> float:
        """Median of the posterior of σ."""
        cumulated = np.cumsum(self.posterior.sigma_weight) - self.posterior.sigma_weight / 2
        return float(np.exp(np.interp(0.5, cumulated, np.log(self.posterior.sigma))))


def weigh(group: Group, loss: float, *, hold_depth: bool = True) -> Weighed:
    """Integrate a group, again where coupons are out of line, scatter differs, or depth misleads.

    Depth first (:mod:`.depth`): the curve is fitted to coupons up to 35 % of loss; where it does
    not hold them, or (``hold_depth``) they put the ceilings higher than the shallow ones do, to
    those up to 15 %.
    """
    deep = too_deep(group, loss, DEEP)
    weighed = _settle(group, loss, deep)
    shallow = too_deep(group, loss, SHALLOW)
    p = misfit(weighed.posterior)
    bad = p is not None and p < MISFIT_LEVEL
    if (shallow == deep).all() or not (bad or hold_depth):
        return _with_depth(weighed, deep, "")
    without = _settle(group, loss, shallow)
    z = disagreement(weighed.posterior, without.posterior)
    if bad:
        return _with_depth(without, shallow, f"lack of fit p = {p:.2g}")
    if z > DISAGREE_Z:
        return _with_depth(without, shallow, f"the ceilings come out {z:.1f} sd higher")
    return _with_depth(weighed, deep, "")


def _settle(group: Group, loss: float, deep: NDArray[np.bool_]) -> Weighed:
    """Fit, look for odd coupons and unequal scatter, fit again; three times at most."""
    weight = np.where(deep, 0.0, 1.0)
    notes: tuple[str, ...] = ()
    spent = 2 * len(group.temperatures) + 2
    for _ in range(3):
        weighed = _expect(group, integrate(group.blocks(weight), loss), weight, notes)
        found = reweigh(group, np.where(deep, np.nan, weighed.fitted), weighed.loss, loss, spent)
        new = np.where(deep, 0.0, found.weight)
        if np.allclose(new, weight, rtol=0.05):
            break
        weight, notes = new, found.notes
    return replace(weighed, notes=notes)


def _with_depth(weighed: Weighed, deep: NDArray[np.bool_], why: str) -> Weighed:
    """Say which coupons lay too deep in the knee to be used."""
    if not deep.any():
        return weighed
    count = int(deep.sum())
    what = f"{count} coupon{'s' if count != 1 else ''}"
    if why:
        note = (
            f"the coupons deep in the knee do not agree with the rest ({why}), as when a drive "
            f"loses its grip: {what} with more than {100 * SHALLOW:.0f} % of loss left the curve."
        )
    else:
        note = f"{what} with more than {100 * DEEP:.0f} % of loss did not enter the curve."
    return replace(weighed, deep=deep, notes=(*weighed.notes, note))


def _expect(group: Group, posterior: Posterior, weight: Array, notes: tuple[str, ...]) -> Weighed:
    """Posterior means of the curve at every reading, and of the delivery."""
    fitted = np.full(len(group.readings), np.nan)
    loss = np.full(len(group.readings), np.nan)
    log_delivery, u = [], []
    variance = float(posterior.sigma_weight @ posterior.sigma**2)
    for i, block in enumerate(posterior.blocks):
        mean_f, mean_d, var_d = np.zeros(len(block.flow)), 0.0, 0.0
        total = block.weight.sum()
        at = group.members(block.temperature_c)
        flows, place = np.unique(group.flow[at], return_inverse=True)
        mean_f = np.zeros(len(flows))
        known = np.searchsorted(flows, block.flow)
        second = 0.0
        for cloud in posterior.clouds:
            log_f = posterior.delivery(cloud, i, flows)
            w = cloud.ceiling_weight[i]
            d = (block.mean - log_f[..., known]) @ block.weight / total
            mean_f += np.einsum("nc,nck->k", w, log_f)
            mean_d += float((w * d).sum())
            second += float((w * d * d).sum())
        var_d = max(second - mean_d**2, 0.0) + variance / total
        fitted[at] = (mean_d + mean_f)[place]
        loss[at] = -np.expm1(mean_f)[place]
        log_delivery.append(mean_d)
        u.append(np.sqrt(var_d))
    return Weighed(
        group,
        posterior,
        weight,
        fitted,
        loss,
        np.array(log_delivery),
        np.array(u),
        np.zeros(len(weight), dtype=np.bool_),
        notes,
    )
