"""Readings become a loss curve, ceilings, a law across temperature, speeds, the next coupons.

``fit(readings, loss=0.02)`` needs plain data only: no store, no plan, no rig record.
"""

from beadworth.capacity.comparison import Comparison, Difference, Span, compare
from beadworth.capacity.design import ExpectedWidth, NextCoupon, NextCoupons, next_coupons
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
from beadworth.capacity.speeds import SpeedRow, SpeedSetting, SpeedSheet, speeds
from beadworth.capacity.weighing import WeighInAnswer, weigh_in
from beadworth.melt import plug_flow

__all__ = [
    "Ceiling",
    "CeilingPosterior",
    "Comparison",
    "Curve",
    "Delivery",
    "Difference",
    "ExpectedWidth",
    "Family",
    "Fit",
    "GroupFit",
    "Law",
    "NextCoupon",
    "NextCoupons",
    "Residual",
    "Span",
    "SpeedRow",
    "SpeedSetting",
    "SpeedSheet",
    "WeighInAnswer",
    "compare",
    "fit",
    "next_coupons",
    "plug_flow",
    "speeds",
    "weigh_in",
]
