"""Which of two coupons that disagree is the odd one: the curve of all others, where it can tell."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from beadworth.capacity.model.block import Scatter
from beadworth.capacity.model.posterior_fit import Weighed, weigh
from beadworth.capacity.model.prepare import groups_of
from beadworth.capacity.model.sampling import QUICK
from beadworth.capacity.reading.beliefs import rounding_u, setting
from beadworth.capacity.reading.by_others import ByOthers, Doubt
from beadworth.capacity.reading.coupon_prediction import log_delivered_of
from beadworth.capacity.reading.coupon_words import beside_others
from beadworth.capacity.reading.neighbours import Apart
from beadworth.core import FitError, display_step
from beadworth.rig import Rig
from beadworth.trial import Reading

FEWEST = 4
"""Coupons of the same rig and material before a curve is consulted."""
SURE = 20.0
"""How many times likelier the other of the two must be than the odd one."""
PLAIN = 3.0
"""Standard deviations within which the other must lie of the curve."""


def curve_of(
    usable: Sequence[Reading],
    new: Reading,
    rigs: Mapping[str, Rig] | None,
    loss: float,
    scatter: Scatter,
) -> Weighed | None:
    """What the others say at the temperature of ``new``; None while they are too few."""
    if len(usable) < FEWEST:
        return None
    try:
        groups, _ = groups_of(usable, rigs, scatter)
    except FitError:
        return None
    if new.temperature_c not in groups[0].temperatures:
        return None
    return weigh(groups[0], loss, effort=QUICK)  # the answer is wanted at once


def which_of_pairs(
    others: ByOthers,
    usable: Sequence[Reading],
    new: Reading,
    rigs: Mapping[str, Rig] | None,
    loss: float,
    scatter: Scatter,
) -> tuple[str, Doubt | None]:
    """Why ``new`` should be made again, and which earlier one, once the curve has had its say.

    Where two coupons of one setting disagree, both may be wrong as far as they tell. The curve of
    all others names one of them where it is sure; the other is then let off.
    """
    every = [*usable, new]

    def settled(coupon: Reading, found: Apart | None) -> tuple[Reading, Reading] | None:
        """The odd one and the other."""
        if found is None or found.others != 1 or found.faster:
            return None
        (partner,) = (r for r in every if r is not coupon and setting(r) == setting(coupon))
        rest = [r for r in every if r is not coupon and r is not partner]
        odd = odd_one(rest, coupon, partner, rigs, loss, scatter)
        return None if odd is None else (odd, partner if odd is coupon else coupon)

    reason, doubt = others.reason, others.earlier
    pair = settled(new, others.asks)
    if pair and others.asks:
        odd, other = pair
        if odd is new:
            doubt = None if doubt and doubt.coupon == other.coupon else doubt
            return beside_others(others.asks, new, odd=True), doubt
        return "", _doubt(odd, other, others.asks, of=new)
    if others.doubted is None or reason:
        return reason, doubt
    coupon, found = others.doubted
    pair = settled(coupon, found)
    if pair is None:
        return reason, doubt
    odd, other = pair
    if odd is new:
        return beside_others(_seen_from(found, other), new, odd=True), None
    return reason, _doubt(odd, other, found, of=coupon)


def odd_one(
    rest: Sequence[Reading],
    one: Reading,
    other: Reading,
    rigs: Mapping[str, Rig] | None,
    loss: float,
    scatter: Scatter,
) -> Reading | None:
    """The one of two that the curve of the rest puts out of line; None where it cannot tell.

    The ratio of the two normal densities about the curves still possible, :data:`SURE` at least,
    the likelier within :data:`PLAIN` standard deviations.
    """
    weighed = curve_of(rest, one, rigs, loss, scatter)
    if weighed is None:
        return None
    at = weighed.group.temperatures.index(one.temperature_c)
    middle, unsure = weighed.posterior.next_mean(at, one.flow_mm3_s)
    step = display_step([r.mass_g for r in (*rest, one, other)])
    square = float((weighed.posterior.sigma**2 + unsure).mean() + middle.var())
    square += rounding_u(one, step) ** 2
    away = [abs(log_delivered_of(weighed.group, r) - float(middle.mean())) for r in (one, other)]
    nearer, farther = sorted(away)
    told = farther**2 - nearer**2 >= 2.0 * math.log(SURE) * square
    if not told or nearer > PLAIN * np.sqrt(square):
        return None
    return one if away[0] > away[1] else other


def _seen_from(found: Apart, other: Reading) -> Apart:
    """The same pair from its other coupon."""
    who = (other.coupon,) if other.coupon else ()
    return replace(found, excess=1.0 / (1.0 + found.excess) - 1.0, who=who)


def _doubt(odd: Reading, other: Reading, found: Apart, *, of: Reading) -> Doubt | None:
    if odd.coupon is None:
        return None
    own = found if odd is of else _seen_from(found, other)
    return Doubt(odd.coupon, beside_others(own, odd, odd=True))
