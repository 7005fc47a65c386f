"""Limits of a controller: from a rig, and as a print changes them on the way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadworth.core import LimitError, Place, Problem
from beadworth.gcode import Chunk
from beadworth.gcode import columns as gcode_columns
from beadworth.motion import columns
from beadworth.rig import AxisLimits, Rig

Array = NDArray[np.float64]

# Taken where a rig says nothing: low on purpose, so that a print is not promised faster than
# a plain desktop machine manages. Common practice, no source.
DEFAULT_SPEED_MM_S = (150.0, 150.0, 8.0)
DEFAULT_ACCELERATION_MM_S2 = (1000.0, 1000.0, 100.0)
DEFAULT_PATH_ACCELERATION_MM_S2 = 1000.0
DEFAULT_DEVIATION_MM = 0.02
DEFAULT_EXTRUDER_SPEED_MM_S = 40.0
DEFAULT_EXTRUDER_ACCELERATION_MM_S2 = 1000.0
DEFAULT_EXTRUDER_STEP_MM_S = 2.5

SMALLEST = 1e-6  # a limit of 0 (full stop at every corner) is reckoned as this
_MAY_BE_ZERO = (columns.STEP_X, columns.STEP_Y, columns.STEP_Z, columns.STEP_E, columns.DEVIATION)
_MUST_BE_FINITE = (columns.PRINT_ACC, columns.TRAVEL_ACC, columns.RETRACT_ACC)


@dataclass(frozen=True)
class Limits:
    """Rows of limits; every move names the row in force.

    Attributes
    ----------
    table : float array, rows × ``len(LIMIT_NAMES)``
        Columns as named in ``LIMIT_NAMES``: mm/s, mm/s², mm; inf where there is no limit.
        The three path accelerations are finite. The corner rule of a row is the axis step,
        the deviation, or the lower of both, whichever is not inf.
    look_ahead_moves : int or None
        Moves in the controller's queue with the one it runs, at least 2; None for no bound.
    """

    table: Array
    look_ahead_moves: int | None = None

    def __post_init__(self) -> None:
        """Check every row.

        Raises
        ------
        LimitError
            Every value out of range, by row and name.
        """
        table = np.atleast_2d(np.asarray(self.table, float))
        object.__setattr__(self, "table", table)
        problems = []
        if table.ndim != 2 or table.shape[1] != columns.N_LIMIT or not len(table):
            problems.append(
                Problem(f"a limits row has {columns.N_LIMIT} values.", value=table.shape)
            )
        else:
            good = table > 0.0
            good[:, _MAY_BE_ZERO] |= table[:, _MAY_BE_ZERO] == 0.0
            good[:, _MUST_BE_FINITE] &= np.isfinite(table[:, _MUST_BE_FINITE])
            problems += [
                Problem(
                    f"{columns.LIMIT_NAMES[column]} must be above 0"
                    f"{' and finite' if column in _MUST_BE_FINITE else ''}.",
                    where=Place("limits", row=row),
                    value=float(table[row, column]),
                    remedy="Correct the rig's motion limits, or the command that sets this one.",
                )
                for row, column in np.argwhere(~good)[:20].tolist()
            ]
        if self.look_ahead_moves is not None and self.look_ahead_moves < 2:
            problems.append(
                Problem(
                    "a controller that looks ahead holds at least 2 moves.",
                    where="look_ahead_moves",
                    value=self.look_ahead_moves,
                    remedy="Give 2 or more, or leave it out for no bound.",
                )
            )
        if problems:
            raise LimitError(problems)

    @classmethod
    def of(cls, look_ahead_moves: int | None = None, **values: float) -> Self:
        """One row from named values; what is not named does not limit.

        Parameters
        ----------
        look_ahead_moves : int, optional
        **values : float
            Names of ``LIMIT_NAMES``; ``print_acceleration_mm_s2`` also stands in for the
            travel and retract accelerations that are not named.

        Raises
        ------
        TypeError
            A name that is no limit.
        LimitError
            A value out of range.
        """
        unknown = set(values) - set(columns.LIMIT_NAMES)
        if unknown:
            raise TypeError(f"no such limit: {', '.join(sorted(unknown))}")
        path = values.get("print_acceleration_mm_s2", np.inf)
        path_names = [columns.LIMIT_NAMES[column] for column in _MUST_BE_FINITE]
        row = [values.get(n, path if n in path_names else np.inf) for n in columns.LIMIT_NAMES]
        return cls(np.array([row]), look_ahead_moves)

    @classmethod
    def from_rig(cls, rig: Rig) -> tuple[Self, tuple[str, ...]]:
        """Limits of a rig, and a note for each value it does not state.

        Returns
        -------
        (Limits, tuple of str)
            One row, and what was assumed in words with the value.
        """
        motion, extruder = rig.motion, rig.extruder
        notes: list[str] = []

        def assume(value: float, what: str, unit: str) -> float:
            notes.append(f"{what}: the rig does not state it; {value:g} {unit} taken")
            return value

        def axes(given: AxisLimits | None, default: tuple[float, ...], what: str) -> list[float]:
            if given is not None:
                return [given.x, given.y, given.z]
            shown = ", ".join(
                f"{axis} {value:g}" for axis, value in zip("xyz", default, strict=True)
            )
            notes.append(f"{what}: the rig does not state it; {shown} taken")
            return list(default)

        speeds = axes(motion.max_speed_mm_s, DEFAULT_SPEED_MM_S, "top speed per axis, mm/s")
        stated = motion.max_acceleration_mm_s2
        per_axis = axes(stated, DEFAULT_ACCELERATION_MM_S2, "acceleration per axis, mm/s²")
        path = DEFAULT_PATH_ACCELERATION_MM_S2 if stated is None else min(per_axis[:2])
        unit = "mm/s²"
        printing = motion.print_acceleration_mm_s2 or assume(path, "print acceleration", unit)
        travel = motion.travel_acceleration_mm_s2 or assume(printing, "travel acceleration", unit)
        accelerating = extruder.max_acceleration_mm_s2 or assume(
            DEFAULT_EXTRUDER_ACCELERATION_MM_S2, "extruder acceleration", unit
        )
        retract = motion.retract_acceleration_mm_s2 or assume(
            accelerating, "retract acceleration", unit
        )
        feeding = extruder.max_feed_mm_s or assume(
            DEFAULT_EXTRUDER_SPEED_MM_S, "top filament feed", "mm/s"
        )
        step = motion.corner_step_mm_s
        steps = [np.inf] * 3 if step is None else [step.x, step.y, step.z]
        deviation = motion.junction_deviation_mm or np.inf
        if step is None and motion.junction_deviation_mm is None:
            deviation = assume(DEFAULT_DEVIATION_MM, "corner rule: centripetal deviation", "mm")
        e_step = motion.extruder_corner_step_mm_s or assume(
            DEFAULT_EXTRUDER_STEP_MM_S, "step of the filament feed at a corner", "mm/s"
        )
        row = [
            printing, travel, retract, *per_axis, accelerating, *speeds, feeding,
            *steps, e_step, deviation,
        ]  # fmt: skip
        return cls(np.array([row]), motion.look_ahead_moves), tuple(notes)

    def with_changes(self, changes: ArrayLike) -> Self:
        """Rows as a print sets them on its way.

        Parameters
        ----------
        changes : float array, rows × ``len(LIMIT_NAMES)``
            What is in force in each row; nan where the print has not said: then the value
            of this object's first row holds. A corner rule the first row does not use is
            not brought in by the print: which rule a controller follows belongs to the rig.
        """
        given = np.atleast_2d(np.asarray(changes, float))
        first = self.table[0]
        table = np.where(np.isnan(given), first, given)
        if np.isinf(first[[columns.STEP_X, columns.STEP_Y, columns.STEP_Z]]).all():
            table[:, [columns.STEP_X, columns.STEP_Y, columns.STEP_Z]] = np.inf
        if np.isinf(first[columns.DEVIATION]):
            table[:, columns.DEVIATION] = np.inf
        return replace(self, table=table)

    def in_chunk(self, chunk: Chunk) -> Self:
        """The rows a chunk of G-code refers to (M201, M203, M204, M205); see with_changes."""
        there = [gcode_columns.SETTINGS.index(name) for name in columns.LIMIT_NAMES]
        return self.with_changes(chunk.settings[:, there])

    def inverses(self) -> Array:
        """Reciprocals of the table, as the kernels want them."""
        return np.ascontiguousarray(1.0 / np.maximum(self.table, SMALLEST))
