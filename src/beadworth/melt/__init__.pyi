from .calibration import (
    MeasuredCeiling as MeasuredCeiling,
)
from .calibration import (
    calibrate as calibrate,
)
from .channel import (
    INLET_C as INLET_C,
)
from .channel import (
    PTFE_LIMIT_C as PTFE_LIMIT_C,
)
from .channel import (
    channel_of as channel_of,
)
from .channel import (
    softening_of as softening_of,
)
from .heat import (
    properties_of as properties_of,
)
from .melt_flow import (
    against_material as against_material,
)
from .melt_flow import (
    melt_flow_estimate as melt_flow_estimate,
)
from .plug_flow import (
    ceiling_mm3_s as ceiling_mm3_s,
)
from .prediction import (
    Prediction as Prediction,
)
from .prediction import (
    predict as predict,
)
from .scales import (
    Scales as Scales,
)
from .state import (
    Push as Push,
)
from .state import (
    State as State,
)
from .state import (
    melt_heat_w as melt_heat_w,
)
from .state import (
    push_of as push_of,
)
from .state import (
    state_at as state_at,
)
from .sweep import (
    LengthPoint as LengthPoint,
)
from .sweep import (
    flows_up_to as flows_up_to,
)
from .sweep import (
    lengths_about as lengths_about,
)
from .sweep import (
    next_millimetre as next_millimetre,
)
from .sweep import (
    over_flow as over_flow,
)
from .sweep import (
    over_length as over_length,
)
from .sweep import (
    over_temperature as over_temperature,
)

__all__ = [
    "INLET_C",
    "PTFE_LIMIT_C",
    "LengthPoint",
    "MeasuredCeiling",
    "Prediction",
    "Push",
    "Scales",
    "State",
    "against_material",
    "calibrate",
    "ceiling_mm3_s",
    "channel_of",
    "flows_up_to",
    "lengths_about",
    "melt_flow_estimate",
    "melt_heat_w",
    "next_millimetre",
    "over_flow",
    "over_length",
    "over_temperature",
    "predict",
    "properties_of",
    "push_of",
    "softening_of",
    "state_at",
]
