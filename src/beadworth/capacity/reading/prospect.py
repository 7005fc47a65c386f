"""What a coupon at each flow would tell of the ceilings, as the readings so far have it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.families import log_delivery
from beadworth.capacity.model.marginal import Reach, draws, marginal, reach
from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.model.posterior_fit import Weighed
from beadworth.capacity.model.prepare import SHARED
from beadworth.core import FitError, Problem

Array = NDArray[np.float64]

DEEPEST_LOSS = 0.25
"""No coupon is asked for at a flow with more loss than this."""
_DRAWS = 512
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)


@dataclass
class Prospect:
    """One group: targets, candidate settings, their covariance, and the noise of a coupon."""

    weighed: Weighed
    temperature: Array
    flow: Array
    covariance: Array
    """(targets + candidates)²; ceilings in units of their present interval per sd."""
    noise: float
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
    ceilings, seen = _joint_draws(posterior, settings)
    covariance = np.cov(np.hstack([ceilings, seen]), rowvar=False)
    variance = float(posterior.sigma_weight @ posterior.sigma**2)
    n = len(posterior.blocks)
    # the delivery of a block is uncertain beyond what the draws carry: shared by its settings
    for block in posterior.blocks:
        own = np.flatnonzero(temperature == block.temperature_c) + n
        covariance[np.ix_(own, own)] += variance / block.weight.sum()
    width = [_width(posterior, i, confidence, r) for i, r in enumerate(reaches)]
    scale = np.array(width) / np.sqrt(np.maximum(np.diag(covariance)[:n], 1e-12))
    covariance[:n] *= scale[:, None]
    covariance[:, :n] *= scale
    return Prospect(
        weighed,
        temperature,
        np.concatenate(settings),
        covariance,
        variance * (1 + SHARED**2),
        np.array(width),
        [r.bound != "interval" for r in reaches],
    )


def _width(posterior: Posterior, block: int, confidence: float, r: Reach) -> float:
    if r.low is not None and r.high is not None:
        return r.high - r.low
    tails = np.array([0.5 - confidence / 2, 0.5 + confidence / 2])
    low, high = marginal(posterior, block).quantile(tails)
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
    a coupon tells of the family's far end (and of the drive) more than of the ceiling.
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
    loss = 1.0 - np.exp(np.median(draws(posterior, block, flows, 101), axis=0))
    moderate = flows[loss <= DEEPEST_LOSS]
    return moderate if moderate.size else flows[:1]


def _joint_draws(posterior: Posterior, settings: list[Array]) -> tuple[Array, Array]:
    """Ceilings of all blocks, and ln(delivered) at all settings, over draws of the posterior.

    Shapes systematically by weight; each block's ceiling, given the shape, at a
    quasi-random quantile of its own (fractional parts of multiples of the roots of a
    low-discrepancy sequence), so that no random numbers enter.
    """
    owner = np.repeat(np.arange(len(posterior.clouds)), [len(c.weight) for c in posterior.clouds])
    shape = np.concatenate([np.arange(len(c.weight)) for c in posterior.clouds])
    cumulated = np.cumsum(np.concatenate([c.weight for c in posterior.clouds]))
    at = np.searchsorted(cumulated, (np.arange(_DRAWS) + 0.5) / _DRAWS * cumulated[-1])
    ceilings = np.empty((_DRAWS, len(posterior.blocks)))
    seen = np.empty((_DRAWS, sum(len(q) for q in settings)))
    for j, cloud in enumerate(posterior.clouds):
        mine = np.flatnonzero(owner[at] == j)
        if not mine.size:
            continue
        rows = shape[at[mine]]
        parameters = cloud.family.parameters(cloud.x[rows])
        column = 0
        for i, (block, flows) in enumerate(zip(posterior.blocks, settings, strict=True)):
            u = np.mod((mine + 1) * np.sqrt(_PRIMES[i % len(_PRIMES)]) + 0.5, 1.0)
            c = _conditional(cloud.ceiling[i][rows], cloud.ceiling_weight[i][rows], u)
            both = np.concatenate([block.flow, flows])
            log_f = log_delivery(
                cloud.family.kind, parameters, both, c[:, None],
                posterior.loss, posterior.reference_flow,
            )[:, 0]  # fmt: skip
            k = len(block.flow)
            log_d = (block.mean - log_f[:, :k]) @ block.weight / block.weight.sum()
            ceilings[mine, i] = c
            seen[mine, column : column + len(flows)] = log_d[:, None] + log_f[:, k:]
            column += len(flows)
    return ceilings, seen


def _conditional(nodes: Array, weight: Array, u: Array) -> Array:
    """Row by row the node quantile at u."""
    cumulated = np.cumsum(weight, axis=1)
    cumulated = (cumulated - weight / 2) / cumulated[:, -1:]
    return np.array([np.interp(p, row, x) for p, row, x in zip(u, cumulated, nodes, strict=True)])
