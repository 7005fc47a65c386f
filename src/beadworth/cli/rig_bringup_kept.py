"""``beadworth rig bringup``: the programs, the sheet, and what was kept with a rig."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.cli.load import is_file, load_material, load_rig
from beadworth.cli.output import BenchOption, JsonOption, emit_json, print_table

if TYPE_CHECKING:
    from datetime import datetime

    from beadworth.bringup import BringUpResult
    from beadworth.rig import Rig

RigArgument = Annotated[
    str, typer.Argument(help="Rig record (TOML), or a rig's name on the bench.")
]
KeepOption = Annotated[
    bool, typer.Option("--keep", help="Keep the result with the rig, which must be on the bench.")
]
AxisName = Literal["x", "y", "z"]
ProgramKind = Literal["moves", "feed", "square", "heater"]


def add_to(app: typer.Typer) -> None:
    """Put the commands on the bring-up noun."""
    for name, command in (
        ("program", program), ("sheet", sheet), ("results", results), ("apply", apply)
    ):  # fmt: skip
        app.command(name)(command)


def program(
    rig: RigArgument,
    kind: Annotated[ProgramKind, typer.Argument(help="What to measure.")],
    out: Annotated[Path, typer.Option(metavar="FILE.gcode", help="Program to write.")],
    axis: Annotated[AxisName, typer.Option(help="Axis, for moves.")] = "x",
    material: Annotated[
        str, typer.Option(help="Generic polymer, a TOML file, or a bench material.")
    ] = "PLA",
    temperature: Annotated[
        float, typer.Option(metavar="°C", help="Nozzle temperature, for all but moves.")
    ] = 210.0,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write the G-code that makes a measurement; refused where it would leave the rig's limits."""
    from beadworth.bringup import programs

    record = load_rig(rig, bench)
    if kind == "moves":
        text = programs.moves_program(record, axis)
    else:
        make = {"feed": programs.feed_program, "square": programs.square_program,
                "heater": programs.heater_program}[kind]  # fmt: skip
        text = make(record, load_material(material, bench), temperature)
    out.write_text(text, encoding="ascii")
    cautions = programs.CAUTIONS if kind == "moves" else programs.HOT_CAUTIONS
    if json:
        emit_json({"file": str(out), "lines": text.count("\n"), "cautions": list(cautions)})
        return
    typer.echo(f"Written: {out}")
    for caution in cautions:
        typer.echo(f"Caution: {caution}")


def sheet(
    rig: RigArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.html", help="Page to write.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write the bring-up sheet: one page with boxes to tick, on screen or on paper."""
    from beadworth.bringup import bring_up_sheet, sheet_page
    from beadworth.report import tokens_css

    record = load_rig(rig, bench)
    made = bring_up_sheet(record, _found_before(rig, record, bench))
    out.write_text(sheet_page(made, tokens_css()), encoding="utf-8")
    if json:
        emit_json({"file": str(out), "sections": [section.title for section in made.sections]})
    else:
        typer.echo(f"Written: {out}")


def results(rig: RigArgument, bench: BenchOption = None, json: JsonOption = False) -> None:
    """List what bring-ups of a rig found and kept, newest first."""
    from beadworth.store import open_bench
    from beadworth.workflow import kept

    name = load_rig(rig, bench).name
    with open_bench(bench) as store:
        there = list(reversed(kept(store, name)))
    if json:
        emit_json({"rig": name, "results": [one.to_json() for one in there]})
        return
    if not there:
        typer.echo(f"Nothing kept with {name} yet; --keep on moves, feed, square or heater does.")
    for one in there:
        show_findings(one.result, f"{one.number}, {one.at:%Y-%m-%d %H:%M} UTC: ")


def apply(
    rig: RigArgument,
    number: Annotated[
        int | None,
        typer.Option(metavar="N", help="One result; left out: the newest of every measurement."),
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write kept results into the rig's record, each value marked measured.

    A rig on the bench gets its next version; a TOML file is left alone and the changed record is
    printed.
    """
    from beadworth.bringup import applied
    from beadworth.core import to_mapping, to_toml
    from beadworth.rig import changed
    from beadworth.store import open_bench
    from beadworth.workflow import chosen, take

    before = load_rig(rig, bench)
    with open_bench(bench) as store:
        if is_file(rig):
            after = applied(before, chosen(store, before.name, number))
        else:
            after = take(store, before.name, number)
    if json:
        emit_json(to_mapping(after))
    elif is_file(rig):
        typer.echo(to_toml(after), nl=False)
    else:
        differences = changed(before, after)
        print_table(f"{after.name}, next version", ("field", "before", "after"), differences)


def keep_result(
    rig: Rig,
    part: dict[str, Any],
    given: dict[str, Any],
    wanted: bool,
    bench: str | None,
    not_done: Sequence[str] = (),
) -> BringUpResult:
    """A result of a rig; where that is wanted, kept with it."""
    from beadworth.bringup import BringUpResult

    result = BringUpResult(rig=rig.name, **part)
    if wanted:
        from beadworth.store import open_bench
        from beadworth.workflow import keep

        with open_bench(bench) as store:
            keep(store, result, given, not_done)
    return result


def show_findings(result: BringUpResult, before: str = "") -> None:
    """Print what a bring-up found, each part with what to do; every ± is the 95 % one."""
    from beadworth.bringup import told_result

    for finding in told_result(result):
        print_table(f"{before}{finding.title}", ("what", "value"), finding.rows)
        typer.echo(f"{finding.advice}\n")


def _found_before(given: str, rig: Rig, bench: str | None) -> list[tuple[datetime, BringUpResult]]:
    """What the bench keeps of a rig on it; a rig in a file stands for itself."""
    if is_file(given):
        return []
    from beadworth.store import open_bench
    from beadworth.workflow import kept

    with open_bench(bench) as store:
        return [(one.at, one.result) for one in kept(store, rig.name)]
