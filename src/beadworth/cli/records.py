"""``add``, ``list`` and ``show``: what rigs, part cards and materials have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, command
from beadworth.cli.options import read_text
from beadworth.cli.table import Table

if TYPE_CHECKING:
    from beadworth.core import Record
    from beadworth.workflow import Bench


@dataclass(frozen=True)
class RecordNoun:
    """How one kind of record is named, loaded, stored and listed."""

    noun: str
    example: str
    """A name of one, as it would be typed."""
    kind: Callable[[], type[Record]]
    save: Callable[[Bench, Any], None]
    one: Callable[[Bench, str], Record]
    all: Callable[[Bench], Sequence[Record]]
    cells: dict[str, str]
    """What the list shows: attributes by the column's name."""
    question: Callable[[Bench, Any], list[str]] = lambda _bench, _record: []
    """What is odd about a record, in words, before it is stored."""


def add_record_commands(app: typer.Typer, noun: RecordNoun) -> None:
    """Put the three commands for one kind of record on its noun."""
    name, plural = noun.noun, f"{noun.noun}s"

    def add(
        call: Call, files: Annotated[list[Path], typer.Argument(help="Record files (TOML).")]
    ) -> Answer:
        from beadworth.core import from_toml

        records: list[Any] = [from_toml(noun.kind(), read_text(path), str(path)) for path in files]
        said: list[str] = []
        for record in records:
            odd = noun.question(call.bench, record)
            noun.save(call.bench, record)
            said += [f"On the bench: {record.name}", *(f"In question: {line}" for line in odd)]
        return Answer({plural: records}, said)

    def list_(call: Call) -> Answer:
        records = noun.all(call.bench)
        return Answer(
            {plural: records},
            [Table.of(plural.capitalize(), records, noun.cells)],
        )

    def show(
        call: Call, name: Annotated[str, typer.Argument(help="Its name on the bench.")]
    ) -> Answer:
        from beadworth.core import to_toml

        record = noun.one(call.bench, name)
        return Answer(record, raw=to_toml(record))

    add.__doc__ = f"Put a {name} on the bench, or a new version of one there."
    list_.__doc__ = f"List the {plural} on the bench."
    show.__doc__ = f"Print a {name} as TOML, ready to change and add again."
    command(app, "add", f"{name} add my-{name}.toml")(add)
    command(app, "list", f"{name} list")(list_)
    command(app, "show", f'{name} show "{noun.example}"')(show)
