"""One coupon against those of its own temperature and flow: no curve enters.

Coupons of one setting differ by their scatter and by the steps of the balance alone, however
sharp the knee they stand in. How they scatter is told by all replicates of the rig and material
(:mod:`.beliefs`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import Scatter
from beadworth.capacity.reading.beliefs import Beliefs, beliefs_of
from beadworth.core import display_step
from beadworth.trial import HEAVIER, LIGHTER, PAIR, Reading

Array = NDArray[np.float64]

MOST_FASTER = 3
"""Nearest faster coupons at most that a coupon alone at its flow is held against: those further on
have lost more."""


@dataclass(frozen=True)
class Apart:
    """How far a coupon lies from others."""

    excess: float
    """Relative mass above their mean."""
    others: int
    p: float
    """Probability that a good coupon lies as far off."""
    who: tuple[str, ...]
    """Those others, where they have names."""
    faster: int = 0
    """How many of them are faster."""
    level: float = 1.0
    """How many times the usual level it is held to."""


@dataclass(frozen=True)
class Held:
    """A coupon beside others."""

    own: Apart | None
    """Those of its setting."""
    faster: Apart | None
    """Faster ones, with those of its setting: nothing falls as flow grows but what is delivered, so
    a good coupon weighs no less than their mean."""

    @property
    def found(self) -> Apart | None:
        """The one that says most against the coupon."""
        tests = [test for test in (self.own, self.faster) if test is not None]
        return min(tests, key=lambda test: test.p / test.level, default=None)


def held(known: Sequence[Reading], coupon: Reading, scatter: Scatter) -> Held:
    """Hold a coupon against the others of its temperature and flow, and against faster ones.

    Parameters
    ----------
    known : sequence of Reading
        Of the rig and material, all masses above 0; ``coupon`` itself is left out where it is one.
    coupon : Reading
    scatter : Scatter
        What is known of the scatter without them.

    Notes
    -----
    The difference to the mean of k others, over √(1 + 1/k)·√(s² + u²), is held against the normal
    distribution, averaged over what is believed of s (:func:`.beliefs.beliefs_of`): for one unknown
    scatter that is Student's t. u is the display's. For k = 1 this is √2·√(s² + u²). Two-sided
    beside those of its setting; one-sided beside the next faster setting with them, and for a
    coupon alone beside the nearest few (Bonferroni over them).
    """
    others = [r for r in known if r is not coupon]
    here = [r for r in others if r.temperature_c == coupon.temperature_c]
    if not any(r.flow_mm3_s >= coupon.flow_mm3_s for r in here):
        return Held(None, None)
    step = display_step([r.mass_g for r in (*others, coupon)])
    beliefs = beliefs_of(others, coupon, step, scatter)
    settings = beliefs.settings
    flows = np.where(settings.at[:, 0] == coupon.temperature_c, settings.at[:, 1], -np.inf)
    faster = np.flatnonzero(flows > coupon.flow_mm3_s)
    if beliefs.place < 0:
        return Held(None, _alone(here, coupon, beliefs, step, faster))
    beside = np.zeros(len(settings.count))
    beside[beliefs.place] = settings.count[beliefs.place]
    excess, below = beliefs.tail(coupon, step, beside, beliefs.place)
    level = LIGHTER if excess < 0 else HEAVIER
    if beside.sum() == 1:
        level = PAIR
    own = Apart(
        float(np.expm1(excess)), int(beside.sum()), 2.0 * min(below, 1.0 - below),
        _names(here, flows[[beliefs.place]]), level=level,
    )  # fmt: skip
    if not faster.size:
        return Held(own, None)
    beside[faster[0]] = settings.count[faster[0]]
    excess, below = beliefs.tail(coupon, step, beside, beliefs.place)
    who = _names(here, flows[[beliefs.place, faster[0]]])
    more = int(settings.count[faster[0]])
    return Held(own, Apart(float(np.expm1(excess)), int(beside.sum()), below, who, more))


def _alone(
    here: Sequence[Reading],
    coupon: Reading,
    beliefs: Beliefs,
    step: float,
    faster: NDArray[np.intp],
) -> Apart | None:
    """The clearest of the nearest few faster settings; None where it weighs no less."""
    count = beliefs.settings.count
    beside, found = np.zeros(len(count)), []
    for i in faster:
        beside[i] = count[i]
        excess, below = beliefs.tail(coupon, step, beside, int(faster[0]))
        found.append((below, excess, int(beside.sum()), beliefs.settings.at[beside > 0, 1]))
        if beside.sum() >= MOST_FASTER:
            break
    if not found:
        return None
    below, excess, others, flows = min(found, key=lambda one: one[0])
    if excess >= 0:
        return None
    p = min(1.0, len(found) * below)
    return Apart(float(np.expm1(excess)), others, p, _names(here, flows), others)


def _names(here: Sequence[Reading], flows: Array) -> tuple[str, ...]:
    """Of the coupons at some flows of one temperature, the slowest first."""
    at = sorted((r for r in here if r.flow_mm3_s in flows), key=lambda r: r.flow_mm3_s)
    return tuple(r.coupon for r in at if r.coupon)
