"""How wide the interval of a ceiling will be, before anything is weighed.

A law with few constants, set by least squares on simulated trials that the model of the real ones
reads (``benchmarks/plan_forecast.py`` prints both, ``benchmarks/capacity_frugal.py`` holds it
against next coupons): curves drawn from eight classes, three temperatures, even ladders with the
ceiling somewhere inside. Once coupons are weighed, the readings say what more would bring.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

from beadworth.core import LOSS, coverage_factor
from beadworth.trial.record import Power

BATCH = 3
"""Next coupons at each temperature between two weighings, with one reference."""
OF_STEP = 0.199
"""Width ÷ ceiling, per relative distance between flows: what lies unseen between them."""
OF_SCATTER = 18.4
"""Width ÷ ceiling, per relative scatter of a coupon, at a distance of 1."""
SCATTER_POWER = 0.297
"""How much less scatter counts where flows are close."""
GAIN = 0.4
"""How much more a chosen coupon tells than one of an even ladder as dense about the ceiling."""
POWER_Z = 0.841621
"""Normal quantile at 80 %: the difference is seen in four trials of five."""


def relative_width(step: float, u: float, chosen: int = 0) -> float:
    """Expected width of a 95 % interval ÷ the ceiling, at a loss of 2 %.

    Parameters
    ----------
    step : float, > 0
        Distance of the flows about the ceiling ÷ the ceiling, replicates counted as flows.
    u : float, > 0
        Relative standard uncertainty of one coupon.
    chosen : int, ≥ 0
        Coupons added at this temperature where they tell most.
    """
    dense = step / (1 + GAIN * chosen)
    return OF_STEP * dense + OF_SCATTER * u * math.pow(dense, SCATTER_POWER)


def ceiling_width(
    flows_mm3_s: Sequence[float], u: float, loss: float, *, replicates: int = 1, batches: int = 0
) -> float:
    """Expected mean width of a 95 % interval, mm³/s, for a ceiling in the middle of a ladder.

    A loss other than 2 % moves what a coupon's scatter amounts to: the curve is steeper where
    more is lost, about as the loss to the power 0.6 (as the fit's prior has it).
    """
    ladder = sorted(flows_mm3_s)
    middle = 0.5 * (ladder[0] + ladder[-1])
    above = min(max(bisect_right(ladder, middle), 1), len(ladder) - 1)
    step = (ladder[above] - ladder[above - 1]) / middle / replicates
    steeper = (math.log1p(-loss) / math.log1p(-LOSS)) ** 0.6
    return middle * relative_width(step, u / steeper, BATCH * batches)


def smallest_difference(
    flows_mm3_s: Sequence[float], temperatures_c: Sequence[float], width_mm3_s: float
) -> Power | None:
    """Smallest difference in ceiling of two rigs seen at 95 % in four trials of five.

    The expected width of one interval is two coverage factors of standard uncertainty. None where
    the ladder has fewer than three flows: then no ceiling is read.
    """
    ladder = sorted(flows_mm3_s)
    if len(ladder) < 3:
        return None
    k = coverage_factor()
    return Power(
        difference_mm3_s=(k + POWER_Z) * math.sqrt(2) * width_mm3_s / (2 * k),
        temperature_c=sorted(temperatures_c)[len(temperatures_c) // 2],
        assumed_ceiling_mm3_s=0.5 * (ladder[0] + ladder[-1]),
    )
