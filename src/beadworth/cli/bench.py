"""``beadworth bench``: the store itself: open it in the browser, back up, restore, check."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json

app = typer.Typer(help="The bench: everything measured here, in one file.")


@app.command("serve")
def serve(
    bench: BenchOption = None,
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8642,
    json: JsonOption = False,
) -> None:
    """Open the bench in the browser: start the local web app and print its address.

    It listens on this machine only (127.0.0.1): the bench has no passwords.
    """
    from beadworth.bench import open_bench
    from beadworth.web import serve as serve_web

    with open_bench(bench) as store:
        serve_web(store, port=port, as_json=json)


@app.command("backup")
def backup(
    to: Annotated[Path, typer.Argument(help="File to write; must not exist yet.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Copy the whole bench to a file, checked after writing; safe while it is in use."""
    from dataclasses import asdict

    from beadworth.bench import open_bench

    with open_bench(bench) as store:
        report = store.backup(to)
    if json:
        emit_json(
            {
                key: str(value) if isinstance(value, Path) else value
                for key, value in asdict(report).items()
            }
        )
    else:
        typer.echo(f"Backed up to {to}")
