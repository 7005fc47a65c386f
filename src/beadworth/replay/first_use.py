"""What a replay needs compiled, in two halves of about the same length, done side by side.

The scanner is half of it; planner, pressure and account are the other. Each half runs the
code that a replay runs, on three moves, so that exactly the kernels a replay calls are there.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from beadworth.core import side_by_side

HALVES: Final = ("scanner", "planner")
PROGRAM: Final = "from beadworth.replay import first_use; first_use.{half}()"
_TEXT: Final = b"G1 X10 E1 F600\nG1 Y10 E1\nG0 X0\n"


def prepare() -> None:
    """Compile what is not in the cache yet; returns at once where all of it is."""
    here = Path(__file__).resolve().parent
    rooms = [here.parent / name for name in ("gcode", "motion", "replay")]
    side_by_side(rooms, [PROGRAM.format(half=half) for half in HALVES])


def scanner() -> None:
    """Compile the scanner."""
    from beadworth.gcode import summary

    summary(_TEXT)


def planner() -> None:
    """Compile the rest, with the scanner's results put in by hand."""
    from beadworth.core import filament_section_mm2
    from beadworth.gcode import _kernel
    from beadworth.motion import Limits
    from beadworth.replay.ceilings import Ceilings
    from beadworth.replay.retiming import slower_moves
    from beadworth.replay.run import replay
    from beadworth.rig import Rig

    _kernel.scan = _three_moves  # this process ends here and reads nothing else
    rig = Rig(name="first use")
    replay(_TEXT, rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    slower_moves(_TEXT, rig, Limits.from_rig(rig)[0], Ceilings(None, section), section)


def _three_moves(*tables: Any) -> int:
    """Stand in for the scanner: fill its tables with three moves."""
    from beadworth.gcode import _columns as at

    stop, f, i, fo, io, so, settings = (tables[k] for k in (2, 4, 5, 6, 7, 8, 11))
    fo[:, :4], io[:, :3], so[:, :3] = 0.0, 0, 0
    fo[at.AT_X, :4], fo[at.FEED, :3], fo[at.LENGTH, :3] = (0.0, 10.0, 20.0, 30.0), 10.0, 10.0
    fo[at.FILAMENT, :2] = 1.0
    so[at.KIND, :3] = at.EXTRUDE, at.EXTRUDE, at.TRAVEL
    settings[0] = f[at.f_set : at.f_set + at.N_SETTING]
    i[[at.i_moves, at.i_settings]] = 3, 1
    return int(stop)
