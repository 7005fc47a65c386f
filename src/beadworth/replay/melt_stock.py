"""Whether a stretch over the ceiling shows: what it asks beyond it, against the molten stock.

A ceiling is a steady weighing. For a while a hot end gives more, out of what its melt zone holds
molten: section of the bore × heated length. That is taken for one tank, which the heater refills
as fast as the ceiling, no faster; how hot its contents are is left out. The shares below are a
choice of this project, no source.
"""

from __future__ import annotations

from typing import Final, Literal

from beadworth.core import filament_section_mm2
from beadworth.rig import Rig

NOTHING: Final = 0.1
"""Of the stock: less drawn cannot show."""


def melt_zone_mm3(rig: Rig) -> float | None:
    """What the melt zone holds; None where the rig does not record its bore and length."""
    bore, length = rig.hot_end.bore_mm, rig.hot_end.melt_zone_mm
    return None if bore is None or length is None else filament_section_mm2(bore) * length


def shows(
    sustained: bool, drawn_mm3: float, zone_mm3: float | None
) -> Literal["will", "may", "cannot"] | None:
    """What a stretch that draws the stock down so far does to the print."""
    if zone_mm3 is None:
        return None
    if not sustained or drawn_mm3 < NOTHING * zone_mm3:
        return "cannot"
    return "will" if drawn_mm3 >= zone_mm3 else "may"
