"""What every command shares: one wrapper that opens the bench, answers, and says what comes next.

A command is a function of a :class:`Call` and its own arguments that returns an
:class:`Answer`: the data that ``--json`` prints, the lines and tables a person
reads, and the command to type next. :func:`command` puts it on a noun.
"""

from __future__ import annotations

import inspect
import json
import os
import shlex
import sys
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, Concatenate, ParamSpec

import typer
from typer.core import TyperGroup

from beadworth.cli.table import Table, table_text
from beadworth.core import BeadworthError

if TYPE_CHECKING:
    from pathlib import Path

    from beadworth.workflow import Bench

P = ParamSpec("P")
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


@dataclass(frozen=True)
class Next:
    """The command to type next.

    Parameters
    ----------
    words : tuple of str
        What stands behind ``beadworth``, unquoted.
    when : str
        A condition put in front of it: ``"once the coupons are made"``.
    """

    words: tuple[str, ...]
    when: str = ""

    def line(self, bench: str | None) -> str:
        """The line as it is printed, with the bench file that this command was given."""
        # A database's address may hold a password: it is not repeated.
        named = bench and bench != os.environ.get(BENCH_VARIABLE) and "://" not in bench
        option = ("--bench", bench) if bench and named else ()
        when = f", {self.when}" if self.when else ""
        return f"Next{when}: {shlex.join(('beadworth', *self.words, *option))}"


@dataclass(frozen=True)
class Answer:
    """What a command answers.

    Parameters
    ----------
    data : object
        What ``--json`` prints, by :func:`beadworth.core.to_json`.
    blocks : iterable of str or Table
        What a person reads; only gone through where no JSON is wanted.
    next : Next, optional
        The command to type next.
    raw : str, optional
        Printed in place of the blocks without a line end of its own: TOML, CSV.
    exit_code : int
        0, but where an answer is itself bad news.
    """

    data: object
    blocks: Iterable[str | Table] = ()
    next: Next | None = None
    raw: str | None = None
    exit_code: int = 0


@dataclass
class Call:
    """One call of a command: the bench it names, opened when it is first asked for.

    A bench that is not there is made by the first command that stores something.
    """

    bench_name: str | None
    as_json: bool
    _open: ExitStack = field(default_factory=ExitStack)
    _bench: Bench | None = None

    @property
    def bench(self) -> Bench:
        """The bench, open until the command has answered."""
        if self._bench is None:
            from beadworth.workflow import open_bench

            self._bench = self._open.enter_context(open_bench(self.bench_name, make=False))
        return self._bench

    def say(self, block: str | Table) -> None:
        """Print a line or a table at once; for commands that go on asking."""
        print_block(block)

    def close(self) -> None:
        """Close the bench if it was opened."""
        self._open.close()


class Nouns(TyperGroup):
    """Commands listed with their whole first sentence, broken between words."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list; click's own cuts a sentence that takes more than a line."""
        found = ((name, self.get_command(ctx, name)) for name in self.list_commands(ctx))
        rows = [(name, one.get_short_help_str(limit=1000)) for name, one in found if one]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)


def command(
    app: typer.Typer, name: str, *examples: str, uses_bench: bool = True
) -> Callable[[Callable[Concatenate[Call, P], Answer | None]], Callable[..., None]]:
    """Put a function on a noun as a command.

    Parameters
    ----------
    app : typer.Typer
        The noun.
    name : str
        The verb.
    examples : str
        As they are typed behind ``beadworth``; a test parses each.
    uses_bench : bool
        Whether the command takes ``--bench``.

    Returns
    -------
    decorator
        The function's first parameter is the :class:`Call`; the others are typer's. ``--bench``
        and ``--json`` are added to them.
    """

    def register(body: Callable[Concatenate[Call, P], Answer | None]) -> Callable[..., None]:
        def run(*, bench: str | None = None, json: bool, **arguments: Any) -> None:
            call = Call(bench, json)
            try:
                answer = body(call, **arguments)  # pyrefly: ignore[invalid-param-spec]
            finally:
                call.close()
            if answer is not None:
                print_answer(answer, bench, as_json=json)

        own = list(inspect.signature(body, eval_str=True).parameters.values())[1:]
        shared: list[tuple[str, Any, Any]] = [("json", JsonOption, False)]
        if uses_bench:
            shared.insert(0, ("bench", BenchOption, None))
        keyword = inspect.Parameter.KEYWORD_ONLY
        parameters = [
            *(parameter.replace(kind=keyword) for parameter in own),
            *(inspect.Parameter(n, keyword, default=d, annotation=a) for n, a, d in shared),
        ]
        run.__name__, run.__doc__ = body.__name__, body.__doc__
        run.__signature__ = inspect.Signature(parameters)  # pyrefly: ignore[missing-attribute]
        run.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
        typed = "\n".join(f"  beadworth {example}" for example in examples)
        head = "Example" if len(examples) == 1 else "Examples"
        app.command(name, epilog=f"\b\n{head}:\n{typed}")(run)
        return run

    return register


def print_answer(answer: Answer, bench: str | None, *, as_json: bool) -> None:
    """Print an answer as JSON, or its blocks and what to type next."""
    if as_json:
        emit_json(answer.data)
    elif answer.raw is not None:
        typer.echo(answer.raw, nl=False)
    else:
        for block in answer.blocks:
            print_block(block)
        if answer.next is not None:
            typer.echo(answer.next.line(bench))
    if answer.exit_code:
        raise typer.Exit(answer.exit_code)


def print_block(block: str | Table) -> None:
    """Print a line, or a table as wide as the terminal."""
    typer.echo(block if isinstance(block, str) else table_text(block))


def emit_json(data: object) -> None:
    """Print one JSON document; infinities and NaN, which JSON lacks, become null."""
    from beadworth.core import to_json

    typer.echo(json.dumps(to_json(data), ensure_ascii=False, indent=2))


def report_error(error: BeadworthError, *, as_json: bool) -> None:
    """Show a refusal: JSON on standard output where asked for, words on standard error."""
    if as_json:
        emit_json(error.to_json())
    for problem in error.problems:
        print(problem, file=sys.stderr)


def notes(texts: Iterable[str]) -> Iterator[str]:
    """Notes as lines, each once."""
    return (f"Note: {text}" for text in dict.fromkeys(texts))


def to_look_at(seen: Sequence[str]) -> Iterator[str]:
    """What looks private in what goes out, under one line that says what to do."""
    if seen:
        from beadworth.workflow import LOOK_AT

        yield LOOK_AT
        yield from (f"  {sentence}" for sentence in seen)


def written(*files: Path) -> Iterator[str]:
    """A line for each file that was written."""
    return (f"Written: {file}" for file in files)


def _no_bar(**_: object) -> None:
    pass


@contextmanager
def progress(
    description: str, total: int | None = None, unit: str | None = None
) -> Generator[Callable[..., None]]:
    """A progress bar on standard error for work that may take over a second.

    With a ``unit`` it shows the count of these, how many a minute, and the time left.

    Yields
    ------
    callable
        Takes ``completed``, ``advance``, ``total`` or ``description`` by name.
    """
    if not sys.stderr.isatty():  # nobody watches, and the bar takes a while to load
        yield _no_bar
        return
    from rich.console import Console
    from rich.progress import Progress, TimeRemainingColumn

    columns = Progress.get_default_columns()
    if unit is not None:
        from beadworth.cli.rate import RateColumn

        columns = (*columns[:2], RateColumn(unit), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        yield partial(bar.update, bar.add_task(description, total=total))
