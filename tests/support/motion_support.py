"""Moves from point to point, and what planning gave in other words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.motion import Cause, Limits, MoveTable, Planner, Timing, columns
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
    rising, falling = (np.where(a > 0.0, a, 1.0) for a in timing.straight_mm_s2())
    still = timing.acceleration_mm_s2 == 0.0
    up = np.where(still, 0.0, (timing.peak_mm_s - timing.entry_mm_s) / rising)
    down = np.where(still, 0.0, (timing.peak_mm_s - timing.exit_mm_s) / falling)
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
    over_jerk = None if timing.jerk_mm_s3 is None else 1.0 / timing.jerk_mm_s3
    # the parts as a replay calls them, uncompiled: they divide as IEEE 754 has it
    split, add, cruise, take = (f.py_func for f in (split_times, add_lost, add_cruise, take_lost))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for a in range(0, len(moves), PART):
            n = min(PART, len(moves) - a)
            of_moves = lengths[a:], speed[a:], top[a:], peak[a:], acc[a:], over_jerk, w
            split(n, filament[a:], feeds[a:], *of_moves)
            add(n, causes[a:], held[a:], w)
            if cruises:
                cruise(n, filament[a:], *of_moves)
        take(w, out)
    return {cause: float(out[cause]) for cause in Cause}


def cut(
    moves: MoveTable, limits: Limits, edges: Iterable[int], own_rows: bool = False
) -> dict[str, NDArray[Any]] | None:
    """Plan in chunks that end at the edges; returns the columns of the timings joined."""
    planner: Planner[Timing] = Planner()
    parts: list[tuple[MoveTable, Timing]] = []
    seen = 0
    edges = [0, *edges, len(moves)]
    for start, stop in pairwise(edges):
        chunk, rows = moves.part(start, stop), limits
        stops = np.append(chunk.stop_before, [stop - start] if stop in moves.stop_before else [])
        if start:  # a stop between chunks is told at the end of the one before
            stops = stops[stops > 0] if stop > start else stops[:1]
        chunk = replace(chunk, stop_before=stops)
        if own_rows and len(chunk):
            used, setting = np.unique(chunk.setting, return_inverse=True)
            chunk = replace(chunk, setting=setting.astype(np.int32))
            rows = replace(limits, table=limits.table[used])
        parts += list(planner.add(chunk, rows))
    parts += list(planner.finish())
    for table, timing in parts:
        assert timing.first == seen
        assert len(table) == len(timing)
        np.testing.assert_array_equal(table.x, moves.x[seen : seen + len(table)])
        seen += len(table)
    assert seen == len(moves)
    if not parts:
        return None
    timings = [timing for _, timing in parts]
    for one, other in pairwise(timings):
        assert one.junction_mm_s[-1] == other.junction_mm_s[0]

    def join(name: str) -> NDArray[Any]:
        arrays = [getattr(t, name) for t in timings]
        if name.startswith("junction"):
            arrays = [*(a[:-1] for a in arrays[:-1]), arrays[-1]]
        return np.concatenate(arrays)

    names = [name for name in Timing.__dataclass_fields__ if name not in ("first", "jerk_mm_s3")]
    return {name: join(name) for name in names}
