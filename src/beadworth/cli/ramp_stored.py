"""``beadworth ramp``: the live weighings on the bench."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from beadworth.cli.command import Answer, Call, Next, command, notes, progress, written
from beadworth.cli.ramp import app, checks_table
from beadworth.cli.table import Table
from beadworth.core import write_file


@command(app, "list", "ramp list", "ramp list how-much-1")
def list_(
    call: Call,
    trial: Annotated[str | None, typer.Argument(help="Trial; left out: the whole bench.")] = None,
) -> Answer:
    """List the live weighings on the bench, and what each is used for."""
    from beadworth.workflow import LiveLines, live_line, live_weighings

    found = LiveLines(tuple(live_line(one) for one in live_weighings(call.bench, trial)))
    table = Table.of(
        "Live weighings",
        found.live_weighings,
        {
            "no.": "number", "trial": "trial", "rig": "rig", "material": "material",
            "°C": lambda one: ", ".join(f"{t:g}" for t in one.temperatures_c),
            "stands as": "standing",
        },
    )  # fmt: skip
    first = Next(("ramp", "program", "ramp.toml", "--out", "ramp.gcode"), "to weigh one live")
    return Answer(found, [table], None if found.live_weighings else first)


NumberArgument = Annotated[int, typer.Argument(help="Its number, as `ramp list` shows it.")]


@command(app, "show", "ramp show 12", "ramp show 12 --out trace.csv")
def show(
    call: Call,
    number: NumberArgument,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Write its trace as a table.")
    ] = None,
) -> Answer:
    """Say what a live weighing on the bench found, and whether it is used."""
    from beadworth.workflow import (
        SIMULATED,
        describe_live,
        live_fit,
        live_table,
        live_view,
        live_weighing,
    )

    one = live_weighing(call.bench, number)
    with progress("Reading it"):
        view, fit = live_view(call.bench, one), live_fit(one)
    lines: list[str | Table] = [*describe_live(one, fit)]
    if one.finding is not None:
        lines.append(checks_table(one.finding.checks))
    if out is not None:
        write_file(out, live_table(call.bench, number))
        lines = [*written(out), *lines]
    return Answer(view, [*lines, *notes([SIMULATED])], Next(("capacity", "fit", one.trial)))


@command(app, "void", "ramp void 12 --reason 'a cable touched the cup'")
def void(
    call: Call,
    number: NumberArgument,
    reason: Annotated[str, typer.Option(help="Why it no longer counts.")],
) -> Answer:
    """Let a live weighing no longer count; it stays, with the reason."""
    from beadworth.workflow import live_line, void_live

    one = void_live(call.bench, number, reason)
    return Answer(live_line(one), [f"Live weighing {number} is {one.standing}."])
