"""Ceilings and loss curves read off the posterior of one block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.families import log_delivery
from beadworth.capacity.posterior import Posterior
from beadworth.capacity.result import Bound

Array = NDArray[np.float64]

_DRAWS = 800


@dataclass(frozen=True)
class Marginal:
    """Posterior of one ceiling: sorted nodes and the cumulated probability at each."""

    flow: Array
    cumulated: Array

    def quantile(self, probability: Array | float) -> Array:
        """Flows below which the ceiling lies with these probabilities, mm³/s."""
        return np.asarray(np.interp(probability, self.cumulated, self.flow))

    def density(self) -> tuple[Array, Array]:
        """Density on an even grid over all but 1/10 000 of either tail."""
        low, high = (float(v) for v in self.quantile(np.array([1e-4, 1 - 1e-4])))
        grid = np.linspace(low, high, 161)
        step = grid[1] - grid[0]
        edges = np.append(grid - step / 2, grid[-1] + step / 2)
        raw = np.diff(np.interp(edges, self.flow, self.cumulated)) / step
        padded = np.pad(raw, 2, mode="edge")
        return grid, np.convolve(padded, np.array([1, 2, 3, 2, 1]) / 9.0, mode="valid")


@dataclass(frozen=True)
class Reach:
    """A ceiling as a number, or from one side."""

    flow: float | None
    low: float | None
    high: float | None
    bound: Bound


def marginal(posterior: Posterior, block: int) -> Marginal:
    """The ceiling of one block with everything else integrated out."""
    flow = np.concatenate([c.ceiling[block].ravel() for c in posterior.clouds])
    weight = np.concatenate([c.ceiling_weight[block].ravel() for c in posterior.clouds])
    order = np.argsort(flow, kind="stable")
    flow, weight = flow[order], weight[order]
    cumulated = np.cumsum(weight) - weight / 2
    return Marginal(flow, cumulated / weight.sum())


def reach(posterior: Posterior, block: int, confidence: float) -> Reach:
    """The ceiling of one block with its interval, or what the readings bound it by.

    *At least*: had there been no knee at all, the readings would be hardly less likely
    (likelihood ratio to the most likely ceiling inside the two-sided limit). *At most*:
    the interval reaches below the lowest flow of the block, where no delivery was seen to
    compare with. The one-sided bound is where the marginal likelihood falls to
    exp(−z²/2), z the one-sided normal quantile. Neither depends on how far the prior reaches.
    """
    from scipy.special import ndtri

    m = marginal(posterior, block)
    grid, density = m.density()
    peak = float(density.max())
    none = sum(c.unlimited[block] for c in posterior.clouds)
    peak = max(peak, none)
    two_sided = float(ndtri(0.5 + confidence / 2))
    one_sided = float(ndtri(confidence))
    level = peak * np.exp(-(one_sided**2) / 2)
    low, flow, high = (
        float(v) for v in m.quantile(np.array([0.5 - confidence / 2, 0.5, 0.5 + confidence / 2]))
    )
    highest = posterior.blocks[block].span[1]
    no_top = none > peak * np.exp(-(two_sided**2) / 2) or high > 0.97 * highest
    no_floor = low < float(posterior.blocks[block].flow[0])
    tested = posterior.blocks[block].flow
    if no_top:  # never more than was weighed
        bound = min(float(grid[int(np.argmax(density >= level))]), float(tested[-1]))
        known = not no_floor or bound > float(tested[0])
        return Reach(None, bound if known else None, None, "at-least")
    if no_floor:  # never less than was weighed
        last = len(grid) - 1 - int(np.argmax(density[::-1] >= level))
        return Reach(None, None, max(float(grid[last]), float(tested[0])), "at-most")
    return Reach(flow, low, high, "interval")


@dataclass(frozen=True)
class Band:
    """Loss on a grid of flows: median and pointwise band."""

    flow: Array
    loss: Array
    low: Array
    high: Array
    falls: float
    """Probability that the delivered flow at the highest tested flow is 3 % below its peak."""


def band(posterior: Posterior, block: int, confidence: float, points: int = 121) -> Band:
    """The loss curve of one block with everything else integrated out.

    Because loss rises with flow, the band read across is the interval of the ceiling at
    any other loss: P(loss(Q) > ℓ) = P(C_ℓ < Q).
    """
    b = posterior.blocks[block]
    lowest, highest = b.span
    flow = np.linspace(lowest, highest, points)
    loss = 1.0 - np.exp(draws(posterior, block, flow))
    tested = flow <= float(b.flow[-1])
    delivered = flow[tested] * (1.0 - loss[:, tested])
    falls = float((delivered[:, -1] < 0.97 * delivered.max(axis=1)).mean())
    tail = 0.5 - confidence / 2
    low, middle, high = np.quantile(loss, [tail, 0.5, 1 - tail], axis=0)
    return Band(flow, middle, low, high, falls)


def draws(posterior: Posterior, block: int, flow: Array, count: int = _DRAWS) -> Array:
    """Logarithm of f at some flows for equally likely draws, (draws, flows): no random numbers.

    Systematic draws along the sorted ceiling: each stands for 1/count of the probability.
    """
    ceilings = [c.ceiling[block].ravel() for c in posterior.clouds]
    owner = np.repeat(np.arange(len(ceilings)), [c.size for c in ceilings])
    place = np.concatenate([np.arange(c.size) for c in ceilings])
    weight = np.concatenate([c.ceiling_weight[block].ravel() for c in posterior.clouds])
    order = np.argsort(np.concatenate(ceilings), kind="stable")
    cumulated = np.cumsum(weight[order])
    at = np.searchsorted(cumulated, (np.arange(count) + 0.5) / count * cumulated[-1])
    chosen = order[at]
    out = np.empty((count, flow.size))
    for i, cloud in enumerate(posterior.clouds):
        mine = owner[chosen] == i
        if not mine.any():
            continue
        node = place[chosen[mine]]
        shape = node // cloud.ceiling[block].shape[1]
        out[mine] = log_delivery(
            cloud.family.kind,
            cloud.family.parameters(cloud.x[shape]),
            flow,
            ceilings[i][node][:, None],
            posterior.loss,
            posterior.reference_flow,
        )[:, 0, :]
    return out
