"""What a coupon at each flow would tell of the ceilings, as the readings so far have it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from beadworth.capacity.model.marginal import Reach, reach
from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.model.posterior_fit import Weighed
from beadworth.capacity.model.prepare import SHARED
from beadworth.core import FitError, Problem

Array = NDArray[np.float64]

DEEPEST_LOSS = 0.25
"""No coupon is asked for at a flow with more loss than this."""
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)


@dataclass
class Prospect:
    """One group: targets, candidate settings, their covariance, and the noise of a coupon."""

    weighed: Weighed
    temperature: Array
    flow: Array
    covariance: Array
    """(targets + candidates)²; ceilings in units of their present interval per sd."""
    noise: Array
    """Variance of ln of one coupon at each candidate."""
    width: Array
    """Present width of each ceiling."""
    one_sided: list[bool]

    @property
    def targets(self) -> int:
        """Ceilings of the group."""
        return len(self.width)


def prospect(
    weighed: Weighed, confidence: float, limits: tuple[float, float] | None, step: float
) -> Prospect:
    """What coupons at the flows that may be asked would tell of a group's ceilings.

    Parameters
    ----------
    limits : (low, high) or None
        Flows that may be asked, mm³/s; None: as the readings suggest.
    step : float
        Flows are multiples of it, mm³/s.

    Raises
    ------
    FitError
        No multiple of the step lies within the limits.
    """
    posterior = weighed.posterior
    reaches = [reach(posterior, i, confidence) for i in range(len(posterior.blocks))]
    settings = [_settings(posterior, i, r, limits, step) for i, r in enumerate(reaches)]
    temperature = np.concatenate(
        [np.full(len(q), b.temperature_c) for q, b in zip(settings, posterior.blocks, strict=True)]
    )
    seen, variance = zip(
        *(_seen(posterior, i, flows) for i, flows in enumerate(settings)), strict=True
    )
    covariance = np.cov(np.hstack([posterior.ceiling, *seen]), rowvar=False)
    n = len(posterior.blocks)
    width = [_width(posterior, i, confidence, r) for i, r in enumerate(reaches)]
    scale = np.array(width) / np.sqrt(np.maximum(np.diag(covariance)[:n], 1e-12))
    covariance[:n] *= scale[:, None]
    covariance[:, :n] *= scale
    return Prospect(
        weighed,
        temperature,
        np.concatenate(settings),
        covariance,
        np.concatenate(variance),
        np.array(width),
        [r.bound != "interval" for r in reaches],
    )


def _width(posterior: Posterior, block: int, confidence: float, r: Reach) -> float:
    if r.low is not None and r.high is not None:
        return r.high - r.low
    tails = [0.5 - confidence / 2, 0.5 + confidence / 2]
    low, high = np.quantile(posterior.draws.ceiling[:, block], tails)
    return float(high - low)


def _settings(
    posterior: Posterior,
    block: int,
    r: Reach,
    limits: tuple[float, float] | None,
    step: float,
) -> Array:
    """Candidate flows of a block.

    Beyond the highest flow weighed only as far as the loss stays moderate: deeper in the knee
    a coupon tells of the drive more than of the ceiling.
    Below the lowest only where no plateau was seen.
    """
    weighed = posterior.blocks[block].flow
    low, high = limits or (
        float(weighed[0]) * (0.5 if r.bound == "at-most" else 1.0),
        float(weighed[-1]) * (1.4 if r.bound == "at-least" else 1.15),
    )
    first, last = int(np.ceil(low / step - 1e-9)), int(np.floor(high / step + 1e-9))
    if last < max(first, 1):
        raise FitError(
            Problem(
                f"no multiple of {step:g} mm³/s lies from {low:g} to {high:g} mm³/s.",
                "flow limits",
                remedy="Widen the limits or make the step finer.",
            )
        )
    flows = np.asarray(np.arange(max(first, 1), last + 1) * step, dtype=np.float64)
    loss = -np.expm1(-np.median(posterior.loss_exponent(block, flows), axis=0))
    moderate = flows[loss <= DEEPEST_LOSS]
    return moderate if moderate.size else flows[:1]


def _seen(posterior: Posterior, block: int, flows: Array) -> tuple[Array, Array]:
    """What a coupon at each flow would weigh, as ln, of each draw; and the variance of one coupon.

    The delivery of a block is drawn too: it is shared by all settings of the block.
    """
    h = posterior.loss_exponent(block, flows)
    mean, u = posterior.deliveries(block)
    # quantiles of a normal in a fixed order of their own, so that no random numbers enter
    places = np.mod(np.arange(1, len(mean) + 1) * np.sqrt(_PRIMES[block % len(_PRIMES)]), 1.0)
    level = mean + u * ndtri(np.clip(places, 1e-4, 1 - 1e-4))
    return level[:, None] - h, posterior.variances(h, 1.0 / (1 + SHARED**2)).mean(axis=0)
