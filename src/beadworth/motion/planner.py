"""Plan a path: whole, or chunk by chunk with bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.errors import InputError, Problem
from beadworth.gcode.pool import Pool
from beadworth.motion import _layout as at
from beadworth.motion.limits import Limits
from beadworth.motion.moves import COLUMNS, MoveTable

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]
_Empty = Callable[..., NDArray[Any]]

BRIDGE = 1 << 10  # moves of a new chunk copied behind the rest of the one before


class Cause(IntEnum):
    """What holds a speed back."""

    COMMANDED = at.COMMANDED
    """Nothing: the commanded speed. At a junction: the commanded speed changes there."""
    AXIS_SPEED = at.AXIS_SPEED
    """An axis at its top speed."""
    EXTRUDER_SPEED = at.EXTRUDER_SPEED
    """The filament drive at its top feed."""
    ARC = at.ARC
    """The centripetal acceleration of an arc."""
    CORNER = at.CORNER
    """The corner rule."""
    EXTRUDER_STEP = at.EXTRUDER_STEP
    """The step of the filament feed at a corner."""
    STOP = at.STOP
    """A stop: start and end, dwell, wait, tool change, filament moved on its own."""
    WINDOW = at.WINDOW
    """The end of what the controller has seen so far."""
    ACCELERATION = at.ACCELERATION
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
        columns = (
            getattr(self, name)[start:stop]
            for name in ("top_mm_s", "top_by", "peak_mm_s", "acceleration_mm_s2", "time_s")
        )
        junctions = slice(start, stop + 1)
        return Timing(
            self.first + start, self.junction_mm_s[junctions], self.junction_by[junctions], *columns
        )

    @property
    def entry_mm_s(self) -> Floats:
        """Speed at the start of each move."""
        return self.junction_mm_s[:-1]

    @property
    def exit_mm_s(self) -> Floats:
        """Speed at the end of each move."""
        return self.junction_mm_s[1:]

    @property
    def held_by(self) -> Codes:
        """:class:`Cause` per move: ACCELERATION below the top speed, else what sets that."""
        return np.where(self.peak_mm_s < self.top_mm_s, np.uint8(at.ACCELERATION), self.top_by)

    @property
    def phases_s(self) -> tuple[Floats, Floats, Floats]:
        """Time speeding up, at the peak, and slowing down, s; they add up to ``time_s``."""
        still = self.acceleration_mm_s2 == 0.0
        a = np.where(still, 1.0, self.acceleration_mm_s2)
        up = np.where(still, 0.0, (self.peak_mm_s - self.entry_mm_s) / a)
        down = np.where(still, 0.0, (self.peak_mm_s - self.exit_mm_s) / a)
        return up, np.maximum(self.time_s - up - down, 0.0), down


def lost_time_s(moves: MoveTable, timing: Timing) -> dict[Cause, float]:
    """Split the time of moves by what it is lost to.

    Parameters
    ----------
    moves, timing
        Of the same moves.

    Returns
    -------
    dict of Cause to seconds
        ``COMMANDED`` is the time at the commanded speed all the way; every other is what it
        adds, 0 or more. The values add up to the time. Ramps around a corner or
        stop count as that corner's or stop's, ramps between two commanded speeds as
        ``ACCELERATION``'s.
    """
    from beadworth.motion._kernel import losses

    out = np.zeros(at.N_CAUSE)
    losses(
        moves.filament_mm, moves.feed_mm_s, moves.length_mm, timing.junction_mm_s,
        timing.junction_by, timing.top_mm_s, timing.peak_mm_s, timing.acceleration_mm_s2,
        timing.time_s, timing.top_by, out,
    )  # fmt: skip
    return {cause: float(out[cause]) for cause in Cause}


def plan(moves: MoveTable, limits: Limits) -> Timing:
    """Plan moves as a controller does that looks ahead, from rest to rest.

    The speeds are the largest that keep every limit: the fastest plan with constant
    acceleration per move. Equations and what is left out: docs/explanation/motion.md.

    Parameters
    ----------
    moves : MoveTable
    limits : Limits
        With the rows ``moves.setting`` refers to.

    Returns
    -------
    Timing

    Raises
    ------
    InputError
        A feed, place or length that cannot be planned, with the number of its move, or a
        row of limits that does not exist.
    """
    return _plan_part(moves, limits, _State(), ends=True)[0]


@dataclass(frozen=True)
class _State:
    """What planning goes on from."""

    moves: int = 0
    speed2: float = 0.0
    cause: int = at.STOP
    real: int = 0
    stop_next: bool = False


def _plan_part(
    moves: MoveTable, limits: Limits, state: _State, ends: bool, empty: _Empty = np.empty
) -> tuple[Timing, _State]:
    """Plan as many moves as later ones cannot change; moves of no length are put back in after."""
    from beadworth.motion._kernel import count_empty

    if not count_empty(moves.filament_mm, moves.length_mm):
        return _plan_real(moves, limits, state, ends, empty)
    moved = (moves.length_mm != 0.0) | (moves.filament_mm != 0.0)
    before = np.concatenate([[0], np.cumsum(moved)])  # moves with a length before each
    real = np.flatnonzero(moved)
    columns: dict[str, Any] = {name: getattr(moves, name)[real] for name in COLUMNS}
    kept = replace(
        moves,
        **columns,
        arcs=replace(moves.arcs, move=before[moves.arcs.move]),
        stop_before=before[np.minimum(moves.stop_before, len(moves))],
    )
    timing, after = _plan_real(kept, limits, state, ends, empty)
    done = int(real[len(timing)]) if len(timing) < len(real) else len(moves) if ends else 0
    at_junction, of_move = before[: done + 1], np.minimum(before[:done], max(len(timing) - 1, 0))
    moved = moved[:done]

    def spread(values: NDArray[Any], otherwise: Floats | float) -> NDArray[Any]:
        return np.where(moved, values[of_move], otherwise) if len(values) else otherwise + 0 * moved

    speed = timing.junction_mm_s[at_junction]
    return Timing(
        state.moves, speed, timing.junction_by[at_junction],
        spread(timing.top_mm_s, moves.feed_mm_s[:done]),
        spread(timing.top_by, 0).astype(np.uint8), spread(timing.peak_mm_s, speed[:-1]),
        spread(timing.acceleration_mm_s2, 0.0), spread(timing.time_s, 0.0),
    ), replace(after, moves=state.moves + done)  # fmt: skip


def _plan_real(
    moves: MoveTable, limits: Limits, state: _State, ends: bool, empty: _Empty
) -> tuple[Timing, _State]:
    """Plan moves that all have a length."""
    from beadworth.motion._kernel import plan_moves

    n = len(moves)
    rows = moves.setting
    if n and not (rows.min() >= 0 and rows.max() < len(limits.table)):
        raise InputError(
            Problem(
                f"moves refer to limits row {int(rows.max())}, there are {len(limits.table)}.",
                where="setting",
            )
        )
    arcs = moves.arcs
    table = np.column_stack(
        [arcs.centre_u_mm, arcs.centre_v_mm, arcs.radius_mm, arcs.sweep_rad, arcs.plane]
    ).astype(float)
    speed, causes = empty(n + 1), empty(n + 1, np.uint8)
    top, peak, acceleration, time = (empty(n) for _ in range(4))
    held = empty(n, np.uint8)
    done, speed2, cause, bad = plan_moves(
        moves.x0, moves.y0, moves.z0, moves.x, moves.y, moves.z, moves.filament_mm,
        moves.feed_mm_s, moves.length_mm, rows, limits.inverses(),
        np.ascontiguousarray(arcs.move, np.int64), table, moves.stop_before,
        limits.look_ahead_moves or 0, ends, state.speed2, state.cause, state.real,
        speed, causes, top, peak, acceleration, time, held,
    )  # fmt: skip
    if bad >= 0:
        raise InputError(_bad_move(moves, bad, state.moves))
    timing = Timing(
        state.moves, speed[: done + 1], causes[: done + 1], top[:done], held[:done], peak[:done],
        acceleration[:done], time[:done],
    )  # fmt: skip
    return timing, replace(
        state, moves=state.moves + done, speed2=speed2, cause=cause, real=state.real + done
    )


def _bad_move(moves: MoveTable, k: int, before: int) -> Problem:
    """What is wrong with a move."""
    row = {
        "from": [float(v[k]) for v in (moves.x0, moves.y0, moves.z0)],
        "to": [float(v[k]) for v in (moves.x, moves.y, moves.z)],
        "filament": float(moves.filament_mm[k]),
        "length": float(moves.length_mm[k]),
    }
    numbers = ", ".join(f"{name} {value}" for name, value in row.items())
    feed = float(moves.feed_mm_s[k])
    return Problem(
        f"a move cannot be planned with feed {feed:g} mm/s ({numbers} mm): the feed must be "
        "above 0, every number finite and the length that of the path.",
        where=f"move {before + k + 1}",
        value=feed,
        remedy="Correct the line this move comes from.",
    )


class Planner:
    """Plans a path that comes in chunks; its result does not depend on how it was cut.

    What a later move can still change is held back: in practice the last centimetres of
    path (see docs/explanation/motion.md for the proof). Memory is bounded by a chunk and
    that rest.
    """

    def __init__(self) -> None:
        self._state = _State()
        self._rest: tuple[MoveTable, Limits] | None = None
        self._empty = Pool().empty  # a chunk's timing takes the place of one that was let go

    def add(self, moves: MoveTable, limits: Limits) -> Iterator[tuple[MoveTable, Timing]]:
        """Take the next moves.

        Parameters
        ----------
        moves : MoveTable
            ``stop_before`` may hold ``len(moves)``: a stop before the next chunk.
        limits : Limits
            With the rows ``moves.setting`` refers to; other chunks may have other rows, but
            look-ahead must stay the same.

        Yields
        ------
        (MoveTable, Timing)
            Final moves in order with their timing, none twice, up to two parts.

        Raises
        ------
        InputError
            As :func:`plan`.
        """
        n = len(moves)
        if self._state.stop_next and n:
            stops = np.concatenate([[0], moves.stop_before])
            moves = replace(moves, stop_before=stops)
        if n:
            after = bool((moves.stop_before >= n).any())
        else:
            after = self._state.stop_next or len(moves.stop_before) > 0
        self._state = replace(self._state, stop_next=after)
        if not n:
            return
        start = 0
        if self._rest is not None:
            rest, rest_limits = self._rest
            size = BRIDGE
            while True:
                bridge, both = _join(rest, rest_limits, moves.part(0, min(size, n)), limits)
                timing, state = _plan_part(bridge, both, self._state, False, self._empty)
                done = len(timing)
                if size >= n or done >= len(rest):
                    break
                size *= 4
            self._state = state
            if done:
                yield bridge.part(0, done), timing
            if done < len(rest):  # nothing of this chunk is final yet
                self._rest = (bridge.part(done, len(bridge)), both)
                return
            start = done - len(rest)
        later = moves.part(start, n)
        timing, self._state = _plan_part(later, limits, self._state, False, self._empty)
        done = len(timing)
        self._rest = (later.part(done, len(later)).followed_by(), limits)
        if done:
            yield later.part(0, done), timing

    def finish(self) -> Iterator[tuple[MoveTable, Timing]]:
        """Come to rest; yields what was held back."""
        if self._rest is None:
            return
        moves, limits = self._rest
        timing, self._state = _plan_part(moves, limits, self._state, True, self._empty)
        self._rest = None
        yield moves, timing


def _join(
    first: MoveTable, first_limits: Limits, second: MoveTable, second_limits: Limits
) -> tuple[MoveTable, Limits]:
    """Two tables in a row, with the limits rows of both."""
    if np.array_equal(first_limits.table, second_limits.table):
        return first.followed_by(second), second_limits
    used, rows = np.unique(first.setting, return_inverse=True)
    table = np.vstack([first_limits.table[used], second_limits.table])
    first = replace(first, setting=rows.astype(np.int32))
    second = replace(second, setting=second.setting + np.int32(len(used)))
    return first.followed_by(second), replace(second_limits, table=table)
