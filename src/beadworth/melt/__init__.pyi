from .calibration import MeasuredCeiling, calibrate
from .ceilings import loss_share
from .channel import channel_of, softening_of
from .heat import properties_of
from .melt_flow import MeltFlowEstimate, against_material, melt_flow_estimate
from .narrowing import Measurement, Share, in_common
from .plug_flow import ceiling_mm3_s
from .prediction import Prediction, expected_mm3_s, predict
from .scales import CalibrationSource, Scales, grip_of, hot_end_of, nozzle_of
from .state import InsideState, Push, State, inside_at, push_of, state_at
from .sweep import (
    LengthPoint,
    flows_up_to,
    lengths_about,
    next_millimetre,
    over_flow,
    over_length,
    over_nozzle,
    over_temperature,
)

__all__ = [
    "CalibrationSource",
    "InsideState",
    "LengthPoint",
    "MeasuredCeiling",
    "Measurement",
    "MeltFlowEstimate",
    "Prediction",
    "Push",
    "Scales",
    "Share",
    "State",
    "against_material",
    "calibrate",
    "ceiling_mm3_s",
    "channel_of",
    "expected_mm3_s",
    "flows_up_to",
    "grip_of",
    "hot_end_of",
    "in_common",
    "inside_at",
    "lengths_about",
    "loss_share",
    "melt_flow_estimate",
    "next_millimetre",
    "nozzle_of",
    "over_flow",
    "over_length",
    "over_nozzle",
    "over_temperature",
    "predict",
    "properties_of",
    "push_of",
    "softening_of",
    "state_at",
]
