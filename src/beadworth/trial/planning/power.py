"""The smallest difference in ceiling between two rigs that a plan can see.

The ceiling's standard uncertainty comes from the curve the plan would fit: delivered ÷ commanded
= B·(1 + (Q/K)^p)^(−1/p), a soft knee at K of sharpness p over a flat delivery B. Every coupon
and reference adds to the information on ln B, ln K and ln p; the ceiling at the asked loss is a
function of K and p. ``docs/explanation/budget.md`` writes it out; the tests hold it against
simulated trials.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from beadworth.trial.record import Power

SHARPNESS = 12.0
"""Assumed sharpness of the knee: loss grows from 2 to 10 % over a fifth of the ceiling."""
SHARPNESS_U = 0.5
"""Assumed standard uncertainty of ln p before anything is weighed: p from 4.5 to 32 at 95 %."""
SPREAD = (
    (-math.sqrt(3) * SHARPNESS_U, 1 / 6),
    (0.0, 2 / 3),
    (math.sqrt(3) * SHARPNESS_U, 1 / 6),
)
"""Deviations of ln p with their weights: Gauss–Hermite quadrature of a normal with three nodes."""
DETECTION_Z = 1.959964 + 0.841621
"""Normal quantiles at 97.5 % and 80 %: a two-sided 95 % test that sees the difference in four
trials of five."""

Array = NDArray[np.float64]


def log_delivered(flow: Array, log_knee: float, log_sharpness: float) -> Array:
    """Natural log of delivered ÷ commanded of the soft knee, delivery B left out."""
    p = math.exp(log_sharpness)
    return -np.logaddexp(0.0, p * (np.log(flow) - log_knee)) / p


def log_ceiling(log_knee: float, log_sharpness: float, loss: float) -> float:
    """Natural log of the flow at a loss: K·((1 − loss)^(−p) − 1)^(1/p)."""
    p = math.exp(log_sharpness)
    return log_knee + math.log(math.expm1(-p * math.log1p(-loss))) / p


def ceiling_u(
    flow_mm3_s: Sequence[float] | Array, relative_u: float, ceiling_mm3_s: float, loss: float
) -> float:
    """Standard uncertainty of a ceiling, mm³/s, from coupons at the given flows.

    Parameters
    ----------
    flow_mm3_s : sequence of float
        One per coupon, references among them, repeated for replicates.
    relative_u : float
        Standard uncertainty of one coupon, relative.
    ceiling_mm3_s : float
        The true ceiling it is worked out at.
    loss : float
        At which the ceiling is read.

    Returns
    -------
    float
        Root mean square over the sharpness a knee may have; for each, from the inverse of the
        information at the true curve.
    """
    flow = np.asarray(flow_mm3_s, dtype=np.float64)
    return ceiling_mm3_s * math.sqrt(
        sum(
            weight * _log_variance(flow, relative_u, ceiling_mm3_s, loss, math.log(SHARPNESS) + at)
            for at, weight in SPREAD
        )
    )


def _log_variance(
    flow: Array, relative_u: float, ceiling_mm3_s: float, loss: float, log_p: float
) -> float:
    """Variance of the log of the ceiling for a knee of one true sharpness."""
    log_k = math.log(ceiling_mm3_s) - log_ceiling(0.0, log_p, loss)
    step = 1e-5
    slopes = np.column_stack(
        [
            np.ones_like(flow),
            log_delivered(flow, log_k + step, log_p) - log_delivered(flow, log_k - step, log_p),
            log_delivered(flow, log_k, log_p + step) - log_delivered(flow, log_k, log_p - step),
        ]
    ) / (1.0, 2 * step, 2 * step)
    information = slopes.T @ slopes / relative_u**2 + np.diag([0.0, 0.0, SHARPNESS_U**-2])
    to_p = log_ceiling(log_k, log_p + step, loss) - log_ceiling(log_k, log_p - step, loss)
    gradient = np.array([0.0, 1.0, to_p / (2 * step)])
    return float(gradient @ np.linalg.solve(information, gradient))


def smallest_difference(
    flows_mm3_s: Sequence[float],
    temperatures_c: Sequence[float],
    *,
    reference_flow_mm3_s: float,
    replicates: int,
    references: int,
    relative_u: float,
    loss: float,
) -> Power | None:
    """Smallest difference in ceiling seen at 95 % confidence in four trials of five.

    Worked out at one temperature, for a ceiling in the middle of the ladder. None where the
    ladder has fewer than three flows: then no ceiling is read.

    Parameters
    ----------
    relative_u : float
        Standard uncertainty of one coupon, relative.
    """
    ladder = sorted(flows_mm3_s)
    if len(ladder) < 3:
        return None
    ceiling = (ladder[0] + ladder[-1]) / 2
    made = [*ladder] * replicates + [reference_flow_mm3_s] * references
    u = ceiling_u(made, relative_u, ceiling, loss)
    return Power(
        difference_mm3_s=DETECTION_Z * math.sqrt(2) * u,
        temperature_c=sorted(temperatures_c)[len(temperatures_c) // 2],
        assumed_ceiling_mm3_s=ceiling,
    )
