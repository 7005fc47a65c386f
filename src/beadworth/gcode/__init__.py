"""Words in (compiled scanner) and words out (writer): RS274 and common desktop-printer practice."""

from beadworth.gcode.chunk import Arcs, Chunk, Events
from beadworth.gcode.limits import Limits
from beadworth.gcode.problems import GcodeProblem
from beadworth.gcode.reader import Reader, read, summary
from beadworth.gcode.totals import GcodeSummary, OtherReading, UnknownWord
from beadworth.gcode.writer import Writer

__all__ = [
    "Arcs",
    "Chunk",
    "Events",
    "GcodeProblem",
    "GcodeSummary",
    "Limits",
    "OtherReading",
    "Reader",
    "UnknownWord",
    "Writer",
    "read",
    "summary",
]
