"""What ``wear`` and ``journal`` share: entries that stay in the list when they no longer count."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import typer

from beadworth.cli.output import emit_json, print_table

if TYPE_CHECKING:
    from beadworth.store import Kept


@dataclass(frozen=True)
class Book:
    """What a list and its entries are called."""

    about: str
    """What the list is about, as JSON names it."""
    name: str
    entry: str
    entries: str

    def tell(
        self,
        about: str,
        title: str,
        listed: Sequence[Kept[Any]],
        columns: Mapping[str, Callable[[Kept[Any]], object]],
        *,
        as_json: bool,
    ) -> None:
        """Print every entry: its number, its day, and what the other columns make of it."""
        if as_json:
            emit_json({self.about: about, self.entries: [kept.to_json() for kept in listed]})
            return
        print_table(
            title,
            ("no.", "day", *columns),
            [
                (kept.id, str(kept.record.on), *(cell(kept) for cell in columns.values()))
                for kept in listed
            ],
        )

    def tell_void(self, about: str, number: int, reason: str, *, as_json: bool) -> None:
        """Print which entry no longer counts."""
        if as_json:
            emit_json({self.about: about, "voided": number, "reason": reason})
        else:
            said = f"{self.entry.capitalize()} {number} no longer counts"
            typer.echo(f"{said}; it stays in the {self.name}.")


def state(kept: Kept[Any]) -> str:
    """Whether an entry counts, and why not."""
    return kept.state if not kept.reason else f"{kept.state}: {kept.reason}"
