"""A path becomes speed over time: look-ahead planning as controllers do it."""

from beadworth.motion._layout import LIMIT_NAMES
from beadworth.motion.lag import LaggedFlow, flow_lag
from beadworth.motion.limits import Limits
from beadworth.motion.moves import MoveTable, no_arcs
from beadworth.motion.planner import plan
from beadworth.motion.stream import Planner
from beadworth.motion.timing import Cause, Timing, lost_time_s

__all__ = [
    "LIMIT_NAMES",
    "Cause",
    "LaggedFlow",
    "Limits",
    "MoveTable",
    "Planner",
    "Timing",
    "flow_lag",
    "lost_time_s",
    "no_arcs",
    "plan",
]
