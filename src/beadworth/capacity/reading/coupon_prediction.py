"""What the curve of the other coupons lets one coupon expect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadworth.capacity.model.posterior_fit import Weighed
from beadworth.capacity.model.prepare import Group
from beadworth.capacity.reading.beliefs import rounding_u
from beadworth.core import coverage_factor
from beadworth.trial import Reading, delivered_g_per_mm

WIDEST = 0.5
"""A range of loss wider than half of all that was fed judges nothing: the curve is still open."""
DEEPEST = 0.1
"""Where the curve has more loss than this, it judges no coupon: so steep, a small step of flow or
of shape is worth more than the scatter."""
MOST_LOG = 5.0
"""No coupon is heavier than e⁵ times what was expected; an open curve would have it so."""


@dataclass(frozen=True)
class CouponPrediction:
    """One coupon beside what the others let it be."""

    loss: float
    u_loss: float | None = None
    fitted: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    """Two-sided, of a good coupon; None where the curve is too deep to judge by."""
    excess: float = 0.0
    """Relative mass above the curve."""


def log_delivered_of(group: Group, new: Reading) -> float:
    """Of the new coupon, on the same footing as its group's."""
    together = delivered_g_per_mm([*group.readings, new])
    alone = delivered_g_per_mm(group.readings)
    # a measured diameter shifts the mean that all are referred to; take that shift out again
    shift = float(np.mean(np.log(together[:-1]) - np.log(alone)))
    base = float(np.mean(group.log_delivered - np.log(alone)))
    return float(np.log(together[-1])) - shift + base


def predict_coupon(weighed: Weighed, new: Reading, step_g: float) -> CouponPrediction:
    """Hold a coupon against the curves still possible.

    Parameters
    ----------
    weighed : Weighed
        The others, with the temperature of ``new`` among theirs.
    step_g : float, g
        Of the balance's display; its rounding is added to the scatter.
    """
    from scipy.special import ndtr

    log_delivered = log_delivered_of(weighed.group, new)
    i = weighed.group.temperatures.index(new.temperature_c)
    posterior = weighed.posterior
    middle, unsure = posterior.next_mean(i, new.flow_mm3_s)
    shown = rounding_u(new, step_g)  # what the display hides no replicates show
    spread = np.sqrt(posterior.sigma**2 + shown**2 + unsure)
    below = float(ndtr((log_delivered - middle) / spread).mean())
    scatter = float(np.sqrt((spread**2).mean()))
    # range of a good coupon: the curves still possible and the scatter of one coupon together
    half = coverage_factor() * np.hypot(scatter, middle.std())
    d = float(weighed.log_delivery[i])
    relative = float(np.exp(log_delivered - d))
    centre = float(middle.mean())
    fitted = float(1.0 - np.exp(centre - d))
    low, high = (float(1.0 - np.exp(min(centre + side - d, MOST_LOG))) for side in (half, -half))
    closed = high - low <= WIDEST
    return CouponPrediction(
        1.0 - relative,
        float(relative * np.hypot(np.hypot(weighed.sd, shown), weighed.u_log_delivery[i])),
        fitted,
        low if closed else None,
        high if closed else None,
        2.0 * min(below, 1.0 - below) if fitted <= DEEPEST else None,
        float(np.expm1(min(log_delivered - centre, MOST_LOG))),
    )
