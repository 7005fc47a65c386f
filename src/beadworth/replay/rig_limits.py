"""The time of the same moves at the rig's own limits, planned beside the print as it is written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from beadworth.gcode import Chunk
from beadworth.motion import Limits, MoveTable, Planner, Rule
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.tally import Tally
from beadworth.replay.waits import Waits
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
    before_s: float = 0.0
    """Time of the moves before the limits differed."""
    tally: Tally | None = None
    planner: Planner[Any] | None = None
    """None while the limits of the file have not differed, as the tally."""

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
        if self.planner is None or self.tally is None:
            if np.array_equal(own.table, rows.table):
                return
            self.tally = Tally(Ceilings(None, 0.0), 0.0, Waits(), counted=False)
            self.planner, self.before_s = so_far.fork(self.tally.plan), done_s
        for part, timing in self.planner.add(moves, own):
            self.tally.take(part, timing)

    def close(self, as_written_s: float) -> float:
        """Moving time of the whole print; ``as_written_s`` where it never differed."""
        if self.planner is None or self.tally is None:
            return as_written_s
        for part, timing in self.planner.finish():
            self.tally.take(part, timing, ends=True)
        return self.before_s + self.tally.moving_s
