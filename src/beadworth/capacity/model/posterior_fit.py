"""A group of readings with its posterior: what every answer of the package starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.curve import curve_model
from beadworth.capacity.model.depth import DEEP, too_deep
from beadworth.capacity.model.lone import lone_odd
from beadworth.capacity.model.posterior import Posterior, integrate
from beadworth.capacity.model.prepare import Group
from beadworth.capacity.model.robust import reweigh, set_aside_note
from beadworth.capacity.model.sampling import FULL, Effort
from beadworth.capacity.model.starts import likeliest, modes
from beadworth.text import count

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
    """Mean of ln D per block, at its lowest flow."""
    u_log_delivery: Array
    deep: NDArray[np.bool_]
    """Readings too deep in the knee to be used."""
    notes: tuple[str, ...]

    @property
    def sd(self) -> float:
        """Median of the scatter of a coupon."""
        return float(np.median(self.posterior.sigma))


def weigh(group: Group, loss: float, *, effort: Effort = FULL) -> Weighed:
    """Integrate a group, odd coupons set aside and unequal scatter weighted.

    Lone coupons that no curve passes are looked for first. Then the most likely curve is fitted,
    odd replicates and unequal scatter are looked for against it, and it is fitted again, three
    times at most; then everything is integrated once.
    """
    deep = too_deep(group, loss)
    lone = lone_odd(group, loss, np.where(deep, 0.0, 1.0))
    out = deep | lone
    weight = np.where(out, 0.0, 1.0)
    notes: tuple[str, ...] = ()
    spent = 2 * len(group.temperatures) + 2
    for _ in range(3):
        model = curve_model(group.blocks(weight), loss, group.scatter)
        fitted, lost = likeliest(group, model, modes(model)[0], weight)
        found = reweigh(group, np.where(out | group.joint, np.nan, fitted), lost, loss, spent)
        new = np.where(out, 0.0, found.weight)
        if np.allclose(new, weight, rtol=0.05):
            break
        weight, notes = new, found.notes
    notes += tuple(
        set_aside_note(group, int(i), float(group.log_delivered[i] - fitted[i]))
        for i in np.flatnonzero(lone)
    )
    posterior = integrate(group.blocks(weight), loss, scatter=group.scatter, effort=effort)
    if deep.any():
        coupons = count(int(deep.sum()), "coupon")
        notes += (f"{coupons} with more than {100 * DEEP:.0f} % of loss did not enter the curve.",)
    return _expect(group, posterior, weight, deep, notes)


def _expect(
    group: Group,
    posterior: Posterior,
    weight: Array,
    deep: NDArray[np.bool_],
    notes: tuple[str, ...],
) -> Weighed:
    """Posterior means of the curve at every reading, and of the delivery."""
    fitted = np.full(len(group.readings), np.nan)
    loss = np.full(len(group.readings), np.nan)
    log_delivery, u_log_delivery = [], []
    for i, block in enumerate(posterior.blocks):
        at = group.members(block.temperature_c)
        flows, place = np.unique(group.flow[at], return_inverse=True)
        h = posterior.loss_exponent(i, flows)
        mean, u = posterior.deliveries(i)
        fitted[at] = (mean[:, None] - h).mean(axis=0)[place]
        loss[at] = -np.expm1(-h.mean(axis=0))[place]
        log_delivery.append(float(mean.mean()))
        u_log_delivery.append(float(np.hypot(mean.std(), np.sqrt((u**2).mean()))))
    return Weighed(
        group, posterior, weight, fitted, loss, np.array(log_delivery),
        np.array(u_log_delivery), deep, notes,
    )  # fmt: skip
