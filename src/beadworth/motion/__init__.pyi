from ._columns import (
    LIMIT_NAMES as LIMIT_NAMES,
)
from ._columns import (
    PART as PART,
)
from ._kernel import (
    BLOCK as BLOCK,
)
from ._kernel import (
    plan_block as plan_block,
)
from ._kernel_lag import (
    BEFORE as BEFORE,
)
from ._kernel_lag import (
    N_LAG as N_LAG,
)
from ._kernel_lag import (
    ROW as ROW,
)
from ._kernel_lag import (
    TOP as TOP,
)
from ._kernel_lag import (
    bits_of as bits_of,
)
from ._kernel_lag import (
    float_of as float_of,
)
from ._kernel_lag import (
    flow_per_speed as flow_per_speed,
)
from ._kernel_lag import (
    follow as follow,
)
from ._kernel_lag import (
    over_level as over_level,
)
from ._kernel_lag import (
    responses as responses,
)
from ._kernel_lag import (
    waited as waited,
)
from ._kernel_limits import (
    N_SCRATCH as N_SCRATCH,
)
from ._kernel_limits import (
    run_length as run_length,
)
from ._kernel_lost import (
    N_LOST as N_LOST,
)
from ._kernel_lost import (
    add_lost as add_lost,
)
from ._kernel_lost import (
    split_times as split_times,
)
from ._kernel_lost import (
    take_lost as take_lost,
)
from .lag import (
    LaggedFlow as LaggedFlow,
)
from .lag import (
    flow_lag as flow_lag,
)
from .limits import (
    Limits as Limits,
)
from .moves import (
    MoveTable as MoveTable,
)
from .moves import (
    no_arcs as no_arcs,
)
from .planner import (
    Standing as Standing,
)
from .planner import (
    bad_move as bad_move,
)
from .planner import (
    has_empty as has_empty,
)
from .planner import (
    kernel_arguments as kernel_arguments,
)
from .planner import (
    path_columns as path_columns,
)
from .planner import (
    plan as plan,
)
from .planner import (
    plan_part as plan_part,
)
from .stream import (
    Planner as Planner,
)
from .timing import (
    Cause as Cause,
)
from .timing import (
    Timing as Timing,
)
from .timing import (
    lost_time_s as lost_time_s,
)

__all__ = [
    "BEFORE",
    "BLOCK",
    "LIMIT_NAMES",
    "N_LAG",
    "N_LOST",
    "N_SCRATCH",
    "PART",
    "ROW",
    "TOP",
    "Cause",
    "LaggedFlow",
    "Limits",
    "MoveTable",
    "Planner",
    "Standing",
    "Timing",
    "add_lost",
    "bad_move",
    "bits_of",
    "float_of",
    "flow_lag",
    "flow_per_speed",
    "follow",
    "has_empty",
    "kernel_arguments",
    "lost_time_s",
    "no_arcs",
    "over_level",
    "path_columns",
    "plan",
    "plan_block",
    "plan_part",
    "responses",
    "run_length",
    "split_times",
    "take_lost",
    "waited",
]
