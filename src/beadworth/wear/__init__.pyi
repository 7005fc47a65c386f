from .before_after import Change
from .control import FEWEST, Ewma, Individuals, told
from .entry import CHECKS, WearEntry, clashes, entry_words, wear_entry
from .journal import STAGES, JournalEntry, journal_entry
from .log import Due, due_checks
from .summary import ChartSettings, PartReport, SeriesReport, WearSummary, change_at, wear_summary

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
