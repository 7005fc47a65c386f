from .before_after import Change
from .control import FEWEST, Ewma, Individuals, level_text
from .entry import CHECKS, WearEntry, clashes, describe_entry, wear_entry
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
    "describe_entry",
    "due_checks",
    "journal_entry",
    "level_text",
    "wear_entry",
    "wear_summary",
]
