"""Moves from point to point, and what planning gave in other words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadworth.motion import Cause, MoveTable, Timing, columns
from beadworth.motion._kernel_lost import N_LOST, add_cruise, add_lost, split_times, take_lost
from beadworth.motion.columns import PART

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]


def held_by(timing: Timing) -> Codes:
    """:class:`Cause` per move: ACCELERATION below the top speed, else what sets that."""
    slower = timing.peak_mm_s < timing.top_mm_s
    return np.where(slower, np.uint8(columns.ACCELERATION), timing.top_by)


def phases_s(timing: Timing) -> tuple[Floats, Floats, Floats]:
    """Time speeding up, at the peak, and slowing down, s; they add up to ``time_s``."""
    still = timing.acceleration_mm_s2 == 0.0
    a = np.where(still, 1.0, timing.acceleration_mm_s2)
    up = np.where(still, 0.0, (timing.peak_mm_s - timing.entry_mm_s) / a)
    down = np.where(still, 0.0, (timing.peak_mm_s - timing.exit_mm_s) / a)
    return up, np.maximum(timing.time_s - up - down, 0.0), down


def lost_time_s(moves: MoveTable, timing: Timing, cruises: bool = False) -> dict[Cause, float]:
    """Split the time of moves by what it is lost to.

    Parameters
    ----------
    moves, timing
        Of the same moves.
    cruises : bool
        Planned with a least share of cruising.

    Returns
    -------
    dict of Cause to seconds
        ``COMMANDED`` is the time at the commanded speed all the way; every other is what it
        adds, 0 or more. The values add up to the time. Ramps around a corner or
        stop count as that corner's or stop's, ramps between two commanded speeds as
        ``ACCELERATION``'s.
    """
    filament, feeds, lengths = moves.filament_mm, moves.feed_mm_s, moves.length_mm
    speed, top, peak, acc = (
        timing.junction_mm_s, timing.top_mm_s, timing.peak_mm_s, timing.acceleration_mm_s2,
    )  # fmt: skip
    causes, held = (codes.astype(np.int64) for codes in (timing.junction_by, timing.top_by))
    w, out = np.zeros(N_LOST), np.zeros(columns.N_CAUSE)
    # the parts as a replay calls them, uncompiled: they divide as IEEE 754 has it
    split, add, cruise, take = (f.py_func for f in (split_times, add_lost, add_cruise, take_lost))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for a in range(0, len(moves), PART):
            n = min(PART, len(moves) - a)
            split(n, filament[a:], feeds[a:], lengths[a:], speed[a:], top[a:], peak[a:], acc[a:], w)
            add(n, causes[a:], held[a:], w)
            if cruises:
                cruise(n, filament[a:], lengths[a:], speed[a:], top[a:], peak[a:], acc[a:], w)
        take(w, out)
    return {cause: float(out[cause]) for cause in Cause}
