"""``beadworth rig`` and ``beadworth material``: one set of commands for both kinds of record."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json, print_table, read_text

if TYPE_CHECKING:
    from beadworth.core import Record
    from beadworth.store import Bench


@dataclass(frozen=True)
class RecordNoun:
    """How one kind of record is named, loaded, kept and listed."""

    noun: str
    plural: str
    help: str
    kind: Callable[[], type[Record]]
    save: Callable[[Bench, Any], None]
    one: Callable[[Bench, str], Record]
    all: Callable[[Bench], Sequence[Record]]
    columns: tuple[str, ...]
    row: Callable[[Any], tuple[object, ...]]


def record_app(noun: RecordNoun) -> typer.Typer:
    """The commands ``add``, ``list`` and ``show`` for one kind of record."""
    app = typer.Typer(help=noun.help)

    @app.command("add", help=f"Put a {noun.noun} on the bench, or a new version of one there.")
    def add(
        files: Annotated[list[Path], typer.Argument(help="Record files (TOML).")],
        bench: BenchOption = None,
        json: JsonOption = False,
    ) -> None:
        from beadworth.core import from_toml, to_mapping
        from beadworth.store import open_bench

        records = [from_toml(noun.kind(), read_text(path), str(path)) for path in files]
        with open_bench(bench) as store:
            for record in records:
                noun.save(store, record)
        if json:
            emit_json({noun.plural: [to_mapping(record) for record in records]})
        else:
            for record in records:
                typer.echo(f"On the bench: {record.name}")  # type: ignore[attr-defined]

    @app.command("list", help=f"List the {noun.plural} on the bench.")
    def list_(bench: BenchOption = None, json: JsonOption = False) -> None:
        from beadworth.core import to_mapping
        from beadworth.store import open_bench

        with open_bench(bench) as store:
            records = noun.all(store)
        if json:
            emit_json({noun.plural: [to_mapping(record) for record in records]})
        else:
            print_table(noun.plural.capitalize(), noun.columns, [noun.row(r) for r in records])

    @app.command("show", help=f"Print a {noun.noun} as TOML, ready to change and add again.")
    def show(
        name: Annotated[str, typer.Argument(help="Its name on the bench.")],
        bench: BenchOption = None,
        json: JsonOption = False,
    ) -> None:
        from beadworth.core import to_mapping, to_toml
        from beadworth.store import open_bench

        with open_bench(bench) as store:
            record = noun.one(store, name)
        if json:
            emit_json(to_mapping(record))
        else:
            typer.echo(to_toml(record), nl=False)

    return app
