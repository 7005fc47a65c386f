"""Columns of a limits row and the codes of what holds a speed back, shared with the kernels."""

from __future__ import annotations

from typing import Final

from beadworth.gcode import columns as gcode_columns

# --- limits in force (float64 row), in the order of the scanner's settings -----------
LIMIT_NAMES: Final = gcode_columns.SETTINGS[gcode_columns.PRINT_ACC :]
N_LIMIT: Final = len(LIMIT_NAMES)
PRINT_ACC, TRAVEL_ACC, RETRACT_ACC, ACC_X, ACC_Y, ACC_Z, ACC_E = range(7)
SPEED_X, SPEED_Y, SPEED_Z, SPEED_E, STEP_X, STEP_Y, STEP_Z, STEP_E, DEVIATION = range(7, 16)

PART: Final = 1024  # moves per pass over scratch rows, which stay in the nearest cache

# --- what holds a speed back ---------------------------------------------------------
COMMANDED: Final = 0  # nothing: the commanded speed
AXIS_SPEED: Final = 1
EXTRUDER_SPEED: Final = 2
ARC: Final = 3
CORNER: Final = 4
EXTRUDER_STEP: Final = 5
STOP: Final = 6
WINDOW: Final = 7
ACCELERATION: Final = 8
N_CAUSE: Final = 9
