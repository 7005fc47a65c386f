from .fitting.codec import FitDocument, fit_document, fit_from_json, fit_to_json
from .fitting.fit import fit
from .fitting.joining import joined, relabelled
from .reading.calibration import measured_ceilings
from .reading.comparison import Comparison, Difference, Span, compare
from .reading.coupon_check import CouponCheck, judge_coupon
from .reading.interpolate import ceiling_at, loss_at
from .reading.next_coupons import ExpectedWidth, NextCoupon, NextCoupons, next_coupons
from .reading.speeds import LAYERS_MM, WIDTHS_MM, SpeedRow, SpeedSetting, SpeedSheet, speeds
from .result import Ceiling, CeilingPosterior, Curve, Delivery, Family, Fit, GroupFit, Law, Residual

__all__ = [
    "LAYERS_MM",
    "WIDTHS_MM",
    "Ceiling",
    "CeilingPosterior",
    "Comparison",
    "CouponCheck",
    "Curve",
    "Delivery",
    "Difference",
    "ExpectedWidth",
    "Family",
    "Fit",
    "FitDocument",
    "GroupFit",
    "Law",
    "NextCoupon",
    "NextCoupons",
    "Residual",
    "Span",
    "SpeedRow",
    "SpeedSetting",
    "SpeedSheet",
    "ceiling_at",
    "compare",
    "fit",
    "fit_document",
    "fit_from_json",
    "fit_to_json",
    "joined",
    "judge_coupon",
    "loss_at",
    "measured_ceilings",
    "next_coupons",
    "relabelled",
    "speeds",
]
