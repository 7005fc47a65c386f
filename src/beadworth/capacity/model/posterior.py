"""What the readings of a group say of ceilings and curves: equally likely draws."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import UNKNOWN_SCATTER, Block, Scatter
from beadworth.capacity.model.curve import CurveModel, crowds, curve_model
from beadworth.capacity.model.sampling import FULL, Draws, Effort, sample
from beadworth.capacity.model.starts import modes

Array = NDArray[np.float64]

TOLD = 2000
"""Draws that curves, bands and predictions are read from."""


@dataclass(frozen=True)
class Posterior:
    """Draws of everything unknown of one group.

    Loss counts against the lowest flow of its block, where the delivery is read.
    """

    blocks: tuple[Block, ...]
    model: CurveModel
    draws: Draws
    rows: Array
    """(draws, unknowns), at most :data:`TOLD`."""
    ceiling: Array
    """Ceilings of the same draws, (draws, blocks), mm³/s."""
    sigma: Array
    """Relative scatter of a coupon, of each draw."""

    def loss_exponent(self, block: int, flow_mm3_s: Array) -> Array:
        """−ln of delivered at some flows over delivered at the lowest, (draws, flows)."""
        lowest = float(self.blocks[block].flow[0])
        h = self.model.loss_exponents(self.rows, block, np.append(lowest, flow_mm3_s))
        return h[:, 1:] - h[:, :1]

    @cached_property
    def losses(self) -> tuple[Array, ...]:
        """−ln f at the flows weighed of every block, each (draws, flows)."""
        return tuple(self.loss_exponent(i, b.flow) for i, b in enumerate(self.blocks))

    def deliveries(self, block: int) -> tuple[Array, Array]:
        """Mean and standard deviation of ln D, delivered at the lowest flow, for each draw."""
        b, h = self.blocks[block], self.losses[block]
        if b.shared is not None:
            v = self.sigma[:, None, None] ** 2 * b.shared
            v += self.model.unshared_covariance(b.flow) * h[:, :, None] * h[:, None, :]
            one = np.linalg.solve(v, np.ones((len(h), len(b.flow), 1)))[..., 0]
            total = one.sum(axis=1)
            return ((b.mean + h) * one).sum(axis=1) / total, total**-0.5
        inverse = 1.0 / self.variances(h, b.weight, crowds(b.flow))
        total = inverse.sum(axis=1)
        return ((b.mean + h) * inverse).sum(axis=1) / total, total**-0.5

    def variances(self, h: Array, weight: Array | float, crowd: Array | float = 1.0) -> Array:
        """Variance of the mean of coupons of some weight where −ln f is ``h`` (draws, flows).

        ``crowd``: flows that share the part no common curve holds (:func:`.curve.crowds`).
        """
        return self.sigma[:, None] ** 2 / weight + crowd * (self.model.usual_unshared * h) ** 2

    def next_mean(self, block: int, flow_mm3_s: float) -> tuple[Array, Array]:
        """Mean and variance of the ln that another coupon's flow delivers, of each draw.

        A flow that was weighed before has shown its own part of what no shared curve holds.
        """
        b = self.blocks[block]
        h = self.loss_exponent(block, np.array([flow_mm3_s]))[:, 0]
        level, u = self.deliveries(block)
        mean, own = level - h, (self.model.usual_unshared * h) ** 2
        (at,) = np.nonzero(b.flow == flow_mm3_s)
        if at.size:
            seen = self.sigma**2 / b.weight[at[0]]
            believed = own / (own + seen)
            mean = mean + believed * (b.mean[at[0]] - mean)
            own = believed * seen
        return mean, own + u**2

    @cached_property
    def used_up(self) -> tuple[Array, ...]:
        """Variance of the fitted mean ÷ that of the mean itself, for every flow of every block.

        At most 1: a curve that misses its coupons is less certain than they are, and has used up
        no more than them for that.
        """
        used = []
        for i, b in enumerate(self.blocks):
            h = self.losses[i]
            mean, u = self.deliveries(i)
            fitted = mean[:, None] - h
            own = self.variances(h, b.weight, crowds(b.flow))
            share = (fitted.var(axis=0) + (u**2).mean()) / own.mean(axis=0)
            used.append(np.minimum(share, 1.0))
        return tuple(used)

    def effective_parameters(self) -> float:
        """Σ of :attr:`used_up`: what the curve has used up."""
        return float(sum(own.sum() for own in self.used_up))


def integrate(
    blocks: tuple[Block, ...],
    loss: float,
    *,
    scatter: Scatter = UNKNOWN_SCATTER,
    effort: Effort = FULL,
    seed: int = 0,
) -> Posterior:
    """Draw from the posterior of a group's blocks; the same seed gives the same draws."""
    model = curve_model(blocks, loss, scatter)
    draws = sample(model, modes(model), effort, seed)
    rows = draws.rows[:TOLD]
    return Posterior(blocks, model, draws, rows, model.ceilings(rows), model.scatter(rows))
