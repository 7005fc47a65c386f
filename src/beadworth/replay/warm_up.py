"""What the two processes of a first replay run: each compiles half of the kernels on real code.

Only :mod:`beadworth.replay.first_use` starts these, by name, in processes of their own.
"""

from __future__ import annotations

import gc
from typing import Final

from beadworth.core import filament_section_mm2
from beadworth.gcode import scan_three_moves, summary
from beadworth.motion import Limits
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.retiming import slower_moves
from beadworth.replay.run import replay
from beadworth.rig import Motion, Rig

gc.disable()  # what a compiler makes refers to itself all over: a tenth of the wait is looking

_TEXT: Final = b"G1 X10 E1 F600\nG1 Y10 E1\nG0 X0\n"


def scanner() -> None:
    """Compile the scanner."""
    summary(_TEXT)


def planner(*, jerk: bool = False) -> None:
    """Compile the rest, with the scanner's results put in by hand."""
    scan_three_moves()  # this process ends here and reads nothing else
    for most in (None, 1e5) if jerk else (None,):
        rig = Rig(name="first use", motion=Motion(max_jerk_mm_s3=most))
        replay(_TEXT, rig)
        section = filament_section_mm2(rig.filament_diameter_mm)
        limits, ceilings = Limits.from_rig(rig), Ceilings(None, section)
        for by_peak in (False, True) if jerk else (False,):
            slower_moves(_TEXT, rig, limits, ceilings, section, by_peak=by_peak)
