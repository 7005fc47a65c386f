"""The time of the same moves at the rig's own limits, planned beside the print as it is written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from beadworth.gcode import Chunk
from beadworth.motion import Limits, MoveTable, Planner, Rule, Timing
from beadworth.rig import Rig


def rule_to_compare(rig: Rig) -> Rule:
    """Whose limits two rigs are held against each other at: each rig's own.

    What a file sets belongs to the machine it was prepared for. Only where the rig's record says
    that its controller obeys the file, the file's limits stay.
    """
    return "obeyed" if rig.motion.file_limits == "obeyed" else "own"


@dataclass
class RigTime:
    """Time at the rig's own limits; planned apart from where the file's first make a difference.

    Parameters
    ----------
    limits : Limits
        Of the rig, under the rule ``own``.
    """

    limits: Limits
    moving_s: float = 0.0
    planner: Planner[Timing] | None = None
    """None while the limits of the file have not differed."""

    def take(
        self, moves: MoveTable, chunk: Chunk, rows: Limits, so_far: Planner[Any], done_s: float
    ) -> None:
        """Take the moves of a chunk, before ``so_far``, the print's own planner, does.

        Parameters
        ----------
        rows : Limits
            In force as it is written.
        done_s : float
            Time of the moves that ``so_far`` has handed out.
        """
        own = self.limits.in_chunk(chunk)
        if self.planner is None:
            if np.array_equal(own.table, rows.table):
                return
            self.planner, self.moving_s = so_far.fork(), done_s
        for _, timing in self.planner.add(moves, own):
            self.moving_s += float(timing.time_s.sum())

    def close(self, as_written_s: float) -> float:
        """Moving time of the whole print; ``as_written_s`` where it never differed."""
        if self.planner is None:
            return as_written_s
        for _, timing in self.planner.finish():
            self.moving_s += float(timing.time_s.sum())
        return self.moving_s
