"""What can be said of single coupons: their loss before there is a curve, and which stand out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import hypot

from beadworth.capacity.model.curve import USUAL_UNSHARED
from beadworth.capacity.reading.coupon_prediction import DEEPEST
from beadworth.capacity.result import Fit
from beadworth.trial import Reading, anchors_of, delivered_g_per_mm

MARK_LEVEL = 0.02
"""Chance that a fit of good coupons has one marked as standing out (Bonferroni)."""


def early_losses(readings: Sequence[Reading]) -> tuple[float | None, ...]:
    """Loss of each reading against the low-flow coupons of its own rig and temperature.

    For as long as there is no curve; no uncertainty is claimed. None for voided readings, for
    masses that are not above 0, and where the temperature has no other coupon.
    """
    same: dict[tuple[str, str, float], list[int]] = defaultdict(list)
    for i, r in enumerate(readings):
        if not r.void and r.net_g > 0:
            same[r.rig, r.material, r.temperature_c].append(i)
    losses: list[float | None] = [None] * len(readings)
    for places in same.values():
        here = [readings[i] for i in places]
        anchors, _ = anchors_of(here)
        if len(here) < 2 or not anchors:
            continue
        anchor = float(delivered_g_per_mm(anchors).mean())
        for i, delivered in zip(places, delivered_g_per_mm(here), strict=True):
            losses[i] = 1.0 - float(delivered) / anchor
    return tuple(losses)


def doubtful_coupons(fit: Fit) -> frozenset[str]:
    """Coupons of a fit that stand out from its curve, those it left out among them.

    A coupon of at most :data:`~.coupon_prediction.DEEPEST` of loss stands out where a good one lies
    as far off with a probability under :data:`MARK_LEVEL` ÷ the coupons of the fit
    (normal distribution, two-sided; Bonferroni), its scatter and what no shared curve holds both
    counted.
    """
    from scipy.special import ndtri

    coupons = sum(len(group.residuals) for group in fit.groups)
    limit = float(-ndtri(MARK_LEVEL / 2 / max(coupons, 1)))
    found = set()
    for group in fit.groups:
        for r in group.residuals:
            own = hypot(1.0, USUAL_UNSHARED * r.fitted_loss / group.sd_relative)
            odd = r.fitted_loss <= DEEPEST and abs(r.standardised) > limit * own
            if r.coupon and (r.left_out or odd):
                found.add(r.coupon)
    return frozenset(found)
