"""What ``wear`` and ``journal`` share: entries that stay in the list when they no longer count."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from beadworth.cli.command import Answer
from beadworth.cli.table import Table

if TYPE_CHECKING:
    from beadworth.workflow import StoredEntry


@dataclass(frozen=True)
class EntryList:
    """What a list and its entries are called."""

    about: str
    """What the list is about, as JSON names it."""
    name: str
    entry: str
    entries: str

    def listed(
        self,
        about: str,
        title: str,
        entries: Sequence[StoredEntry[Any]],
        cells: Mapping[str, str | Callable[[Any], object]],
    ) -> Answer:
        """Every entry: its number, its day, what the other cells make of it, whether it counts."""
        shown = {"no.": "id", "day": _day, **cells, "state": _state}
        return Answer(
            {self.about: about, self.entries: list(entries)},
            [Table.of(title, entries, shown)],
        )

    def voided(self, about: str, number: int, reason: str) -> Answer:
        """Which entry no longer counts."""
        return Answer(
            {self.about: about, "voided": number, "reason": reason},
            [f"{self.entry.capitalize()} {number} no longer counts; it stays in the {self.name}."],
        )


def _day(entry: StoredEntry[Any]) -> str:
    return str(entry.record.on)


def _state(entry: StoredEntry[Any]) -> str:
    """Whether an entry counts, and why not."""
    return f"{entry.state}: {entry.reason}" if entry.reason else entry.state
