"""Time in which nothing moves: dwells of the file, and what the rig's owner measured of the rest.

A file says that the machine heats, homes, levels or changes its tool, not how long that takes. The
rig may state it, each from a watch. What heats meanwhile counts once: a wait for heat lasts until
that heater, switched on earlier perhaps, is there; only the other waits count as that meanwhile,
not the moves between them. A stated heating is one from 20 °C to the first target; another rise
takes its share of it. Homing of some axes takes a third for each. Common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk
from beadworth.gcode import columns as gcode_columns
from beadworth.rig import Durations

Array = NDArray[np.float64]

ROOM_C: Final = 20.0
_BED: Final = -1
"""Stands for the bed among the heaters, which are tools otherwise."""
HEATING, BED_HEATING, HOMING, LEVELLING, TOOL_CHANGE = (
    "heating the hot end", "heating the bed", "homing", "levelling", "tool change",
)  # fmt: skip
_WHAT: Final = {
    gcode_columns.WAIT_HOT_END: HEATING,
    gcode_columns.WAIT_BED: BED_HEATING,
    gcode_columns.HOME: HOMING,
    gcode_columns.LEVEL: LEVELLING,
    gcode_columns.TOOL_CHANGE: TOOL_CHANGE,
}


@dataclass(frozen=True)
class Wait:
    """One kind of thing that a file waits for."""

    what: str
    times: int
    total_s: float | None
    """None where the rig does not state it; nothing is counted then."""


@dataclass
class _Heater:
    """One heater: how warm, and since when it is so."""

    from_c: float = ROOM_C
    first_c: float | None = None
    ready_s: float = 0.0

    def aim(self, celsius: float, now_s: float, stated_s: float) -> None:
        """Take a new target."""
        if celsius <= self.from_c:
            self.from_c = max(celsius, ROOM_C)
            return
        self.first_c = celsius if self.first_c is None else self.first_c
        share = (celsius - self.from_c) / (self.first_c - ROOM_C)
        self.ready_s, self.from_c = now_s + share * stated_s, celsius


@dataclass
class Waits:
    """Waits and marks between moves, until the moves around them are planned."""

    durations: Durations = field(default_factory=Durations)
    pending: list[tuple[int, float]] = field(default_factory=list)
    """Number of the move that follows, counted from the start of the print; seconds."""
    dwell_s: float = 0.0
    """Of all dwells met so far."""
    stated_s: float = 0.0
    """Of all else the machine waits for, as far as the rig states it."""
    marks: list[tuple[int, float, float]] = field(default_factory=list)
    """Line, minutes left by the maker's mark, seconds of moves and dwells before it."""
    _marks: list[tuple[int, int, float, float]] = field(default_factory=list)
    """Those not reached yet: move that follows, line, minutes, seconds of dwells before it."""
    _counts: dict[str, int] = field(default_factory=dict)
    _seconds: dict[str, float] = field(default_factory=dict)
    _heaters: dict[int, _Heater] = field(default_factory=dict)

    @property
    def total_s(self) -> float:
        """All waits met so far."""
        return self.dwell_s + self.stated_s

    def found(self) -> tuple[Wait, ...]:
        """What the file waits for, in the order of a print's start."""
        known = _stated(self.durations)
        return tuple(
            Wait(what, self._counts[what],
                 None if known[what] is None else self._seconds.get(what, 0.0))
            for what in _WHAT.values() if what in self._counts
        )  # fmt: skip

    def note(self, chunk: Chunk, before: int) -> None:
        """Take the events of a chunk with ``before`` moves before it."""
        events = chunk.events
        rows = zip(events.before.tolist(), events.code.tolist(), events.line.tolist(),
                   events.value.tolist(), events.tool.tolist(), strict=True)  # fmt: skip
        for move, code, line, value, tool in rows:
            if code == gcode_columns.DWELL:
                self.pending.append((move + before, value))
                self.dwell_s += value
            elif code == gcode_columns.REMAINING:
                self.pending.append((move + before, 0.0))
                self._marks.append((move + before, line, value, self.dwell_s))
            elif code in (gcode_columns.SET_HOT_END, gcode_columns.SET_BED):
                self._aim(_BED if code == gcode_columns.SET_BED else tool, value)
            elif code in _WHAT:
                what = _WHAT[code]
                seconds = self._duration(code, value, tool)
                self._counts[what] = self._counts.get(what, 0) + 1
                self._seconds[what] = self._seconds.get(what, 0.0) + seconds
                self.stated_s += seconds
                if seconds > 0.0:
                    self.pending.append((move + before, seconds))

    def _duration(self, code: int, value: float, tool: int) -> float:
        """How long the machine waits for one thing, 0 where the rig does not state it."""
        stated = _stated(self.durations)[_WHAT[code]] or 0.0
        if code in (gcode_columns.WAIT_HOT_END, gcode_columns.WAIT_BED):
            heater = _BED if code == gcode_columns.WAIT_BED else tool
            self._aim(heater, value)
            return max(0.0, self._heaters[heater].ready_s - self.total_s)
        if code == gcode_columns.HOME:
            return stated * int(value).bit_count() / 3.0
        return stated

    def _aim(self, heater: int, celsius: float) -> None:
        what = BED_HEATING if heater == _BED else HEATING
        stated = _stated(self.durations)[what] or 0.0
        one = self._heaters.setdefault(heater, _Heater())
        if not math.isnan(celsius) and celsius != one.from_c:  # nan: none was ever given
            one.aim(celsius, self.total_s, stated)

    def since(self, first: int) -> tuple[NDArray[np.int64], Array]:
        """Moves, counted from ``first``, before which the machine waits, and how long."""
        return (
            np.array([move - first for move, _ in self.pending], np.int64),
            np.array([seconds for _, seconds in self.pending], np.float64),
        )

    def drop_before(self, end: int) -> None:
        """Forget those before the moves that come before ``end``."""
        self.pending = [wait for wait in self.pending if wait[0] >= end]

    def pass_marks(self, end: int, clock_s: Array) -> None:
        """Take the marks before move ``end``; ``clock_s`` is the time of moves at each wait."""
        if not self._marks:
            return
        at = {move: clock for (move, _), clock in zip(self.pending, clock_s.tolist(), strict=True)}
        while self._marks and self._marks[0][0] < end:
            move, line, minutes, dwell_s = self._marks.pop(0)
            self.marks.append((line, minutes, at[move] + dwell_s))


def _stated(durations: Durations) -> dict[str, float | None]:
    return {
        HEATING: durations.heat_hot_end_s,
        BED_HEATING: durations.heat_bed_s,
        HOMING: durations.home_s,
        LEVELLING: durations.level_s,
        TOOL_CHANGE: durations.change_tool_s,
    }
