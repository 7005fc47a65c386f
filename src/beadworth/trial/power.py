"""The smallest difference in ceiling between two rigs that a plan can see."""

from __future__ import annotations

import math
from itertools import pairwise

from beadworth.trial.record import Budget, Power, TrialSpec

SLOPE_PER_MM3_S = 0.024
"""Rise of loss per mm³/s where loss is 2 %: that of a gradual knee, 0.012·(Q − Q0)^1.6; an
abrupt one rises three times as fast, so the figure is on the safe side."""
DETECTION_Z = 1.959964 + 0.841621
"""Two-sided 5 % test that sees the difference four times in five."""
SETTINGS_ON_THE_KNEE = 2.0
"""Settings whose loss tells where the knee is: one on each side at least."""


def smallest_difference(spec: TrialSpec, budget: Budget, replicates: int) -> Power:
    """Smallest difference in ceiling (mm³/s) seen at 95 % confidence in four trials of five.

    The ceiling's standard uncertainty has two parts: that of loss, turned into flow by the
    slope of the curve at the knee and shared by the settings on the knee, and where between
    two rungs of the ladder an abrupt knee may hide. The tests hold it against simulated
    trials fitted by the capacity room.

    Parameters
    ----------
    replicates : int
        Coupons per setting; ``budget`` is that of their mean.
    """
    flows = sorted(spec.flows_mm3_s)
    steps = [b - a for a, b in pairwise(flows)]
    middle = steps[len(steps) // 2]
    from_loss = budget.combined_u / SLOPE_PER_MM3_S / math.sqrt(SETTINGS_ON_THE_KNEE)
    # an abrupt knee loses 1/Q per mm³/s past it: a rung is resolved to about this share
    share = min(1.0, budget.combined_u * 2 * flows[len(flows) // 2] / middle)
    from_ladder = middle * share / math.sqrt(12)
    u_ceiling = math.hypot(from_loss, from_ladder)
    return Power(
        difference_mm3_s=DETECTION_Z * math.sqrt(2) * u_ceiling,
        temperature_c=sorted(spec.temperatures_c)[len(spec.temperatures_c) // 2],
        assumed_ceiling_mm3_s=flows[len(flows) // 2],
    )
