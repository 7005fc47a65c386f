"""Bring a changed printer up right: steps, feed, squareness, heater, and the sheet to tick.

Everything here takes plain numbers a person measured and hands back records of
:mod:`~beadworth.bringup.result`, to be kept with the rig as one :class:`BringUpResult`.
:mod:`~beadworth.bringup.programs` writes the programs that make the measurements.
"""

from beadworth.bringup.feed import feed_agreement, feed_by_marks, feed_by_mass
from beadworth.bringup.gains import parallel, simc, starting_gains, ziegler_nichols
from beadworth.bringup.heater_log import HeaterLog, read_heater_log
from beadworth.bringup.heater_model import heat_up, identify, standing_loss
from beadworth.bringup.line import Line, fit_line
from beadworth.bringup.moves import move_correction, squareness
from beadworth.bringup.result import BringUpResult, applied, together

__all__ = [
    "BringUpResult",
    "HeaterLog",
    "Line",
    "applied",
    "feed_agreement",
    "feed_by_marks",
    "feed_by_mass",
    "fit_line",
    "heat_up",
    "identify",
    "move_correction",
    "parallel",
    "read_heater_log",
    "simc",
    "squareness",
    "standing_loss",
    "starting_gains",
    "together",
    "ziegler_nichols",
]
