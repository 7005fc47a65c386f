from ._kernel import BLOCK, plan_block
from ._kernel_lag import (
    BEFORE,
    N_LAG,
    ROW,
    TOP,
    bits_of,
    float_of,
    flow_per_speed,
    follow,
    over_level,
    responses,
    waited,
)
from ._kernel_limits import run_length
from ._kernel_lost import N_LOST, add_cruise, add_lost, split_times, take_lost
from ._kernel_rows import N_SCRATCH
from .columns import PART
from .in_force import ASSUMED, RIG, LimitInForce, LimitsInForce, assumptions
from .lag import LaggedFlow, flow_lag
from .limits import Limits
from .moves import MoveTable
from .planner import Standing, bad_move, has_empty, kernel_arguments, path_columns, plan, plan_part
from .stream import Planner
from .timing import Cause, Timing, straight_mm_s2
from .whose import Rule

__all__ = [
    "ASSUMED",
    "BEFORE",
    "BLOCK",
    "N_LAG",
    "N_LOST",
    "N_SCRATCH",
    "PART",
    "RIG",
    "ROW",
    "TOP",
    "Cause",
    "LaggedFlow",
    "LimitInForce",
    "Limits",
    "LimitsInForce",
    "MoveTable",
    "Planner",
    "Rule",
    "Standing",
    "Timing",
    "add_cruise",
    "add_lost",
    "assumptions",
    "bad_move",
    "bits_of",
    "float_of",
    "flow_lag",
    "flow_per_speed",
    "follow",
    "has_empty",
    "kernel_arguments",
    "over_level",
    "path_columns",
    "plan",
    "plan_block",
    "plan_part",
    "responses",
    "run_length",
    "split_times",
    "straight_mm_s2",
    "take_lost",
    "waited",
]
