"""The command-line door: ``beadworth NOUN VERB``, one file per noun, heavy imports inside.

Exit codes: 0 done; 1 an error of ours; 2 an input that cannot be used; 3 outside
a limit; 4 readings that do not carry the answer; 5 not on the bench; 6 refused by
the bench's rules; 7 the bench itself cannot be used; 130 interrupted.
"""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from beadworth import __version__
from beadworth.cli import (
    bench,
    capacity,
    demo,
    dossier,
    journal,
    material,
    melt,
    package,
    print_,
    rig,
    trial,
    wear,
    worth,
)
from beadworth.cli.output import report_error
from beadworth.core import BeadworthError

app = typer.Typer(
    name="beadworth",
    help="Plan a melt-flow trial, weigh its coupons, read the ceiling with its interval, "
    "compare rigs, and publish what was found.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.add_typer(bench.app, name="bench")
app.add_typer(rig.app, name="rig")
app.add_typer(material.app, name="material")
app.add_typer(trial.app, name="trial")
app.add_typer(capacity.app, name="capacity")
app.add_typer(melt.app, name="melt")
app.add_typer(print_.app, name="print")
app.add_typer(worth.app, name="worth")
app.add_typer(wear.app, name="wear")
app.add_typer(journal.app, name="journal")
app.add_typer(package.app, name="package")
app.add_typer(dossier.app, name="dossier")
app.command("demo")(demo.demo)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"beadworth {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Beadworth: the bead an upgraded printer can lay, and whether the upgrade is worth it."""


def main() -> None:
    """Run the command line; every refusal becomes its words and its exit code."""
    try:
        app()
    except BeadworthError as error:
        report_error(error, as_json="--json" in sys.argv)
        raise SystemExit(error.exit_code) from None
