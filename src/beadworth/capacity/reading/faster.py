"""One coupon against faster ones of its temperature: loss grows with flow, so none weighs more.

It judges coupons that stand alone at their flow, and only where a faster one lost next to nothing
more: in the knee a light coupon looks like an earlier knee.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from beadworth.capacity.model.block import Scatter
from beadworth.capacity.reading.neighbours import Apart, scatter_beside
from beadworth.trial import Reading, delivered_g_per_mm

MOST_FASTER = 3
"""Nearest faster coupons that are averaged at most: those further on have lost more."""


def beside_faster(known: Sequence[Reading], coupon: Reading, scatter: Scatter) -> Apart | None:
    """Hold a coupon against the nearest faster ones of its temperature.

    Parameters
    ----------
    known : sequence of Reading
        Of the rig and material, all masses above 0; ``coupon`` itself is left out where it is one.
    coupon : Reading
    scatter : Scatter
        What is known of the scatter without them.

    Returns
    -------
    Apart or None
        The clearest of the nearest one, two and three; None where none is faster, and where it
        weighs no less than they do.

    Notes
    -----
    Where loss does not fall as flow grows, the mean of k faster coupons is at most that of this
    one, so one side of Student's t, with the difference over √(1 + 1/k)·√(s² + u²), bounds the
    chance of a good coupon being as light; times the number of means tried (Bonferroni).
    """
    from scipy.special import stdtr

    others = [r for r in known if r is not coupon]
    faster = sorted(
        (
            r
            for r in others
            if r.temperature_c == coupon.temperature_c and r.flow_mm3_s > coupon.flow_mm3_s
        ),
        key=lambda r: r.flow_mm3_s,
    )[:MOST_FASTER]
    if not faster:
        return None
    sd, dof = scatter_beside(others, coupon, faster, scatter)
    y = np.log(delivered_g_per_mm([*faster, coupon]))
    k = np.arange(1, len(faster) + 1)
    lighter = np.cumsum(y[:-1]) / k - y[-1]
    away = lighter / (np.sqrt(1 + 1 / k) * sd)
    best = int(away.argmax())
    if away[best] <= 0:
        return None
    p = min(1.0, len(faster) * float(stdtr(dof, -away[best])))
    who = tuple(r.coupon for r in faster[: best + 1] if r.coupon)
    return Apart(float(np.expm1(-lighter[best])), best + 1, p, who)
