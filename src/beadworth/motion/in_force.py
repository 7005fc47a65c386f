"""The limits in force in a print: each value, where it comes from, and what had to be assumed."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from beadworth.core import named
from beadworth.motion import columns
from beadworth.motion.limits import Limits

RIG, ASSUMED = "rig", "assumed"
MOST_VALUES = 20
"""Values told of one limit; a file may set it thousands of times."""
_PER_S, _PER_S2 = "mm/s", "mm/s²"
_AXES = ("x", "y", "z")
NAMES: tuple[tuple[str, str], ...] = (
    ("print acceleration", _PER_S2),
    ("travel acceleration", _PER_S2),
    ("retract acceleration", _PER_S2),
    *((f"{axis} acceleration", _PER_S2) for axis in _AXES),
    ("extruder acceleration", _PER_S2),
    *((f"{axis} top speed", _PER_S) for axis in _AXES),
    ("top filament feed", _PER_S),
    *((f"{axis} step at a corner", _PER_S) for axis in _AXES),
    ("step of the filament feed at a corner", _PER_S),
    ("centripetal deviation at a corner", "mm"),
)
"""What each limit is called, and its unit, in the order of ``LIMIT_NAMES``."""
CRUISE = ("least share of a move at one speed", "of its length")
JERK = ("jerk", "mm/s³")


@dataclass(frozen=True)
class LimitInForce:
    """One value of one limit."""

    name: str
    value: float
    unit: str
    origin: str = field(metadata=named("from"))
    """``rig``, ``assumed``, or the first line of the file that sets it."""


@dataclass
class LimitsInForce:
    """Gathers the values in force, chunk by chunk; bounded by :data:`MOST_VALUES` of each."""

    _seen: list[dict[tuple[float, bool, bool], int]] = field(
        default_factory=lambda: [{} for _ in range(columns.N_LIMIT)]
    )
    """By limit: (value, by the file, assumed) to the line that sets it first."""
    _cruise: float = 0.0
    _jerk: float | None = None
    _last: Limits | None = None
    """The rows of the chunk before, where all of them were in use."""

    def note(self, rows: Limits, setting: NDArray[np.int32] | None = None) -> None:
        """Take the rows of a chunk; with ``setting``, the row of every move, those in use alone."""
        table, lines, assumed = rows.table, rows.lines, rows.assumed
        if rows is self._last:
            return
        self._cruise, self._jerk = rows.min_cruise_share, rows.max_jerk_mm_s3
        self._last = rows if setting is None else None
        if setting is not None:
            ends = np.searchsorted(setting, np.arange(len(table) + 1, dtype=np.int32))
            used = ends[1:] > ends[:-1]  # rows come in order
            self._last = rows if used.all() else None
            table, lines, assumed = table[used], lines[used], assumed[used]
        new = np.ones(table.shape, bool)
        new[1:] = (table[1:] != table[:-1]) | ((lines[1:] > 0) != (lines[:-1] > 0))
        new &= np.isfinite(table)
        for row, column in np.argwhere(new).tolist():
            seen, line = self._seen[column], int(lines[row, column])
            key = (float(table[row, column]), line > 0, bool(assumed[row, column]))
            if key not in seen and len(seen) < MOST_VALUES:
                seen[key] = line

    def found(self) -> tuple[LimitInForce, ...]:
        """Every limit with its values in the order in which they came into force."""
        found = [
            LimitInForce(
                name, value, unit,
                f"line {line} of the file" if by_file else ASSUMED if assumed else RIG,
            )
            for (name, unit), seen in zip(NAMES, self._seen, strict=True)
            for (value, by_file, assumed), line in seen.items()
        ]  # fmt: skip
        if self._cruise:
            found.append(LimitInForce(CRUISE[0], self._cruise, CRUISE[1], RIG))
        if self._jerk is not None:
            found.append(LimitInForce(JERK[0], self._jerk, JERK[1], RIG))
        return tuple(found)


def assumptions(limits: tuple[LimitInForce, ...]) -> tuple[str, ...]:
    """A note of the limits that neither rig nor file states, where there are any."""
    taken = [f"{x.name} {x.value:g} {x.unit}" for x in limits if x.origin == ASSUMED]
    if not taken:
        return ()
    return (f"neither the rig nor the file states these limits; taken: {', '.join(taken)}",)
