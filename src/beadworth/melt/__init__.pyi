from .calibration import MeasuredCeiling, calibrate
from .channel import channel_of, softening_of
from .heat import properties_of
from .melt_flow import MeltFlowEstimate, against_material, melt_flow_estimate
from .plug_flow import ceiling_mm3_s
from .prediction import Prediction, predict
from .scales import Scales
from .state import Push, State, push_of, state_at
from .sweep import (
    LengthPoint,
    flows_up_to,
    lengths_about,
    next_millimetre,
    over_flow,
    over_length,
    over_temperature,
)

__all__ = [
    "LengthPoint",
    "MeasuredCeiling",
    "MeltFlowEstimate",
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
