"""What a replay needs compiled, in two halves of about the same length, done side by side.

The scanner is half of it; planner, pressure and tally are the other. Each half runs the
code that a replay runs, on three moves, so that exactly the kernels a replay calls are there.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from beadworth.core import side_by_side

HALVES: Final = ("scanner()", "planner()")
WITH_JERK: Final = "planner(jerk=True)"
PROGRAM: Final = "from beadworth.replay import warm_up; warm_up.{half}"


def prepare(*, jerk: bool = False) -> None:
    """Compile what is not in the cache yet; returns at once where all of it is.

    With ``jerk`` also what plans under a limit of jerk, at once with what it shares with the rest.
    """
    here = Path(__file__).resolve().parent
    folders = [here.parent / name for name in ("gcode", "motion", "replay")]
    halves = (HALVES[0], WITH_JERK) if jerk else HALVES
    side_by_side(folders, [PROGRAM.format(half=half) for half in halves])
