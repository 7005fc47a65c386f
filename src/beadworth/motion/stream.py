"""Plan a path chunk by chunk, with bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sized
from dataclasses import replace
from typing import Any, Generic, TypeVar, overload

import numpy as np

from beadworth.gcode import POOL
from beadworth.motion.limits import Limits
from beadworth.motion.moves import MoveTable
from beadworth.motion.planner import Standing, plan_part
from beadworth.motion.timing import Timing

BRIDGE = 1 << 8  # moves of a new chunk copied behind the rest of the one before

Made = TypeVar("Made", bound=Sized)
PlanPart = Callable[[MoveTable, Limits, Standing, bool], tuple[Made, Standing]]
"""Plans moves, with limits, from a standing, to rest or not: something as long as the final
moves, and the standing after them. As :func:`~beadworth.motion.planner.plan_part`."""


class Planner(Generic[Made]):
    """Plans a path that comes in chunks; its result does not depend on how it was cut.

    What a later move can still change is held back: in practice the last centimetres of
    path (see docs/explanation/motion.md for the proof). Memory is bounded by a chunk and
    that rest.

    Parameters
    ----------
    plan : callable, optional
        Does the planning; :func:`plan_part` where left out. It may do more with the timing at
        once.
    """

    @overload
    def __init__(self: Planner[Timing]) -> None: ...

    @overload
    def __init__(self, plan: PlanPart[Made]) -> None: ...

    def __init__(self, plan: Any = None) -> None:
        self._state = Standing()
        self._rest: tuple[MoveTable, Limits] | None = None
        self._plan: PlanPart[Any] = plan or _plan_here

    def fork(self, plan: PlanPart[Made]) -> Planner[Made]:
        """A planner that goes on from here on its own, with limits of its own."""
        other = Planner(plan)
        other._state, other._rest = self._state, self._rest
        return other

    def add(self, moves: MoveTable, limits: Limits) -> Iterator[tuple[MoveTable, Timing | Made]]:
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
            Final moves in order with their timing, none twice, seldom more than two parts; or
            with what the ``plan`` of this planner returns.

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
        start, joined, size = 0, 0, BRIDGE
        while self._rest is not None:
            rest, rest_limits = self._rest
            upto = min(joined + size, n)
            bridge, both = _join(rest, rest_limits, moves.part(joined, upto), limits)
            made, self._state = self._plan(bridge, both, self._state, False)
            done, joined = len(made), upto
            if done:
                yield bridge.part(0, done), made
            start = done - (len(bridge) - joined)  # moves of this chunk that are final
            self._rest = (bridge.part(done, len(bridge)), both) if start < 0 else None
            if start < 0 and joined == n:  # nothing of this chunk is final yet
                return
            size *= 4
        later = moves.part(start, n)
        made, self._state = self._plan(later, limits, self._state, False)
        done = len(made)
        self._rest = (later.part(done, len(later)).copy(), limits)
        if done:
            yield later.part(0, done), made

    def finish(self) -> Iterator[tuple[MoveTable, Timing | Made]]:
        """Come to rest; yields what was held back."""
        if self._rest is None:
            return
        moves, limits = self._rest
        made, self._state = self._plan(moves, limits, self._state, True)
        self._rest = None
        yield moves, made


def _plan_here(
    moves: MoveTable, limits: Limits, state: Standing, ends: bool
) -> tuple[Timing, Standing]:
    return plan_part(moves, limits, state, ends, POOL.empty)


def _join(
    first: MoveTable, first_limits: Limits, second: MoveTable, second_limits: Limits
) -> tuple[MoveTable, Limits]:
    """Two tables in a row, with the limits rows of both."""
    if first_limits is second_limits or np.array_equal(first_limits.table, second_limits.table):
        return first.followed_by(second), second_limits
    used, rows = np.unique(first.setting, return_inverse=True)
    table = np.vstack([first_limits.table[used], second_limits.table])
    first = replace(first, setting=rows.astype(np.int32))
    second = replace(second, setting=second.setting + np.int32(len(used)))
    return first.followed_by(second), replace(second_limits, table=table)
