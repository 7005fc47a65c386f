from .apply import applied, together
from .describe import Finding, GainsLine, describe_result, gains_lines
from .doubts import gross_errors, refuse_gross
from .feed import feed_agreement, feed_by_marks, feed_by_mass
from .heater_log import HeaterLog, read_heater_log
from .heater_model import heat_up, identify, simulate
from .heater_summary import summarise_heater
from .moves import move_correction, squareness
from .programs import (
    CAUTIONS,
    HOT_CAUTIONS,
    feed_program,
    heater_program,
    move_lengths,
    moves_program,
    square_program,
)
from .result import BringUpResult, Gains, HeaterResult
from .sheet import bring_up_sheet, sheet_page

__all__ = [
    "CAUTIONS",
    "HOT_CAUTIONS",
    "BringUpResult",
    "Finding",
    "Gains",
    "GainsLine",
    "HeaterLog",
    "HeaterResult",
    "applied",
    "bring_up_sheet",
    "describe_result",
    "feed_agreement",
    "feed_by_marks",
    "feed_by_mass",
    "feed_program",
    "gains_lines",
    "gross_errors",
    "heat_up",
    "heater_program",
    "identify",
    "move_correction",
    "move_lengths",
    "moves_program",
    "read_heater_log",
    "refuse_gross",
    "sheet_page",
    "simulate",
    "square_program",
    "squareness",
    "summarise_heater",
    "together",
]
