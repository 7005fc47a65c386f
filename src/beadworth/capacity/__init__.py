"""Readings become a loss curve, ceilings, a law across temperature, speeds, the next coupons.

``fit(readings, loss=0.02)`` needs plain data only: no store, no plan, no rig record.
"""

from beadworth.capacity.result import (
    Ceiling,
    Curve,
    Delivery,
    Family,
    GroupFit,
    Law,
    Residual,
)

__all__ = ["Ceiling", "Curve", "Delivery", "Family", "GroupFit", "Law", "Residual"]
