"""How light a coupon must be for the balance to show it."""

from __future__ import annotations

import math

AGAIN_LEVEL = 0.02
"""Chance that a whole trial of good coupons has one asked for again when all are weighed
(Bonferroni; :mod:`beadworth.capacity.reading.by_others`)."""
LIGHT = 0.05
"""Part of its mass that a coupon should not lose unseen, as a curl left on the bed is."""
SEEN = 0.95
"""Share of such coupons that should be seen."""
KNOWN_BEFORE = 2.0
"""Replicates that what is known of the scatter before any was weighed counts as."""


def lightest_unseen(
    u: float, *, replicates: int, settings: int, coupons: int, level: float = AGAIN_LEVEL
) -> float | None:
    """Part of its mass that one coupon must lack to be seen in 95 trials of 100.

    Parameters
    ----------
    u : float, > 0
        Relative standard deviation of a coupon, display included.
    replicates : int, ≥ 1
        Coupons of a setting.
    settings : int, ≥ 1
        Temperatures times flows of a rig.
    coupons : int, ≥ 1
        Of the whole trial.
    level : float
        Chance of a false alarm in the whole trial.

    Returns
    -------
    float or None
        None without replicates: nothing is held against a coupon in the knee then.

    Notes
    -----
    The coupon is held against the mean of the r − 1 others of its setting by Student's t with the
    degrees of freedom of all replicates but itself, two-sided at ``level`` ÷ ``coupons``. The
    noncentrality at which t passes that limit in 95 of 100 (noncentral t distribution; N. L.
    Johnson and B. L. Welch, Biometrika 31 (1940) 362, from memory), times u·√(1 + 1/(r − 1)).
    """
    from scipy.special import nctdtrinc, stdtrit

    if replicates < 2:
        return None
    dof = KNOWN_BEFORE + (settings - 1) * (replicates - 1) + replicates - 2
    limit = float(stdtrit(dof, 1.0 - level / coupons / 2))
    away = float(nctdtrinc(dof, 1.0 - SEEN, limit))
    return -math.expm1(-away * u * math.sqrt(1.0 + 1.0 / (replicates - 1)))
