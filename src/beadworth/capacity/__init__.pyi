from .fitting.codec import FitDocument, fit_document, fit_from_json, fit_to_json
from .fitting.fit import fit
from .fitting.joining import joined, relabelled
from .reading.calibration import measured_ceilings
from .reading.comparison import Comparison, compare, compare_apart
from .reading.coupon_check import CouponCheck, judge_coupon
from .reading.difference import Difference, Span
from .reading.early import doubtful_coupons, early_losses
from .reading.interpolate import ceiling_at, loss_at
from .reading.method import describe_lack_of_fit, describe_method
from .reading.next_coupons import ExpectedWidth, NextCoupon, NextCoupons, next_coupons
from .reading.question import Answered, answered
from .reading.speeds import LAYERS_MM, WIDTHS_MM, SpeedRow, SpeedSetting, SpeedSheet, speeds
from .result import (
    FIRST_METHOD,
    METHOD,
    Ceiling,
    CeilingPosterior,
    Curve,
    Delivery,
    Family,
    Fit,
    GroupFit,
    Law,
    Residual,
    Sampling,
)

__all__ = [
    "FIRST_METHOD",
    "LAYERS_MM",
    "METHOD",
    "WIDTHS_MM",
    "Answered",
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
    "Sampling",
    "Span",
    "SpeedRow",
    "SpeedSetting",
    "SpeedSheet",
    "answered",
    "ceiling_at",
    "compare",
    "compare_apart",
    "describe_lack_of_fit",
    "describe_method",
    "doubtful_coupons",
    "early_losses",
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
