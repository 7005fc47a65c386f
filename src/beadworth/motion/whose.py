"""Whose limits rule: those a rig states, those a file sets on its way, what is assumed."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.motion import columns
from beadworth.rig import AxisLimits, Rig

Array = NDArray[np.float64]

Rule = Literal["obeyed", "capped", "ignored", "own"]
"""What becomes of a file's limits: as ``motion.file_limits`` of the rig says it; or ``own``, the
rig's own, where a file's word counts only for a kind of limit that the rig says nothing of."""

# Taken where neither rig nor file says anything: low on purpose, so that a print is not promised
# faster than a plain desktop machine manages. Common practice, no source.
DEFAULT_SPEED_MM_S = (150.0, 150.0, 8.0)
DEFAULT_ACCELERATION_MM_S2 = (1000.0, 1000.0, 100.0)
DEFAULT_PATH_ACCELERATION_MM_S2 = 1000.0
DEFAULT_DEVIATION_MM = 0.02
DEFAULT_EXTRUDER_SPEED_MM_S = 40.0
DEFAULT_EXTRUDER_ACCELERATION_MM_S2 = 1000.0
DEFAULT_EXTRUDER_STEP_MM_S = 2.5

STEPS = (columns.STEP_X, columns.STEP_Y, columns.STEP_Z)
CORNER_RULE = (*STEPS, columns.DEVIATION)
_PLANE_ACC = (columns.PRINT_ACC, columns.TRAVEL_ACC, columns.ACC_X, columns.ACC_Y, columns.ACC_Z)
KINDS = (
    _PLANE_ACC,
    (columns.RETRACT_ACC, columns.ACC_E),
    (columns.SPEED_X, columns.SPEED_Y, columns.SPEED_Z),
    (columns.SPEED_E,),
    CORNER_RULE,
    (columns.STEP_E,),
)
"""Limits that are one matter: who states one of them speaks of all."""


def stated_by(rig: Rig) -> Array:
    """What a rig states, one value per limit: nan where it says nothing.

    A corner rule that the rig does not go by is inf where it names the other one.
    """
    motion, extruder = rig.motion, rig.extruder

    def axes(given: AxisLimits | None) -> list[float]:
        return [np.nan] * 3 if given is None else [given.x, given.y, given.z]

    def one(value: float | None) -> float:
        return np.nan if value is None else value

    row = np.array([
        one(motion.print_acceleration_mm_s2), one(motion.travel_acceleration_mm_s2),
        one(motion.retract_acceleration_mm_s2), *axes(motion.max_acceleration_mm_s2),
        one(extruder.max_acceleration_mm_s2), *axes(motion.max_speed_mm_s),
        one(extruder.max_feed_mm_s), *axes(motion.corner_step_mm_s),
        one(motion.extruder_corner_step_mm_s), one(motion.corner_deviation_mm),
    ])  # fmt: skip
    rule = row[list(CORNER_RULE)]
    if not np.isnan(rule).all():
        row[list(CORNER_RULE)] = np.where(np.isnan(rule), np.inf, rule)
    return row


def rule_on(stated: Array, given: Array, rule: Rule) -> tuple[Array, NDArray[np.bool_]]:
    """Rows of limits from what the rig states and what the file sets.

    Parameters
    ----------
    stated : float array
        One row; nan where the rig says nothing.
    given : float array, rows × limits
        What the file has set; nan where it has not said.

    Returns
    -------
    (float array, bool array)
        The rows, nan where neither says anything; and where it is the file's word that counts.
        Which corner rule a controller goes by belongs to the rig: a file's counts where the rig
        names none.
    """
    mine = np.broadcast_to(stated, given.shape)
    by_file = ~np.isnan(given)
    by_file[:, CORNER_RULE] &= ~np.isinf(mine[:, CORNER_RULE])
    if rule == "ignored":
        by_file[:] = False
    elif rule == "capped":
        by_file &= np.isnan(mine) | (given < mine)
    elif rule == "own":
        for kind in KINDS:
            if not np.isnan(stated[list(kind)]).all():
                by_file[:, kind] = False
    return np.where(by_file, given, mine), by_file


def filled(rows: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Rows with what nobody states filled in, and where that is.

    Path and axis accelerations follow from each other where one of them is known.
    """
    table, empty = rows.copy(), np.isnan(rows)

    def fill(column: int, value: Array | float) -> None:
        table[:, column] = np.where(empty[:, column], value, table[:, column])

    both = table[:, [columns.ACC_X, columns.ACC_Y]]
    path = np.where(np.isnan(both).any(axis=1), DEFAULT_PATH_ACCELERATION_MM_S2, both.min(axis=1))
    fill(columns.PRINT_ACC, path)
    fill(columns.TRAVEL_ACC, table[:, columns.PRINT_ACC])
    most = table[:, [columns.PRINT_ACC, columns.TRAVEL_ACC]].max(axis=1)
    x, y, z = DEFAULT_ACCELERATION_MM_S2
    fill(columns.ACC_X, np.maximum(x, most))
    fill(columns.ACC_Y, np.maximum(y, most))
    fill(columns.ACC_Z, z)
    fill(columns.ACC_E, DEFAULT_EXTRUDER_ACCELERATION_MM_S2)
    fill(columns.RETRACT_ACC, table[:, columns.ACC_E])
    for column, value in zip(KINDS[2], DEFAULT_SPEED_MM_S, strict=True):
        fill(column, value)
    fill(columns.SPEED_E, DEFAULT_EXTRUDER_SPEED_MM_S)
    fill(columns.STEP_E, DEFAULT_EXTRUDER_STEP_MM_S)
    step, deviation = table[:, STEPS], table[:, columns.DEVIATION]
    by_step = ~np.isnan(step).all(axis=1)
    # a file that sets some steps: an axis it leaves out goes by the lowest of them
    lowest = np.where(np.isnan(step), np.inf, step).min(axis=1)
    for column in STEPS:
        fill(column, lowest)
    unused = np.where(by_step, np.inf, DEFAULT_DEVIATION_MM)
    table[:, columns.DEVIATION] = np.where(np.isnan(deviation), unused, deviation)
    return table, empty & np.isfinite(table)
