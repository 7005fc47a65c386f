"""Limits of a controller: from a rig, and as a print changes them on the way."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadworth.core import LimitError, Place, Problem
from beadworth.gcode import Chunk
from beadworth.gcode import columns as gcode_columns
from beadworth.motion import columns
from beadworth.motion.whose import Rule, filled, rule_on, stated_by
from beadworth.rig import Rig

Array = NDArray[np.float64]

SMALLEST = 1e-6  # a limit of 0 (full stop at every corner) is reckoned as this
_MAY_BE_ZERO = (columns.STEP_X, columns.STEP_Y, columns.STEP_Z, columns.STEP_E, columns.DEVIATION)
_MUST_BE_FINITE = (columns.PRINT_ACC, columns.TRAVEL_ACC, columns.RETRACT_ACC)
_IN_SETTINGS = [gcode_columns.SETTINGS.index(name) for name in columns.LIMIT_NAMES]


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
    min_cruise_share : float
        Least share of a move's length that is run at one speed, from 0 to below 1.
    max_jerk_mm_s3 : float or None
        Limit of jerk along the path, or of the filament where only it moves; None for none.
    stated : float array or None
        What the rig states, nan where it says nothing; None: the first row, all of it.
    rule : str
        What becomes of the limits a file sets, see :data:`~beadworth.motion.whose.Rule`.
    lines, assumed : arrays of the shape of ``table``
        Line of the file that set a value, 0 where none did; whether nobody states it.
    """

    table: Array
    look_ahead_moves: int | None = None
    stated: Array | None = None
    rule: Rule = "obeyed"
    lines: Array = field(default_factory=lambda: np.zeros((1, columns.N_LIMIT)))
    min_cruise_share: float = 0.0
    max_jerk_mm_s3: float | None = None
    assumed: NDArray[np.bool_] = field(default_factory=lambda: np.zeros((1, columns.N_LIMIT), bool))
    _last: dict[tuple[bytes, bytes], Limits] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )
    """The rows of the chunk before: most chunks change no limit."""

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
        if not 0.0 <= self.min_cruise_share < 1.0:
            problems.append(
                Problem(
                    "the least share of a move that is run at one speed lies from 0 to below 1.",
                    where="min_cruise_share",
                    value=self.min_cruise_share,
                    remedy="Give a share such as 0.5, or leave it out for none.",
                )
            )
        if self.max_jerk_mm_s3 is not None and not 0.0 < self.max_jerk_mm_s3 < np.inf:
            problems.append(
                Problem(
                    "a limit of jerk must be above 0 and finite.",
                    where="max_jerk_mm_s3",
                    value=self.max_jerk_mm_s3,
                    remedy="Correct the rig's motion.max_jerk_mm_s3, or leave it out for none.",
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

    @staticmethod
    def names() -> tuple[str, ...]:
        """Names of the columns of ``table``."""
        return columns.LIMIT_NAMES

    @classmethod
    def from_rig(cls, rig: Rig, rule: Rule | None = None) -> Self:
        """Limits of a rig: one row, before a file has set any.

        Parameters
        ----------
        rig : Rig
            What it does not state is filled in, and marked as assumed.
        rule : str, optional
            What becomes of the limits a file sets; left out, as the rig says.
        """
        stated, motion = stated_by(rig), rig.motion
        table, assumed = filled(stated[np.newaxis])
        return cls(
            table, motion.look_ahead_moves, stated, rule or motion.file_limits, assumed=assumed,
            min_cruise_share=motion.min_cruise_share or 0.0, max_jerk_mm_s3=motion.max_jerk_mm_s3,
        )  # fmt: skip

    def with_changes(self, changes: ArrayLike, lines: ArrayLike | None = None) -> Self:
        """Rows as a print sets them on its way.

        Parameters
        ----------
        changes : float array, rows × ``len(LIMIT_NAMES)``
            What is in force in each row; nan where the print has not said.
        lines : float array of that shape, optional
            Lines of the file that set them.
        """
        given = np.atleast_2d(np.asarray(changes, float))
        stated = self.table[0] if self.stated is None else self.stated
        rows, by_file = rule_on(stated, given, self.rule)
        table, assumed = filled(rows)
        at = np.ones(given.shape) if lines is None else np.asarray(lines, float)
        return replace(self, table=table, lines=np.where(by_file, at, 0.0), assumed=assumed)

    def in_chunk(self, chunk: Chunk) -> Limits:
        """The rows a chunk of G-code refers to (M201, M203, M204, M205); see with_changes."""
        changes, lines = chunk.settings[:, _IN_SETTINGS], chunk.limit_lines
        key = changes.tobytes(), lines.tobytes()
        found = self._last.get(key)
        if found is None:
            found = self.with_changes(changes, lines)
            self._last.clear()
            self._last[key] = found
        return found

    @property
    def over_jerk_s3_mm(self) -> float | None:
        """Reciprocal of the limit of jerk, as the kernels want it."""
        return None if self.max_jerk_mm_s3 is None else 1.0 / self.max_jerk_mm_s3

    def inverses(self) -> Array:
        """Reciprocals of the table, as the kernels want them."""
        return np.ascontiguousarray(1.0 / np.maximum(self.table, SMALLEST))
