"""The command line: ``beadworth NOUN VERB``, one file per noun, heavy imports inside.

Exit codes: 0 done; 1 a fault in Beadworth; 2 an invalid input; 3 outside
a limit; 4 readings that do not carry the answer; 5 not on the bench; 6 refused by
the bench's rules; 7 the bench itself cannot be used; 8 a
balance's cable cannot be used; 130 interrupted.
"""

from __future__ import annotations

import functools
import gc
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any, NoReturn

import typer

from beadworth import __version__
from beadworth.cli import (
    balance,
    bench,
    capacity,
    cause,
    demo,
    dossier,
    journal,
    material,
    melt,
    package,
    part,
    print_,
    ramp,
    ramp_record,  # noqa: F401 - its command stands under ramp
    ramp_stored,  # noqa: F401 - its commands stand under ramp
    rig,
    trial,
    wear,
    witness,
    worth,
)
from beadworth.cli.command import Nouns, report_error
from beadworth.core import BeadworthError, InputError, Problem, ends_in_order

__all__ = ["app", "main"]

app = typer.Typer(
    cls=Nouns,
    name="beadworth",
    help="Measure what an upgrade of a filament printer brings. Describe the printer and the "
    "part, check that it fits, bring it up, weigh coupons to find how fast it can melt, turn that "
    "into print speeds, check your prints, compare hours and cost, log wear over months, publish.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
# In the order of the job; --help lists them so.
NOUNS = (
    rig,
    part,
    material,
    trial,
    balance,
    ramp,
    capacity,
    melt,
    print_,
    witness,
    cause,
    worth,
    wear,
    journal,
    dossier,
    package,
    bench,
)
for _noun in NOUNS:
    app.add_typer(_noun.app, cls=Nouns, name=_noun.__name__.rpartition(".")[2].rstrip("_"))
demo.add_to(app)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"beadworth {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Beadworth: what an upgrade of a filament printer brings, and whether it is worth it."""


@functools.cache
def _tree() -> Any:
    """All commands with their options, made once: that takes a twentieth of a second."""
    return typer.main.get_command(app)


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line; every refusal becomes its words and its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        What stands behind ``beadworth``; left out: the process's own.
    """
    # Before numpy is loaded: our matrices are small, a second thread only waits and burns a core.
    if "OMP_NUM_THREADS" not in os.environ:  # which the library heeds too
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What modules make is there to stay: looking through it every 700 objects delays every command.
    gc.set_threshold(20_000, 20)
    given = sys.argv[1:] if arguments is None else list(arguments)
    as_json = "--json" in given
    code: int | None
    try:
        with ends_in_order():
            code = _tree()(given, "beadworth", standalone_mode=not as_json)
    except BeadworthError as error:
        report_error(error, as_json=as_json)
        code = error.exit_code
    except typer.TyperException as error:  # a wrong option or argument, with --json
        words = Problem(error.format_message(), "command line", remedy="See --help of the command.")
        report_error(InputError(words), as_json=True)
        code = error.exit_code
    except typer.Abort:
        typer.echo("Aborted!", err=True)
        code = 1
    raise SystemExit(code or 0)
