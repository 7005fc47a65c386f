"""Ceilings and loss curves read off the posterior of one block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.result import Bound

Array = NDArray[np.float64]

BEYOND = 1.03
"""An interval that ends this far above the highest flow weighed has no upper end."""


@dataclass(frozen=True)
class Reach:
    """A ceiling as a number, or from one side."""

    flow: float | None
    low: float | None
    high: float | None
    bound: Bound


def reach(posterior: Posterior, block: int, confidence: float) -> Reach:
    """The ceiling of one block with its interval, or what the readings bound it by.

    *At least*: more than a tail of the draws lies above the highest flow weighed, where nothing
    was seen; the bound is the flow that all but 1 − ``confidence`` of the draws exceed, and never
    above that highest flow. *At most*: more than a tail has lost the stated loss already at
    the lowest flow, so that no delivery was seen to compare with; the bound is the flow that all
    but 1 − ``confidence`` fall short of.
    """
    tail = 0.5 - confidence / 2
    draws = posterior.draws.ceiling[:, block]
    one_low, low, flow, high, one_high = (
        float(v) for v in np.quantile(draws, [2 * tail, tail, 0.5, 1 - tail, 1 - 2 * tail])
    )
    tested = posterior.blocks[block].flow
    last, first = float(tested[-1]), float(tested[0])
    if float((draws > last).mean()) > tail and high > BEYOND * last:
        bound = min(one_low, last)
        return Reach(None, bound if bound > first else None, None, "at-least")
    if float((posterior.rows[:, block] < np.log(first)).mean()) > tail:
        return Reach(None, None, one_high, "at-most")
    return Reach(flow, low, high, "interval")


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
    """The loss curve of one block, against its lowest flow.

    The grid ends well beyond the highest flow weighed, ``weighed_mm3_s``. Because loss rises with
    flow, the band read across is the interval of the ceiling at any other loss:
    P(loss(Q) > ℓ) = P(C_ℓ < Q).
    """
    lowest, highest = posterior.blocks[block].span
    flow = np.linspace(lowest, max(highest, 1.1 * weighed_mm3_s), points)
    loss = -np.expm1(-np.maximum(posterior.loss_exponent(block, flow), 0.0))
    tail = 0.5 - confidence / 2
    low, middle, high = np.quantile(loss, [tail, 0.5, 1 - tail], axis=0)
    return Band(flow, middle, low, high)
