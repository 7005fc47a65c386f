"""What every command shares: the options, one way to answer, one way to refuse."""

from __future__ import annotations

import json
import os
import shlex
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.core import BeadworthError, InputError, Problem
from beadworth.text import finite

if TYPE_CHECKING:
    from rich.progress import Progress, ProgressColumn, Task

BENCH_VARIABLE = "BEADWORTH_BENCH"
BenchOption = Annotated[
    str | None,
    typer.Option(
        "--bench",
        metavar="PATH",
        envvar=BENCH_VARIABLE,
        help="The bench file (or a database URL). Left out: the one in the platform's data folder.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Answer as JSON on standard output.")]


def emit_json(data: Any) -> None:
    """Print one JSON document; infinities and NaN, which JSON lacks, become null."""
    typer.echo(json.dumps(finite(data), ensure_ascii=False, indent=2))


def next_step(command: str, bench: str | None, when: str = "") -> None:
    """Say what to type next, on the bench file this command was told of."""
    # A database's address may hold a password: it is not said again.
    named = bench and bench != os.environ.get(BENCH_VARIABLE) and "://" not in bench
    option = f" --bench {shlex.quote(bench)}" if bench and named else ""
    typer.echo(f"Next{when and f', {when}'}: beadworth {command}{option}")


def print_table(title: str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print a table with right-aligned numbers; wide enough terminals get no wrapping."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD)
    kept = [tuple(row) for row in rows]
    for index, column in enumerate(columns):
        numeric = all(isinstance(row[index], (int, float)) or row[index] is None for row in kept)
        widest = max(len(word) for word in column.split())
        justify: Literal["right", "left"] = "right" if numeric else "left"
        table.add_column(column, justify=justify, overflow="fold", min_width=widest)
    for row in kept:
        table.add_row(*(cell_text(cell) for cell in row))
    Console().print(table)


def cell_text(value: object) -> str:
    """A cell as text: four significant digits for floats, an en dash for what is unknown."""
    if value is None:
        return "–"
    if isinstance(value, float):
        return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"
    return str(value)


def report_error(error: BeadworthError, *, as_json: bool) -> None:
    """Show a refusal: JSON on standard output where asked for, words on standard error."""
    if as_json:
        emit_json(error.to_json())
    for problem in error.problems:
        print(problem, file=sys.stderr)


def read_bytes(path: Path) -> bytes:
    """A file's bytes.

    Raises
    ------
    InputError
        No such file, or not readable.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            Problem(
                f"cannot be read: {error.strerror or error}.",
                where=str(path),
                remedy="Check the name and the folder.",
            )
        ) from None


def read_text(path: Path) -> str:
    """A file's text as UTF-8 (a byte-order mark is dropped).

    Raises
    ------
    InputError
        No such file, not readable, or not UTF-8.
    """
    try:
        return read_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            Problem(
                f"byte {error.start} is not UTF-8 text.",
                where=str(path),
                remedy="Save the file as UTF-8 and try again; nothing was taken.",
            )
        ) from None


def numbers(text: str, what: str) -> tuple[float, ...]:
    """Numbers from ``"210,220,230"`` or a range ``"4:20:2"``; see :mod:`beadworth.text.parse`.

    Raises
    ------
    InputError
        Every part that is neither, or a list that can be read in more than one way.
    """
    from beadworth.text import ambiguity
    from beadworth.text import numbers as read

    if unclear := ambiguity(text):
        raise InputError(Problem(unclear[0], what, text, unclear[1]))
    values = read(text)
    problems = [
        Problem(
            f"{part!r} is neither a number nor first:last:step.",
            where=what,
            value=part,
            remedy="Write for example 210,220,230 or 4:20:2.",
        )
        for part in values
        if isinstance(part, str)
    ]
    if problems or not values:
        raise InputError(problems or [Problem("no number is given.", what, text, "Write one.")])
    return tuple(values)


def rate_column(unit: str) -> ProgressColumn:
    """Count, total and rate of a task: ``120 of 4000 prints, 35 a minute``."""
    from rich.progress import ProgressColumn
    from rich.text import Text

    class Rate(ProgressColumn):
        def render(self, task: Task) -> Text:
            total = "?" if task.total is None else f"{task.total:.0f}"
            speed = task.finished_speed or task.speed
            rate = f", {60 * speed:.3g} a minute" if speed else ""
            return Text(f"{task.completed:.0f} of {total} {unit}{rate}")

    return Rate()


@contextmanager
def progress(
    description: str, total: int | None = None, unit: str | None = None
) -> Iterator[Progress]:
    """A progress bar on standard error for work that may take over a second.

    With a ``unit`` it tells the count of these, how many a minute, and the time left.
    """
    from rich.console import Console
    from rich.progress import Progress, TimeRemainingColumn

    columns = Progress.get_default_columns()
    if unit is not None:
        columns = (*columns[:2], rate_column(unit), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        bar.add_task(description, total=total)
        yield bar
