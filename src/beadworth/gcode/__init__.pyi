from . import columns
from .chunk import Arcs, Chunk, Events
from .limits import SAFE_SPEED_MM_S, SAFE_Z_SPEED_MM_S, Limits, unknown_limits
from .pool import POOL
from .problems import GcodeProblem, make_problem
from .reader import Reader, read, summary
from .source import BOM, GZ_MAGIC, OpenSource
from .three_moves import scan_three_moves
from .totals import GcodeSummary, OtherReading, UnknownWord
from .writer import Writer
from .written import comment_lines

__all__ = [
    "BOM",
    "GZ_MAGIC",
    "POOL",
    "SAFE_SPEED_MM_S",
    "SAFE_Z_SPEED_MM_S",
    "Arcs",
    "Chunk",
    "Events",
    "GcodeProblem",
    "GcodeSummary",
    "Limits",
    "OpenSource",
    "OtherReading",
    "Reader",
    "UnknownWord",
    "Writer",
    "columns",
    "comment_lines",
    "make_problem",
    "read",
    "scan_three_moves",
    "summary",
    "unknown_limits",
]
