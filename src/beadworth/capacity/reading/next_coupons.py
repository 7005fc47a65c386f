"""The next coupons: flows and temperatures that would narrow the ceilings most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import scatter_of
from beadworth.capacity.model.posterior_fit import weigh
from beadworth.capacity.model.prepare import check_loss, groups_of
from beadworth.capacity.reading.exchange import Criterion, choose, enough, updated
from beadworth.capacity.reading.prospect import Prospect, prospect
from beadworth.core import CONFIDENCE, LOSS, FitError, Problem
from beadworth.rig import Rig
from beadworth.text import count, join_words, number
from beadworth.trial import Reading

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
    width_mm3_s: float | None = None,
    rig: str | None = None,
    material: str | None = None,
    loss: float = LOSS,
    confidence: float = CONFIDENCE,
    criterion: Criterion = "mean",
    rigs: Mapping[str, Rig] | None = None,
    scatter: float | None = None,
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
    width_mm3_s : float > 0, optional
        Add no more than are expected to bring the criterion to this width, one at least, ``k``
        at most.
    rig, material : str, optional
        Only these; left out: all groups share the k coupons.
    criterion : 'mean' or 'widest'
        Mean width of all ceilings, or the width of the widest.
    scatter : float > 0, optional
        As for :func:`fit`.
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
    groups, _ = groups_of(chosen, rigs, scatter_of(scatter))
    worlds = [
        prospect(weigh(group, loss), confidence, flow_limits_mm3_s, flow_step_mm3_s)
        for group in groups
    ]
    if width_mm3_s is not None:
        k = enough(worlds, width_mm3_s, k, criterion)
    picks = choose(worlds, k, criterion)
    return _answer(worlds, picks, criterion, width_mm3_s)


def _answer(
    worlds: list[Prospect],
    picks: list[tuple[int, int]],
    criterion: Criterion,
    width_mm3_s: float | None,
) -> NextCoupons:
    counts = Counter(picks)
    coupons = []
    for (w, c), times in sorted(counts.items()):
        group = worlds[w].weighed.group
        coupons.append(
            NextCoupon(
                group.rig, group.material, float(worlds[w].temperature[c]),
                float(worlds[w].flow[c]), times,
            )
        )  # fmt: skip
    widths = []
    for world, covariance in zip(worlds, updated(worlds, picks), strict=True):
        after = np.sqrt(np.maximum(np.diag(covariance)[: world.targets], 0.0))
        for i, t in enumerate(world.weighed.group.temperatures):
            widths.append(
                ExpectedWidth(
                    world.weighed.group.rig, world.weighed.group.material, t,
                    float(world.width[i]), float(after[i]), world.one_sided[i],
                )
            )  # fmt: skip
    now, then = np.array([w.now for w in widths]), np.array([w.after for w in widths])
    return NextCoupons(
        tuple(coupons),
        tuple(widths),
        float(now.mean()),
        float(then.mean()),
        float(now.max()),
        float(then.max()),
        _sentence(coupons, criterion, width_mm3_s, now, then),
    )


def _sentence(
    coupons: Sequence[NextCoupon],
    criterion: Criterion,
    width_mm3_s: float | None,
    now: NDArray[np.float64],
    then: NDArray[np.float64],
) -> str:
    """What to add, where, and what it should bring."""
    total = sum(c.count for c in coupons)
    more = count(total, "more coupon")
    if len({(c.rig, c.temperature_c) for c in coupons}) == 1:
        flows = [number(c.flow_mm3_s, 3) for c in coupons for _ in range(c.count)]
        more += f" at {join_words(flows)} mm³/s and {number(coupons[0].temperature_c, 4)} °C"
    before, after = (float(w.mean() if criterion == "mean" else w.max()) for w in (now, then))
    which = "mean" if criterion == "mean" else "widest"
    brings = f"the {which} interval from {before:.2f} to about {after:.2f} mm³/s"
    if width_mm3_s is not None and after <= width_mm3_s:
        return f"{more} should do it: {brings}."
    if width_mm3_s is not None:
        return f"{more} should bring {brings}; {width_mm3_s:.2g} are asked for."
    return f"{more} should bring {brings}."
