"""What planning gives: speed over time, and what holds it back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

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


def straight_mm_s2(step_mm_s: ArrayLike, a_mm_s2: ArrayLike, jerk_mm_s3: float | None) -> Floats:
    """Acceleration of the straight ramp that takes the time and length of an S-curve.

    Parameters
    ----------
    step_mm_s : float or array, ≥ 0
        Difference of the speeds at its ends.
    a_mm_s2 : float or array, ≥ 0
        Limit of the acceleration.
    jerk_mm_s3 : float or None, > 0
        Limit of the jerk; None: the ramp is straight.

    Returns
    -------
    float array
        Step ÷ time. Equation (20) of docs/explanation/motion.md.
    """
    step, a = np.asarray(step_mm_s, float), np.asarray(a_mm_s2, float)
    if jerk_mm_s3 is None:
        return a
    long = np.maximum(step + a * a / jerk_mm_s3, np.finfo(float).tiny)
    short = step <= a * a / jerk_mm_s3
    return np.where(short, np.sqrt(jerk_mm_s3 * step) / 2, a * step / long)


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
    jerk_mm_s3 : float or None
        Limit of jerk, with which each ramp is an S-curve up to that acceleration; None: each is
        straight, at that acceleration all along.
    """

    first: int
    junction_mm_s: Floats
    junction_by: Codes
    top_mm_s: Floats
    top_by: Codes
    peak_mm_s: Floats
    acceleration_mm_s2: Floats
    time_s: Floats
    jerk_mm_s3: float | None = None

    def __len__(self) -> int:
        """Count of moves."""
        return len(self.time_s)

    def part(self, start: int, stop: int) -> Timing:
        """Moves start … stop − 1 of these, as views."""
        moves, junctions = slice(start, stop), slice(start, stop + 1)
        return Timing(
            self.first + start, self.junction_mm_s[junctions], self.junction_by[junctions],
            self.top_mm_s[moves], self.top_by[moves], self.peak_mm_s[moves],
            self.acceleration_mm_s2[moves], self.time_s[moves], self.jerk_mm_s3,
        )  # fmt: skip

    def straight_mm_s2(self) -> tuple[Floats, Floats]:
        """Acceleration of the straight ramp that takes each ramp's time and length, up and down."""
        a, jerk = self.acceleration_mm_s2, self.jerk_mm_s3
        up, down = self.peak_mm_s - self.entry_mm_s, self.peak_mm_s - self.exit_mm_s
        return straight_mm_s2(up, a, jerk), straight_mm_s2(down, a, jerk)

    @property
    def entry_mm_s(self) -> Floats:
        """Speed at the start of each move."""
        return self.junction_mm_s[:-1]

    @property
    def exit_mm_s(self) -> Floats:
        """Speed at the end of each move."""
        return self.junction_mm_s[1:]
