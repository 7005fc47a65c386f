from .fitting.fit import (
    fit as fit,
)
from .fitting.joining import (
    joined as joined,
)
from .fitting.joining import (
    relabelled as relabelled,
)
from .reading.calibration import (
    measured_ceilings as measured_ceilings,
)
from .reading.comparison import (
    Comparison as Comparison,
)
from .reading.comparison import (
    Difference as Difference,
)
from .reading.comparison import (
    Span as Span,
)
from .reading.comparison import (
    compare as compare,
)
from .reading.coupon_check import (
    WeighInAnswer as WeighInAnswer,
)
from .reading.coupon_check import (
    weigh_in as weigh_in,
)
from .reading.next_coupons import (
    ExpectedWidth as ExpectedWidth,
)
from .reading.next_coupons import (
    NextCoupon as NextCoupon,
)
from .reading.next_coupons import (
    NextCoupons as NextCoupons,
)
from .reading.next_coupons import (
    next_coupons as next_coupons,
)
from .reading.speeds import (
    LAYERS_MM as LAYERS_MM,
)
from .reading.speeds import (
    WIDTHS_MM as WIDTHS_MM,
)
from .reading.speeds import (
    SpeedRow as SpeedRow,
)
from .reading.speeds import (
    SpeedSetting as SpeedSetting,
)
from .reading.speeds import (
    SpeedSheet as SpeedSheet,
)
from .reading.speeds import (
    speeds as speeds,
)
from .result import (
    Ceiling as Ceiling,
)
from .result import (
    CeilingPosterior as CeilingPosterior,
)
from .result import (
    Curve as Curve,
)
from .result import (
    Delivery as Delivery,
)
from .result import (
    Family as Family,
)
from .result import (
    Fit as Fit,
)
from .result import (
    GroupFit as GroupFit,
)
from .result import (
    Law as Law,
)
from .result import (
    Residual as Residual,
)

__all__ = [
    "LAYERS_MM",
    "WIDTHS_MM",
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
    "joined",
    "measured_ceilings",
    "next_coupons",
    "relabelled",
    "speeds",
    "weigh_in",
]
