"""The tables a replay fills, and the planning that fills them."""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.core import InputError
from beadworth.gcode import POOL
from beadworth.motion import (
    Cause,
    Limits,
    MoveTable,
    Standing,
    Timing,
    bad_move,
    has_empty,
    kernel_arguments,
    path_columns,
    plan_part,
)
from beadworth.replay import columns
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.waits import Waits

Array = NDArray[np.float64]

ENDS = 7  # which of the arguments of the planning kernels says that the print ends
NO_TIMING = (np.empty(0),) * 5, (np.empty(0, np.uint8),) * 2


def _first_state() -> Array:
    state = np.zeros(columns.N_STATE)
    state[columns.S_WIDTH] = 0.05
    return state


@dataclass
class Tally:
    """What is counted of a print; memory does not grow with it.

    Parameters
    ----------
    ceilings : Ceilings
        Whose conditions the moves' context refers to.
    lag_s : float
        Time constant of the melt pressure.
    waits : Waits
        Waits among the moves that are not in the tally yet.
    counted : bool
        False adds up the time of moves alone.
    """

    ceilings: Ceilings
    lag_s: float
    waits: Waits
    counted: bool = True
    totals: Array = field(default_factory=lambda: np.zeros(columns.N_TOTAL))
    histogram: Array = field(default_factory=lambda: np.zeros(columns.HISTOGRAM_BINS))
    layers: Array = field(
        default_factory=lambda: POOL.full((columns.LAYER_ROWS, columns.N_LAYER), 0.0)
    )
    series: Array = field(default_factory=lambda: np.zeros((2, columns.SERIES_BINS)))
    state: Array = field(default_factory=_first_state)
    stretch: Array = field(default_factory=lambda: np.zeros(columns.N_STRETCH))
    per: Array = field(default_factory=lambda: np.zeros((0, columns.N_PER)))
    """Sums by condition, the rows of :meth:`Ceilings.table`."""
    lost: Array = field(default_factory=lambda: np.zeros(len(Cause)))
    """Seconds by cause; the time at the commanded speed stands under ``COMMANDED``."""
    worst: Array = field(default_factory=lambda: np.zeros((columns.WORST_ROWS, columns.N_STRETCH)))
    counts: NDArray[np.int64] = field(default_factory=lambda: np.zeros(3, np.int64))
    _cruise: float = 0.0
    _over_jerk: float | None = None

    def __post_init__(self) -> None:
        self.layers[:, columns.L_LEAST] = np.inf
        self.series[columns.C_CEILING] = np.inf

    @property
    def moving_s(self) -> float:
        """Time of the moves taken so far."""
        return float(self.totals[columns.T_TIME])

    def plan(
        self, moves: MoveTable, limits: Limits, state: Standing, ends: bool
    ) -> tuple[Timing | range, Standing]:
        """Plan moves and take them into the tally, block by block while they are at hand.

        Returns
        -------
        (range, Standing)
            As many numbers as moves are final; or a :class:`Timing` that is not in the tally
            yet, where some of the moves are empty.
        """
        self._cruise, self._over_jerk = limits.min_cruise_share, limits.over_jerk_s3_mm
        if has_empty(moves):
            return plan_part(moves, limits, state, ends)
        arguments = kernel_arguments(moves, limits, state, ends)
        done, speed2, cause, bad = self._run(moves, state.moves, arguments, None)
        if bad >= 0:
            raise InputError(bad_move(moves, bad, state.moves))
        return range(done), state.after(done, speed2, cause)

    def take(self, moves: MoveTable, timing: Timing | range, *, ends: bool = False) -> None:
        """Take planned moves into the tally; nothing is done for those that are in it."""
        if isinstance(timing, Timing) and not self.counted:
            self.totals[columns.T_TIME] += timing.time_s.sum()
        elif isinstance(timing, Timing):
            none = np.empty(0, np.int64)
            arguments = (
                path_columns(moves), moves.setting, np.empty((0, 0)), none, np.empty((0, 0)),
                none, 0, ends, 0.0, 0, 0, self._cruise, self._over_jerk,
            )  # fmt: skip
            self._run(moves, timing.first, arguments, timing)

    def close(self) -> None:
        """Close a stretch that runs to the end of the print."""
        from beadworth.replay._kernel import end_stretch

        end_stretch(self.lag_s, self.stretch, self.state, self.worst, self.counts)

    def _add_up(self, per: Array) -> None:
        """Add what was summed up by condition to what was before."""
        if len(per) > len(self.per):
            self.per = np.vstack([self.per, np.zeros((len(per) - len(self.per), columns.N_PER))])
        most = np.maximum(self.per[:, columns.P_MAX], per[:, columns.P_MAX])
        self.per += per
        self.per[:, columns.P_MAX] = most

    def _run(
        self,
        moves: MoveTable,
        first: int,
        arguments: tuple[Any, ...],
        timing: Timing | None,
    ) -> tuple[int, float, int, int]:
        """Let the kernel work on moves, planned or not."""
        from beadworth.replay import _kernel

        tally_moves: Any = _kernel.tally_moves
        speeds: tuple[Array, ...]
        speeds, codes = NO_TIMING
        if timing is not None:
            speeds = (
                timing.junction_mm_s, timing.top_mm_s, timing.peak_mm_s,
                timing.acceleration_mm_s2, timing.time_s,
            )  # fmt: skip
            codes = timing.junction_by, timing.top_by
        context = moves.context
        celsius, ceilings = self.ceilings.table()
        fans, per = self.ceilings.fans(), np.zeros((len(celsius), columns.N_PER))
        wait_at, wait_s = self.waits.since(first)
        clock_s = np.zeros(len(wait_at))
        done, speed2, cause, bad = tally_moves(
            timing is not None, self.counted, *arguments, speeds, codes,
            context["kind"], context["layer"], context["line"], context["condition"], ceilings,
            celsius, fans, per, wait_at, wait_s, clock_s, self.ceilings.section_mm2, self.lag_s,
            self.totals, self.histogram, self.layers, self.series, self.state, self.stretch,
            self.lost, self.worst, self.counts,
        )  # fmt: skip
        self._add_up(per)
        end = sys.maxsize if arguments[ENDS] else first + done
        self.waits.pass_marks(end, clock_s)
        self.waits.drop_before(first + done)
        return done, speed2, cause, bad
