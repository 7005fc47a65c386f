"""Columns of the replay's tables, shared with the kernel."""

from __future__ import annotations

from typing import Final

from beadworth.gcode import columns as gcode_columns

EXTRUDE: Final = gcode_columns.EXTRUDE
PRIME: Final = gcode_columns.PRIME
PUSH: Final = gcode_columns.PUSH
APART: Final = PUSH + 1  # extruded, and none of the print; see replay.apart

BIN_MM3_S: Final = 0.01  # resolution of the flow histogram
HISTOGRAM_BINS: Final = 30_000
SERIES_BINS: Final = 2048
LAYER_ROWS: Final = gcode_columns.LAYER_SLOTS + 1

(
    T_TIME, T_EXTRUDING, T_VOLUME, T_MAX, T_OVER,
    T_APART_MOVES, T_APART_LINE, T_APART_MM, T_APART_S, T_APART_MAX,
) = range(10)  # fmt: skip
N_TOTAL: Final = 10

L_TIME, L_EXTRUDING, L_VOLUME, L_MAX, L_LEAST, L_Z, L_OVER, L_FAN = range(8)
N_LAYER: Final = 8
P_EXTRUDING, P_VOLUME, P_MAX, P_OVER = range(4)  # per condition
N_PER: Final = 4

SLACK: Final = 1e-9  # over a ceiling is what is by more than this part, lest rounding decide
GAP_LAGS: Final = 3.0  # a pause under the ceiling of fewer lags does not end a stretch
WORST_ROWS: Final = 500  # stretches kept with their place; the rest are counted
N_WORST, N_BURSTS, N_SUSTAINED = range(3)

C_FLOW, C_CEILING = range(2)
S_OPEN, S_WIDTH, S_FLOW, S_BIN_END, S_WAITED, S_DRAWN, S_CLOCK, S_LAID = range(8)
N_STATE: Final = 8

(
    R_LINE,
    R_LAST_LINE,
    R_LAYER,
    R_START,
    R_END,
    R_X,
    R_Y,
    R_Z,
    R_ASKED,
    R_LENGTH,
    R_OVER,
    R_LAGGED,
    R_RATIO,
    R_FLOW,
    R_CEILING,
    R_TEMPERATURE,
    R_BEYOND,
    R_DRAWN,
) = range(18)
N_STRETCH: Final = 18
