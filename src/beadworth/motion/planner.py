"""Plan a path: whole, or the part of it that later moves cannot change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.core import InputError, Problem
from beadworth.motion import columns
from beadworth.motion.limits import Limits
from beadworth.motion.moves import COLUMNS, MoveTable, writable
from beadworth.motion.timing import Floats, Timing

NO_ARCS = np.empty((0, 5))
_Empty = Callable[..., NDArray[Any]]


def plan(moves: MoveTable, limits: Limits) -> Timing:
    """Plan moves as a controller does that looks ahead, from rest to rest.

    The speeds are the largest that keep every limit: the fastest plan with constant
    acceleration per move, or, where the jerk is limited too, with S-curves that begin and end
    without acceleration. Equations and what is left out: docs/explanation/motion.md.

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
    return plan_part(moves, limits, Standing(), ends=True)[0]


@dataclass(frozen=True)
class Standing:
    """What planning goes on from.

    Attributes
    ----------
    moves, real : int
        Moves planned so far; those of them with a length.
    speed2 : float
        Squared speed after them.
    cause : int
        :class:`Cause` of that speed.
    stop_next : bool
        Whether the machine stands still before the next chunk.
    """

    moves: int = 0
    speed2: float = 0.0
    cause: int = columns.STOP
    real: int = 0
    stop_next: bool = False

    def after(self, moves: int, speed2: float, cause: int) -> Standing:
        """Some moves later, all of them with a length."""
        return replace(
            self, moves=self.moves + moves, speed2=speed2, cause=cause, real=self.real + moves
        )


def has_empty(moves: MoveTable) -> bool:
    """Whether some move has neither length nor filament."""
    return moves.look_over()[0] > 0


def plan_part(
    moves: MoveTable, limits: Limits, state: Standing, ends: bool, empty: _Empty = np.empty
) -> tuple[Timing, Standing]:
    """Plan as many moves as later ones cannot change.

    Parameters
    ----------
    moves, limits
        As :func:`plan` takes them.
    state : Standing
        What the moves before led to.
    ends : bool
        Come to rest after the last move; all moves are final then.
    empty : callable, optional
        Makes the arrays to fill.

    Raises
    ------
    InputError
        As :func:`plan`.
    """
    if not has_empty(moves):
        return _plan_real(moves, limits, state, ends, empty)
    # moves of no length are left out, and put back in after
    moved = (moves.length_mm != 0.0) | (moves.filament_mm != 0.0)
    before = np.concatenate([[0], np.cumsum(moved)])  # moves with a length before each
    real = np.flatnonzero(moved)
    with_length: dict[str, Any] = {name: getattr(moves, name)[real] for name in COLUMNS}
    kept = replace(
        moves,
        **with_length,
        arcs=replace(moves.arcs, move=before[moves.arcs.move]),
        stop_before=before[np.minimum(moves.stop_before, len(moves))],
    )
    timing, after = _plan_real(kept, limits, state, ends, empty)
    done = int(real[len(timing)]) if len(timing) < len(real) else len(moves) if ends else 0
    if not len(timing) and not state.real and not ends:
        done = 0  # the speed the print starts at hangs on its first moves
    at_junction, of_move = before[: done + 1], np.minimum(before[:done], max(len(timing) - 1, 0))
    moved = moved[:done]

    def spread(values: NDArray[Any], otherwise: Floats | float) -> NDArray[Any]:
        return np.where(moved, values[of_move], otherwise) if len(values) else otherwise + 0 * moved

    speed = timing.junction_mm_s[at_junction]
    return Timing(
        state.moves, speed, timing.junction_by[at_junction],
        spread(timing.top_mm_s, moves.feed_mm_s[:done]),
        spread(timing.top_by, 0).astype(np.uint8), spread(timing.peak_mm_s, speed[:-1]),
        spread(timing.acceleration_mm_s2, 0.0), spread(timing.time_s, 0.0), timing.jerk_mm_s3,
    ), replace(after, moves=state.moves + done)  # fmt: skip


def _plan_real(
    moves: MoveTable, limits: Limits, state: Standing, ends: bool, empty: _Empty
) -> tuple[Timing, Standing]:
    """Plan moves that all have a length."""
    from beadworth.motion import _kernel

    plan_moves: Any = _kernel.plan_moves
    n = len(moves)
    speed, causes = empty(n + 1), empty(n + 1, np.uint8)
    top, peak, acceleration, time = (empty(n) for _ in range(4))
    held = empty(n, np.uint8)
    done, speed2, cause, bad = plan_moves(
        *kernel_arguments(moves, limits, state, ends),
        speed, causes, top, peak, acceleration, time, held,
    )  # fmt: skip
    if bad >= 0:
        raise InputError(bad_move(moves, bad, state.moves))
    timing = Timing(
        state.moves, speed[: done + 1], causes[: done + 1], top[:done], held[:done], peak[:done],
        acceleration[:done], time[:done], limits.max_jerk_mm_s3,
    )  # fmt: skip
    return timing, state.after(done, speed2, cause)


def path_columns(moves: MoveTable) -> tuple[Floats, ...]:
    """The columns of moves in the order the kernels take them."""
    columns_of = (
        moves.x0, moves.y0, moves.z0, moves.x, moves.y, moves.z, moves.filament_mm,
        moves.feed_mm_s, moves.length_mm,
    )  # fmt: skip
    return tuple(map(writable, columns_of))


def kernel_arguments(
    moves: MoveTable, limits: Limits, state: Standing, ends: bool
) -> tuple[Any, ...]:
    """What the planning kernels take, in their order, up to the arrays to fill.

    Raises
    ------
    InputError
        A row of limits that does not exist.
    """
    rows, (_, low, high) = moves.setting, moves.look_over()
    if (
        not (low >= 0 and high < len(limits.table))
        and len(rows)
        and not (rows.min() >= 0 and rows.max() < len(limits.table))
    ):
        raise InputError(
            f"moves refer to limits row {int(rows.max())}, there are {len(limits.table)}.",
            where="setting",
        )
    arcs, table = moves.arcs, NO_ARCS
    if arcs.move.size:
        table = np.column_stack(
            [arcs.centre_u_mm, arcs.centre_v_mm, arcs.radius_mm, arcs.sweep_rad, arcs.plane]
        ).astype(float)
    return (
        path_columns(moves), writable(rows), limits.inverses(),
        np.ascontiguousarray(arcs.move, np.int64), table, writable(moves.stop_before),
        limits.look_ahead_moves or 0, ends, state.speed2, state.cause, state.real,
        limits.min_cruise_share, limits.over_jerk_s3_mm,
    )  # fmt: skip


def bad_move(moves: MoveTable, k: int, before: int) -> Problem:
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
