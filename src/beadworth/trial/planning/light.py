"""How light a coupon must be for the balance to show it, and the rule that is shown by.

The rule itself stands in :mod:`beadworth.capacity.reading.neighbours`; its constants stand here,
since a plan promises what it sees.
"""

from __future__ import annotations

import math

AGAIN_LEVEL = 0.014
"""Over the coupons of a trial, what each is held to when all are weighed: the false alarms of whole
trials that come of it are counted by ``benchmarks/weigh_in_alarms.py``."""
LIGHTER, HEAVIER = 2.4, 0.4
"""Of that level, for a coupon beside several: what falls off, or stays on the bed, is missing more
often than a piece is there twice."""
PAIR = 4.0
"""Of that level, for one of two: they are one test, and their scatter is known by so little that
the level is seldom used up."""
GROWS = 0.12
"""Chance, before any is weighed, that scatter grows above the knee."""
UNEVEN, BY_ITSELF = 3.0, 0.015
"""How many times as much a single setting above the knee scatters, and the chance that it does."""
LIGHT = 0.05
"""Part of its mass that a coupon should not lose unseen, as a curl left on the bed is."""
SEEN = 0.95
"""Share of such coupons that should be seen."""
KNOWN_BEFORE = 6.0
"""Replicates that a plan's budget counts as at the balance."""
AGREE, RULED_OUT = 0.6, 0.6
"""Part of a belief that is left by each of the others that agrees, and by each free replicate above
the knee. Set so that what is promised is seen (``tests/capacity/test_neighbours.py``)."""


def lightest_unseen(u: float, *, replicates: int, settings: int, coupons: int) -> float | None:
    """Part of its mass that one coupon, of any setting, must lack to be seen in 95 trials of 100.

    Parameters
    ----------
    u : float, > 0
        Relative standard deviation of a coupon, display included.
    replicates : int, ≥ 1
        Coupons of a setting.
    settings : int, ≥ 1
        Temperatures times flows of a rig; half of them are taken to stand above the knee.
    coupons : int, ≥ 1
        Of the whole trial.

    Returns
    -------
    float or None
        None without replicates: nothing is held against a coupon in the knee then.

    Notes
    -----
    The coupon is held against the mean of the r − 1 others of its setting. A good one is as far off
    as t standard deviations with the chance of Student's t, or, as far as its setting may scatter
    :data:`UNEVEN` times as much, of a normal that many times as wide. The t at which both together
    are as rare as the level, and the noncentrality at which it is passed in 95 of 100 (noncentral
    t; N. L. Johnson and B. L. Welch, Biometrika 31 (1940) 362, from memory), times
    u·√(1 + 1/(r − 1)).
    """
    from scipy.optimize import brentq
    from scipy.special import nctdtrinc, ndtr, stdtr

    others = replicates - 1
    if others < 1:
        return None
    dof = KNOWN_BEFORE + (settings - 1) * others + others - 1
    level = AGAIN_LEVEL / coupons * (PAIR if others == 1 else LIGHTER)
    wider = BY_ITSELF * AGREE ** (others - 1) + GROWS * RULED_OUT ** (0.5 * settings * others)

    def too_likely(t: float) -> float:
        return 2.0 * float(stdtr(dof, -t) + wider * ndtr(-t / UNEVEN)) - level

    limit = brentq(too_likely, 0.0, 200.0)
    away = float(nctdtrinc(dof, 1.0 - SEEN, limit))
    return -math.expm1(-away * u * math.sqrt(1.0 + 1.0 / others))
