"""``beadworth ramp record``: a balance recorded while a ramp runs, onto the bench or as a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, Next, command, progress, written
from beadworth.cli.ramp import MaterialOption, RigOption, app, loaded_ramp
from beadworth.core import InputError, write_file

if TYPE_CHECKING:
    from beadworth.workflow import Ramp


@command(
    app,
    "record",
    'ramp record "My balance" ramp.toml',
    'ramp record "My balance" ramp.toml --trial how-much-1',
    'ramp record "My balance" --go-on 3',
    'ramp record "My balance" --out trace.csv',
)
def record(
    call: Call,
    balance: Annotated[str, typer.Argument(help="A balance's name, as `balance list` shows it.")],
    ramp: Annotated[
        Path | None,
        typer.Argument(metavar="RAMP.toml", help="Ramp record: the trace goes onto the bench."),
    ] = None,
    trial: Annotated[
        str | None, typer.Option(help="Trial to store it on; left out: a new one.")
    ] = None,
    note: Annotated[str, typer.Option(help="What you saw, stored with it.")] = "",
    go_on: Annotated[
        int | None, typer.Option(help="Number of a live weighing that stopped without an end.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.csv", help="Table to write; without RAMP.toml, that alone."),
    ] = None,
    minutes: Annotated[float, typer.Option(help="Longest time; Ctrl+C ends it before.")] = 180.0,
    port: Annotated[str | None, typer.Option(help="Port, where it is another one today.")] = None,
    rig: RigOption = None,
    material: MaterialOption = None,
) -> Answer:
    """Record a balance by cable: every line with the time it came. Ctrl+C ends it in order.

    It only listens: it does not steer the printer, and starts nothing. With the ramp's record the
    trace goes onto the bench every few seconds and is read at the end.
    """
    from beadworth.workflow import Ramp, record_trace

    _refuse_mixed(ramp, trial, note, go_on, out)
    if ramp is not None or go_on is not None:
        asked = None if ramp is None else Ramp(*loaded_ramp(call, ramp, rig, material))
        return _record_onto_bench(
            call, balance, asked, out, 60.0 * minutes,
            trial=trial, note=note, go_on=go_on, port=port,
        )  # fmt: skip
    assert out is not None
    with progress("Recording (Ctrl+C ends it)") as step:
        made = record_trace(
            call.bench,
            balance,
            out,
            60.0 * minutes,
            port=port,
            tell=lambda rows, mass: step(
                description=f"{rows} lines, {mass:.2f} g (Ctrl+C ends it)"
            ),
        )
    gaps = f"; {made.gaps} gaps, the longest {made.longest_gap_s:.0f} s" if made.gaps else ""
    damaged = f"; {made.damaged} damaged lines dropped" if made.damaged else ""
    return Answer(
        {"file": str(out), "recorded": made},
        [*written(out), f"{made.rows} lines in {made.seconds / 60:.1f} min{gaps}{damaged}."],
        Next(("ramp", "read", str(out), "ramp.toml", "--store"), "with the ramp's record"),
    )


def _refuse_mixed(
    ramp: Path | None, trial: str | None, note: str, go_on: int | None, out: Path | None
) -> None:
    if ramp is None and go_on is None and out is None:
        raise InputError("neither a ramp record nor a table to write is named.", "RAMP.toml",
                         remedy="Name the ramp's record to store the trace on the bench, or "
                         "--out FILE.csv for a table alone.")  # fmt: skip
    if ramp is None and go_on is None and (trial or note):
        raise InputError("a trial or a note is given, and no ramp record.", "RAMP.toml",
                         remedy="Name the record that the program was made from.")  # fmt: skip
    if go_on is not None and (ramp is not None or trial or note):
        raise InputError("a recording that goes on has its ramp, trial and note.", "--go-on",
                         go_on, "Leave them out.")  # fmt: skip


def _record_onto_bench(
    call: Call, balance: str, ramp: Ramp | None, out: Path | None, seconds: float, **given: Any
) -> Answer:
    from beadworth.workflow import describe_live, live_fit, live_line, live_table, record_ramp

    with progress("Recording (Ctrl+C ends it)") as step:
        one = record_ramp(
            call.bench, balance, ramp, seconds,
            tell=lambda now: step(
                description=f"{now.rows} lines, {now.stored} on the bench, {now.grams:.2f} g "
                "(Ctrl+C ends it)"
            ),
            **given,
        )  # fmt: skip
    if out is not None:
        write_file(out, live_table(call.bench, one.number))
    files = () if out is None else (out,)
    return Answer(
        {"stored": live_line(one), "file": None if out is None else str(out)},
        [*written(*files), f"Stored on trial {one.trial}.", *describe_live(one, live_fit(one))],
        Next(("ramp", "show", str(one.number))),
    )
