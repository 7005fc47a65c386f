"""What leaves the nozzle lags behind what the drive pushes: a first-order melt pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadworth.core import InputError, Problem
from beadworth.motion.moves import MoveTable, writable
from beadworth.motion.timing import Timing

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LaggedFlow:
    """Flow out of the nozzle, per move.

    Attributes
    ----------
    max_mm3_s : float array
        Highest flow during the move.
    end_mm3_s : float array
        Flow at its end.
    over_s : float array
        Time within the move at which the flow is above its threshold.
    after_mm3_s : float
        Flow after the last move and the waits behind it: the start of the next part.
    """

    max_mm3_s: Floats
    end_mm3_s: Floats
    over_s: Floats
    after_mm3_s: float


def flow_lag(
    moves: MoveTable,
    timing: Timing,
    *,
    section_mm2: float,
    lag_s: float,
    laying: NDArray[np.bool_] | None = None,
    threshold_mm3_s: ArrayLike = np.inf,
    start_mm3_s: float = 0.0,
    wait_before: ArrayLike = (),
    wait_s: ArrayLike = (),
) -> LaggedFlow:
    """Let the flow follow the filament rate with a first-order lag, exactly.

    τ·dq/dt + q = section × filament rate; the rate is piecewise linear over time (an S-curve
    counts as the straight ramp of the same time), each piece is solved in closed form
    (docs/explanation/motion.md). The lag is linear: filament drawn
    back lowers the flow, below 0 where it draws back more than was pressed.

    Parameters
    ----------
    moves, timing
        Of the same moves.
    section_mm2 : float, > 0
        Filament cross-section.
    lag_s : float, ≥ 0
        Time constant τ; 0 for flow that follows at once.
    laying : bool array, optional
        Moves whose filament counts, and during which flow counts as above the threshold;
        all where left out.
    threshold_mm3_s : float, or array of one per move
    start_mm3_s : float
        Flow before the first move.
    wait_before, wait_s : int and float arrays
        Moves before which the machine waits, sorted, and how long; the flow decays
        meanwhile, and nothing of it counts as above a threshold, since nothing is laid.

    Raises
    ------
    InputError
        A negative or infinite lag, a section that is not above 0, or arrays that do not fit.
    """
    from beadworth.motion._kernel_lag import lag_moves

    n = len(timing)
    levels = np.broadcast_to(np.asarray(threshold_mm3_s, float), n)
    at, waits = np.asarray(wait_before, np.int64), np.asarray(wait_s, float)
    problems = []
    if not 0.0 <= lag_s < np.inf:
        problems.append(Problem("the pressure lag must be 0 s or more.", "lag_s", lag_s))
    if not 0.0 < section_mm2 < np.inf:
        problems.append(Problem("the section must be above 0 mm².", "section_mm2", section_mm2))
    if len(moves) != n:
        problems.append(Problem(f"{len(moves)} moves do not fit {n} timings.", "moves"))
    if at.shape != waits.shape or (np.diff(at) < 0).any() or not (waits >= 0.0).all():
        problems.append(Problem("waits need one time of 0 s or more each, in order.", "wait_s"))
    counts = np.ones(n, np.bool_) if laying is None else np.ascontiguousarray(laying, np.bool_)
    if counts.shape != (n,):
        problems.append(Problem(f"laying has shape {counts.shape} for {n} moves.", "laying"))
    if problems:
        raise InputError(problems)
    high, end, over = np.empty(n), np.empty(n), np.empty(n)
    over_jerk = None if timing.jerk_mm_s3 is None else 1.0 / timing.jerk_mm_s3
    after = lag_moves(
        counts, writable(moves.filament_mm), writable(moves.length_mm), timing.junction_mm_s,
        timing.peak_mm_s, timing.acceleration_mm_s2, timing.time_s, section_mm2, lag_s,
        over_jerk, start_mm3_s, writable(levels), at, waits, high, end, over,
    )  # fmt: skip
    return LaggedFlow(high, end, over, float(after))
