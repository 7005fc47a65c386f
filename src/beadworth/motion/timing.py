"""What planning gives: speed over time, and what holds it back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from beadworth.motion import columns

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]


class Cause(IntEnum):
    """What holds a speed back."""

    COMMANDED = columns.COMMANDED
    """Nothing: the commanded speed. At a junction: the commanded speed changes there."""
    AXIS_SPEED = columns.AXIS_SPEED
    """An axis at its top speed."""
    EXTRUDER_SPEED = columns.EXTRUDER_SPEED
    """The filament drive at its top feed."""
    ARC = columns.ARC
    """The centripetal acceleration of an arc."""
    CORNER = columns.CORNER
    """The corner rule."""
    EXTRUDER_STEP = columns.EXTRUDER_STEP
    """The step of the filament feed at a corner."""
    STOP = columns.STOP
    """A stop: start and end, dwell, wait, tool change, filament moved on its own."""
    WINDOW = columns.WINDOW
    """The end of what the controller has seen so far."""
    ACCELERATION = columns.ACCELERATION
    """Acceleration: too short to reach the speed, or ramping to another commanded speed."""


@dataclass(frozen=True)
class Timing:
    """Speed over time of consecutive moves.

    Attributes
    ----------
    first : int
        Number of the first move, counted from the start of the print.
    junction_mm_s : float array, moves + 1
        Speed between moves, at the start of the first and at the end of the last. Along the
        path; of the filament where only it moves.
    junction_by : uint8 array, moves + 1
        :class:`Cause` of each junction speed: of the slow place the ramp to or from it
        belongs to, which may lie some moves away.
    top_mm_s, top_by : float and uint8 arrays
        Highest speed the limits allow along the move, and what sets it.
    peak_mm_s : float array
        Highest speed reached.
    acceleration_mm_s2 : float array
        Used for speeding up and slowing down; 0 for a move of length 0.
    time_s : float array
    """

    first: int
    junction_mm_s: Floats
    junction_by: Codes
    top_mm_s: Floats
    top_by: Codes
    peak_mm_s: Floats
    acceleration_mm_s2: Floats
    time_s: Floats

    def __len__(self) -> int:
        """Count of moves."""
        return len(self.time_s)

    def part(self, start: int, stop: int) -> Timing:
        """Moves start … stop − 1 of these, as views."""
        of_moves = (
            getattr(self, name)[start:stop]
            for name in ("top_mm_s", "top_by", "peak_mm_s", "acceleration_mm_s2", "time_s")
        )
        junctions = slice(start, stop + 1)
        return Timing(
            self.first + start,
            self.junction_mm_s[junctions],
            self.junction_by[junctions],
            *of_moves,
        )

    @property
    def entry_mm_s(self) -> Floats:
        """Speed at the start of each move."""
        return self.junction_mm_s[:-1]

    @property
    def exit_mm_s(self) -> Floats:
        """Speed at the end of each move."""
        return self.junction_mm_s[1:]
