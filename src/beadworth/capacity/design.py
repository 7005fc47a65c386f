"""The next coupons: flows and temperatures that would narrow the ceilings most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.families import log_delivery
from beadworth.capacity.marginal import Reach, draws, marginal, reach
from beadworth.capacity.posterior import Posterior
from beadworth.capacity.prepare import SHARED, check_loss, groups_of
from beadworth.capacity.weighed import Weighed, weigh
from beadworth.errors import FitError, Problem
from beadworth.rig import Rig
from beadworth.trial import Reading

Array = NDArray[np.float64]
Criterion = Literal["mean", "widest"]

DEEPEST_LOSS = 0.25
"""No coupon is asked for at a flow with more loss than this."""
_DRAWS = 512
_MOST = 60


@dataclass(frozen=True)
class NextCoupon:
    """One setting to add, and how many coupons of it."""

    rig: str
    material: str
    temperature_c: float
    flow_mm3_s: float
    count: int


@dataclass(frozen=True)
class ExpectedWidth:
    """Width of the interval of one ceiling now and as expected after the coupons, mm³/s."""

    rig: str
    material: str
    temperature_c: float
    now: float
    after: float
    one_sided: bool
    """True where the ceiling is bounded from one side now: ``now`` then measures what the
    readings and the range looked in leave open, and ``after`` is a rough guide."""


@dataclass(frozen=True)
class NextCoupons:
    """Coupons to add and what they are expected to bring."""

    coupons: tuple[NextCoupon, ...]
    widths: tuple[ExpectedWidth, ...]
    mean_now: float
    mean_after: float
    widest_now: float
    widest_after: float
    sentence: str


def next_coupons(
    readings: Sequence[Reading],
    k: int = 6,
    *,
    rig: str | None = None,
    material: str | None = None,
    loss: float = 0.02,
    confidence: float = 0.95,
    criterion: Criterion = "mean",
    rigs: Mapping[str, Rig] | None = None,
    flow_limits_mm3_s: tuple[float, float] | None = None,
    flow_step_mm3_s: float = 0.25,
) -> NextCoupons:
    """The k coupons that would shrink the intervals of the ceilings most.

    A Bayesian c-optimal design: the posterior of ceilings, shape and delivery is carried by
    equally likely draws; a coupon at a setting would inform each ceiling by their
    covariance over the draws. Coupons are chosen one after another, replicates allowed, then
    exchanged while that lowers the criterion.

    Parameters
    ----------
    readings : sequence of Reading
        What is weighed so far, of one or several rigs.
    k : int
        Coupons to add, 1 to 60.
    rig, material : str, optional
        Only these; left out: all groups share the k coupons.
    criterion : 'mean' or 'widest'
        Mean width of all ceilings, or the width of the widest.
    flow_limits_mm3_s : (low, high), optional
        Flows that may be asked; left out: the range weighed at each temperature and a little
        beyond, farther where the ladder ended short of the knee or began past it.
    flow_step_mm3_s : float
        Flows are multiples of it.

    Raises
    ------
    FitError
        k out of range, or readings that cannot be fitted.
    """
    check_loss(loss, confidence)
    if not 1 <= k <= _MOST:
        raise FitError(
            Problem(f"{k} coupons cannot be chosen at once; 1 to {_MOST} can.", "coupons", k)
        )
    chosen = [
        r
        for r in readings
        if (rig is None or r.rig == rig) and (material is None or r.material == material)
    ]
    groups, _ = groups_of(chosen, rigs)
    worlds = [
        _world(weigh(group, loss), confidence, flow_limits_mm3_s, flow_step_mm3_s)
        for group in groups
    ]
    picks = _choose(worlds, k, criterion)
    return _answer(worlds, picks)


@dataclass
class _World:
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
        return len(self.width)


def _world(
    weighed: Weighed, confidence: float, limits: tuple[float, float] | None, step: float
) -> _World:
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
    return _World(
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


_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)


def _conditional(nodes: Array, weight: Array, u: Array) -> Array:
    """Row by row the node quantile at u."""
    cumulated = np.cumsum(weight, axis=1)
    cumulated = (cumulated - weight / 2) / cumulated[:, -1:]
    return np.array([np.interp(p, row, x) for p, row, x in zip(u, cumulated, nodes, strict=True)])


def _choose(worlds: list[_World], k: int, criterion: Criterion) -> list[tuple[int, int]]:
    """Greedy choice, then exchanges: (world, candidate) for each coupon."""
    picks: list[tuple[int, int]] = []
    for _ in range(k):
        picks.append(_best(worlds, picks, criterion)[1])
    for _ in range(3):
        changed = False
        for i in range(k):
            rest = picks[:i] + picks[i + 1 :]
            now = _value(worlds, _updated(worlds, picks), criterion)
            value, pick = _best(worlds, rest, criterion)
            if value < now * (1 - 1e-6) and pick != picks[i]:
                picks = [*rest, pick]
                changed = True
        if not changed:
            break
    return sorted(picks)


def _updated(worlds: list[_World], picks: list[tuple[int, int]]) -> list[Array]:
    """Covariances once the picked coupons are in."""
    covariances = [w.covariance for w in worlds]
    for w, c in picks:
        covariance = covariances[w]
        j = worlds[w].targets + c
        column = covariance[:, j]
        covariances[w] = covariance - np.outer(column, column) / (column[j] + worlds[w].noise)
    return covariances


def _best(
    worlds: list[_World], picks: list[tuple[int, int]], criterion: Criterion
) -> tuple[float, tuple[int, int]]:
    """The one coupon more that lowers the criterion most."""
    covariances = _updated(worlds, picks)
    variances = [np.diag(c)[: w.targets] for c, w in zip(covariances, worlds, strict=True)]
    best: tuple[float, tuple[int, int]] | None = None
    for i, (world, covariance) in enumerate(zip(worlds, covariances, strict=True)):
        n = world.targets
        spread = np.diag(covariance)[n:] + world.noise
        left = variances[i][:, None] - covariance[:n, n:] ** 2 / spread
        sds = np.sqrt(np.maximum(left, 0.0))
        other = np.concatenate(
            [np.sqrt(np.maximum(v, 0.0)) for j, v in enumerate(variances) if j != i]
            or [np.array([])]
        )
        if criterion == "mean":
            values = sds.sum(axis=0) + other.sum()
        else:
            values = np.maximum(sds.max(axis=0), other.max(initial=0.0))
            values = values + 1e-3 * (sds.sum(axis=0) + other.sum())  # ties: help the rest
        c = int(values.argmin())
        if best is None or values[c] < best[0]:
            best = (float(values[c]), (i, c))
    assert best is not None
    return best


def _value(worlds: list[_World], covariances: list[Array], criterion: Criterion) -> float:
    sds = np.concatenate(
        [
            np.sqrt(np.maximum(np.diag(c)[: w.targets], 0.0))
            for c, w in zip(covariances, worlds, strict=True)
        ]
    )
    return float(sds.sum() if criterion == "mean" else sds.max() + 1e-3 * sds.sum())


def _answer(worlds: list[_World], picks: list[tuple[int, int]]) -> NextCoupons:
    counts = Counter(picks)
    coupons = []
    for (w, c), count in sorted(counts.items()):
        group = worlds[w].weighed.group
        coupons.append(
            NextCoupon(
                group.rig, group.material, float(worlds[w].temperature[c]),
                float(worlds[w].flow[c]), count,
            )
        )  # fmt: skip
    widths = []
    for world, covariance in zip(worlds, _updated(worlds, picks), strict=True):
        after = np.sqrt(np.maximum(np.diag(covariance)[: world.targets], 0.0))
        for i, t in enumerate(world.weighed.group.temperatures):
            widths.append(
                ExpectedWidth(
                    world.weighed.group.rig, world.weighed.group.material, t,
                    float(world.width[i]), float(after[i]), world.one_sided[i],
                )
            )  # fmt: skip
    now, then = np.array([w.now for w in widths]), np.array([w.after for w in widths])
    total = sum(c.count for c in coupons)
    return NextCoupons(
        tuple(coupons),
        tuple(widths),
        float(now.mean()),
        float(then.mean()),
        float(now.max()),
        float(then.max()),
        f"{total} more coupon{'s' if total != 1 else ''} should bring the mean interval from "
        f"{now.mean():.2f} to about {then.mean():.2f} mm³/s.",
    )
