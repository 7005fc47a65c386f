"""Words in (compiled scanner) and words out (writer): RS274 and common desktop-printer practice."""

from beadworth.gcode.limits import Limits
from beadworth.gcode.writer import Writer

__all__ = ["Limits", "Writer"]
