from .before_after import (
    Change as Change,
)
from .control import (
    FEWEST as FEWEST,
)
from .control import (
    Ewma as Ewma,
)
from .control import (
    Individuals as Individuals,
)
from .control import (
    told as told,
)
from .entry import (
    CHECKS as CHECKS,
)
from .entry import (
    WearEntry as WearEntry,
)
from .entry import (
    clashes as clashes,
)
from .entry import (
    entry_words as entry_words,
)
from .entry import (
    wear_entry as wear_entry,
)
from .journal import (
    STAGES as STAGES,
)
from .journal import (
    JournalEntry as JournalEntry,
)
from .journal import (
    journal_entry as journal_entry,
)
from .log import (
    Due as Due,
)
from .log import (
    due_checks as due_checks,
)
from .summary import (
    ChartSettings as ChartSettings,
)
from .summary import (
    PartReport as PartReport,
)
from .summary import (
    SeriesReport as SeriesReport,
)
from .summary import (
    WearSummary as WearSummary,
)
from .summary import (
    change_at as change_at,
)
from .summary import (
    wear_summary as wear_summary,
)

__all__ = [
    "CHECKS",
    "FEWEST",
    "STAGES",
    "Change",
    "ChartSettings",
    "Due",
    "Ewma",
    "Individuals",
    "JournalEntry",
    "PartReport",
    "SeriesReport",
    "WearEntry",
    "WearSummary",
    "change_at",
    "clashes",
    "due_checks",
    "entry_words",
    "journal_entry",
    "told",
    "wear_entry",
    "wear_summary",
]
