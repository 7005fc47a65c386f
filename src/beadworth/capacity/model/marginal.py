"""Ceilings and loss curves read off the posterior of one block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.families import log_delivery
from beadworth.capacity.model.posterior import Posterior
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

    *At least*: with no knee at all the readings would be hardly less likely, or the interval
    runs out of the range ceilings are looked for in. *At most*: the interval reaches below the
    lowest flow of the block, where no delivery was seen to compare with. Both, and the
    one-sided bounds, are read from the likelihood with every other unknown at its best
    (ratio exp(−z²/2), z the normal quantile), which does not depend on how far the prior
    reaches. An 'at least' is never above the highest flow weighed; an 'at most' is never under
    the quantile of a ceiling that does lie among the flows weighed.
    """
    from scipy.special import ndtri

    m = marginal(posterior, block)
    low, flow, high = (
        float(v) for v in m.quantile(np.array([0.5 - confidence / 2, 0.5, 0.5 + confidence / 2]))
    )
    nodes = np.concatenate([c.ceiling[block].ravel() for c in posterior.clouds])
    profile = np.concatenate([c.profile[block].ravel() for c in posterior.clouds])
    none = max(c.unlimited[block] for c in posterior.clouds)
    peak = max(float(profile.max()), none)
    allowed = nodes[profile >= peak - float(ndtri(confidence)) ** 2 / 2]
    tested = posterior.blocks[block].flow
    if (
        none > peak - float(ndtri(0.5 + confidence / 2)) ** 2 / 2
        or high > 0.97 * posterior.blocks[block].span[1]
    ):
        bound = min(float(allowed.min(initial=np.inf)), float(tested[-1]))
        known = bound > float(tested[0])
        return Reach(None, bound if known else None, None, "at-least")
    if low < float(tested[0]):
        inside = float(np.interp(tested[0], m.flow, m.cumulated))
        bound = float(m.quantile(1.0 - (1.0 - confidence) * (1.0 - inside)))
        return Reach(None, None, max(float(allowed.max()), bound), "at-most")
    return Reach(flow, low, high, "interval")


def median_ceiling(posterior: Posterior, block: int) -> float:
    """Median of the posterior of one ceiling, mm³/s."""
    return float(marginal(posterior, block).quantile(0.5))


def ceiling_covariance(posterior: Posterior) -> Array:
    """Posterior covariance of the ceilings of all blocks, (mm³/s)²: they share the shape."""
    n = len(posterior.blocks)
    weight = np.concatenate([c.weight for c in posterior.clouds])
    means, variances = [], []
    for i in range(n):
        mean, variance = [], []
        for cloud in posterior.clouds:
            w = cloud.ceiling_weight[i]
            total = np.maximum(w.sum(axis=1), 1e-300)
            m = (w * cloud.ceiling[i]).sum(axis=1) / total
            mean.append(m)
            variance.append((w * (cloud.ceiling[i] - m[:, None]) ** 2).sum(axis=1) / total)
        means.append(np.concatenate(mean))
        variances.append(float(weight @ np.concatenate(variance)) / weight.sum())
    m = np.array(means)
    away = m - (m @ weight)[:, None] / weight.sum()
    return np.asarray((away * weight) @ away.T / weight.sum() + np.diag(variances))


@dataclass(frozen=True)
class Band:
    """Loss on a grid of flows: median and pointwise band."""

    flow: Array
    loss: Array
    low: Array
    high: Array


def band(
    posterior: Posterior, block: int, confidence: float, weighed_mm3_s: float, points: int = 121
) -> Band:
    """The loss curve of one block with everything else integrated out.

    The grid ends well beyond the highest flow weighed, ``weighed_mm3_s``.

    Because loss rises with flow, the band read across is the interval of the ceiling at
    any other loss: P(loss(Q) > ℓ) = P(C_ℓ < Q).
    """
    lowest, highest = posterior.blocks[block].span
    flow = np.linspace(lowest, max(highest, 1.1 * weighed_mm3_s), points)
    loss = 1.0 - np.exp(draws(posterior, block, flow))
    tail = 0.5 - confidence / 2
    low, middle, high = np.quantile(loss, [tail, 0.5, 1 - tail], axis=0)
    return Band(flow, middle, low, high)


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
