from .chunk import (
    Arcs as Arcs,
)
from .chunk import (
    Chunk as Chunk,
)
from .chunk import (
    Events as Events,
)
from .limits import (
    SAFE_SPEED_MM_S as SAFE_SPEED_MM_S,
)
from .limits import (
    SAFE_Z_SPEED_MM_S as SAFE_Z_SPEED_MM_S,
)
from .limits import (
    Limits as Limits,
)
from .limits import (
    unknown_limits as unknown_limits,
)
from .pool import (
    POOL as POOL,
)
from .problems import (
    GcodeProblem as GcodeProblem,
)
from .problems import (
    make_problem as make_problem,
)
from .reader import (
    Reader as Reader,
)
from .reader import (
    read as read,
)
from .reader import (
    summary as summary,
)
from .source import (
    BOM as BOM,
)
from .source import (
    GZ_MAGIC as GZ_MAGIC,
)
from .totals import (
    GcodeSummary as GcodeSummary,
)
from .totals import (
    OtherReading as OtherReading,
)
from .totals import (
    UnknownWord as UnknownWord,
)
from .writer import (
    Writer as Writer,
)
from .writer import (
    comment_lines as comment_lines,
)

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
    "OtherReading",
    "Reader",
    "UnknownWord",
    "Writer",
    "comment_lines",
    "make_problem",
    "read",
    "summary",
    "unknown_limits",
]
