"""Readings become a loss curve, ceilings, a law across temperature, speeds, the next coupons.

``fit(readings, loss=0.02)`` needs plain data only: no store, no plan, no rig record.
"""

from beadworth.capacity import plug_flow
from beadworth.capacity.fitting import fit
from beadworth.capacity.result import (
    Ceiling,
    CeilingPosterior,
    Curve,
    Delivery,
    Family,
    Fit,
    GroupFit,
    Law,
    Residual,
)

__all__ = [
    "Ceiling",
    "CeilingPosterior",
    "Curve",
    "Delivery",
    "Family",
    "Fit",
    "GroupFit",
    "Law",
    "Residual",
    "fit",
    "plug_flow",
]
