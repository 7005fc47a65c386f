"""What pages and API say of wear logs and journals: single entries, charts, photos."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from pydantic import Field

from beadworth.core import Record
from beadworth.store import clean_photo, ledger, store_photo
from beadworth.wear import (
    CHECKS,
    FEWEST,
    STAGES,
    Change,
    ChartSettings,
    JournalEntry,
    PartReport,
    SeriesReport,
    WearEntry,
    describe_entry,
)
from beadworth.workflow.journal import JOURNAL_KIND
from beadworth.workflow.wear import WEAR_KIND

if TYPE_CHECKING:
    from beadworth.store import Bench, StoredEntry

__all__ = [
    "CHECKS",
    "FEWEST",
    "STAGES",
    "Change",
    "ChartInputs",
    "ChartSettings",
    "JournalEntry",
    "PartReport",
    "SeriesReport",
    "WearEntry",
    "clean_photo",
    "describe_entry",
    "store_photo",
    "stored_journal_page",
    "stored_wear_entry",
    "wear_noted",
]


class ChartInputs(Record):
    """What a chart of checks is to be held against."""

    baseline: int | None = Field(None, ge=1, le=10_000, description="readings of the baseline")
    target: float | None = Field(None, description="target")
    since: date | None = Field(None, description="from this day on; written as 2026-11-25")
    more: bool = Field(False, description="more rules")

    @property
    def settings(self) -> ChartSettings:
        """The same as the chart takes it."""
        return ChartSettings(self.baseline, self.target, self.since, more_rules=self.more)


def stored_wear_entry(bench: Bench, rig: str, number: int) -> StoredEntry[WearEntry]:
    """One entry of a rig's log, whatever became of it.

    Raises
    ------
    NotFoundError
        The log has none of that number.
    """
    return ledger.one(bench, WEAR_KIND, rig, WearEntry, number)


def stored_journal_page(bench: Bench, subject: str, number: int) -> StoredEntry[JournalEntry]:
    """One page of a journal, whatever became of it.

    Raises
    ------
    NotFoundError
        The journal has none of that number.
    """
    return ledger.one(bench, JOURNAL_KIND, subject, JournalEntry, number)


def wear_noted(bench: Bench, rig: str) -> bool:
    """Whether a rig has a log."""
    return bool(bench.notes(WEAR_KIND, rig))
