"""``beadworth print``: replay a print, retime it, compare two rigs on it, survey many."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, command, progress
from beadworth.cli.load import load_fit, load_material, load_rig
from beadworth.cli.print_text import (
    describe_comparison,
    describe_replay,
    describe_retiming,
    describe_survey,
    describe_two_files,
)
from beadworth.core import RESERVE, InputError, write_file

if TYPE_CHECKING:
    from beadworth.replay import OnRig
    from beadworth.workflow import RigInputs

app = typer.Typer(help="Check a print file against the ceiling; slow it where needed.")

FIT_METAVAR = "FIT.json|FILE.csv|TRIAL"
FileArgument = Annotated[Path, typer.Argument(help="Print file (G-code), plain or gz.")]
RigOption = Annotated[
    str | None,
    typer.Option(
        "--rig", help="Rig record (TOML) or name on the bench; left out: conservative defaults."
    ),
]
CapacityOption = Annotated[
    str | None,
    typer.Option(
        "--capacity",
        metavar=FIT_METAVAR,
        help="Capacity: what `capacity fit --json` wrote, a readings table, or a trial.",
    ),
]


def _inputs(call: Call, rig: str | None, capacity: str | None) -> RigInputs:
    """A rig, and the capacity that goes with it."""
    from beadworth.rig import Rig
    from beadworth.workflow import DEFAULT_RIG, RigInputs

    record = load_rig(rig, call) if rig else Rig(name=DEFAULT_RIG)
    return RigInputs(record, load_fit(capacity, call) if capacity else None)


@command(
    app,
    "replay",
    "print replay bracket.gcode",
    "print replay bracket.gcode --rig my-rig.toml --capacity how-fast-1 --material PLA",
)
def replay(
    call: Call,
    file: FileArgument,
    rig: RigOption = None,
    capacity: CapacityOption = None,
    material: Annotated[
        str | None,
        typer.Option("--material", help="Material for mass and melt power (name or TOML)."),
    ] = None,
    strict: Annotated[
        bool, typer.Option("--strict", help="Stop at the first problem in the file.")
    ] = False,
) -> Answer:
    """Say how long a print takes, what flow it asks for, and where that is over the ceiling."""
    from beadworth.workflow import replay_file

    on = _inputs(call, rig, capacity)
    polymer = load_material(material, call) if material else None
    size = file.stat().st_size if file.is_file() and file.suffix != ".gz" else None
    with progress(f"Replaying {file.name}", size) as show:
        found = replay_file(
            file,
            on,
            material=polymer,
            stop_on_problem=strict,
            progress=lambda done: show(completed=done),
        )
    code = 0 if found.summary.moves else InputError.exit_code  # any text can be read as G-code
    return Answer(found, describe_replay(found), exit_code=code)


@command(
    app,
    "retime",
    "print retime bracket.gcode --rig my-rig.toml --capacity how-fast-1 --out bracket-slower.gcode",
)
def retime(
    call: Call,
    file: FileArgument,
    rig: Annotated[str, typer.Option("--rig", help="Rig record (TOML) or name on the bench.")],
    capacity: Annotated[
        str, typer.Option("--capacity", metavar=FIT_METAVAR, help="Capacity to stay under.")
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            help="Copy to write, gz where it ends so; must not exist yet. Left out: beside the "
            "print, and nothing where it is under the ceiling already."
        ),
    ] = None,
    reserve: Annotated[
        float, typer.Option(help="Safety margin below the ceiling, as a fraction of it.")
    ] = RESERVE,
    by_peak: Annotated[
        bool,
        typer.Option(
            "--by-peak",
            help="Slow only what this rig reaches; the copy then holds on this rig alone.",
        ),
    ] = False,
) -> Answer:
    """Write a copy whose feeds keep the flow under the ceiling; nothing else changes."""
    from beadworth.workflow import retime_file

    on = _inputs(call, rig, capacity)
    with progress("Retiming") as show:
        made, after, written = retime_file(
            file, on, reserve, out, lambda what: show(description=what), by_peak=by_peak
        )
    least = min((x.headroom for x in after.layers if x.headroom is not None), default=None)
    return Answer(
        {
            "out": str(written) if written else None,
            "moves_slower": made.moves,
            "words_changed": made.words_changed,
            "words_added": made.words_added,
            "time_s": after.time_s,
            "time_before_s": made.before.time_s,
            "over_ceiling_s": after.over_ceiling_s,
            "least_headroom": least,
            "reserve": reserve,
            "by_peak": by_peak,
            "other_hot_end": made.other_hot_end,
        },
        describe_retiming(made, after, written),
    )


@command(
    app,
    "compare",
    "print compare bracket.gcode --baseline my-rig.toml --candidate upgraded.toml "
    "--capacity how-fast-1",
)
def compare(
    call: Call,
    file: FileArgument,
    baseline: Annotated[str, typer.Option(help="Rig record (TOML) or name on the bench.")],
    candidate: Annotated[str, typer.Option(help="Rig record (TOML) or name on the bench.")],
    capacity: CapacityOption = None,
    candidate_capacity: Annotated[
        str | None, typer.Option(metavar=FIT_METAVAR, help="Where the candidate has its own.")
    ] = None,
) -> Answer:
    """Compare two rigs on one print: time, and what holds it back on each."""
    from beadworth.workflow import RigInputs, compare_file

    first = _inputs(call, baseline, capacity)
    second = RigInputs(
        load_rig(candidate, call),
        load_fit(candidate_capacity, call) if candidate_capacity else first.fit,
    )
    with progress("Replaying on both"):
        found = compare_file(file, first, second)
    return Answer(
        {
            "sentence": found.sentence,
            "saved_s": found.saved_s,
            "saved_fastest_s": found.saved_fastest_s,
            "baseline": _on_rig_json(found.baseline),
            "candidate": _on_rig_json(found.candidate),
        },
        describe_comparison(found),
    )


@command(
    app,
    "against",
    "print against bracket.gcode bracket-retimed.gcode --rig my-rig.toml --capacity how-fast-1",
)
def against(
    call: Call,
    first: FileArgument,
    second: Annotated[Path, typer.Argument(help="The other print file.")],
    rig: RigOption = None,
    capacity: CapacityOption = None,
) -> Answer:
    """Hold two files against each other on one rig: time, filament, flow, what is over."""
    from beadworth.workflow import hold_print_files

    on = _inputs(call, rig, capacity)
    with progress("Replaying both"):
        found = hold_print_files(first, second, on)
    data = {"sentence": found.sentence, "rig": found.rig, "names": found.names,
            "pairs": found.pairs}  # fmt: skip
    return Answer(data, describe_two_files(found))


@command(app, "survey", "print survey prints --rig my-rig.toml --out survey.parquet")
def survey(
    call: Call,
    folders: Annotated[list[Path], typer.Argument(help="Folders (searched through) or files.")],
    out: Annotated[
        Path,
        typer.Option(help="Table to write, Parquet or (.csv) CSV; a rerun goes on with it."),
    ],
    rig: RigOption = None,
    capacity: CapacityOption = None,
    picture: Annotated[
        Path | None, typer.Option(help="Picture of the worst prints to write (SVG).")
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Dask scheduler; left out: processes here."),
    ] = None,
) -> Answer:
    """Replay thousands of prints and say how many are over the ceiling; a broken one says why.

    The rows land in the table and on the bench every few seconds.
    """
    from beadworth.report import render_svg, survey_chart
    from beadworth.workflow import run_survey

    on = _inputs(call, rig, capacity)
    with progress("Replaying", unit="prints") as show:
        done = run_survey(
            folders,
            out,
            on.rig,
            on.fit,
            fit_rig=on.fit_rig,
            cluster=cluster,
            bench=call.bench,
            on_row=lambda rows, total: show(completed=rows, total=total),
        )
    if picture is not None:
        write_file(picture, render_svg(survey_chart(done.summary)))
    return Answer(done, describe_survey(done))


def _on_rig_json(found: OnRig) -> dict[str, Any]:
    """One rig's side of a comparison."""
    return {
        "rig": found.rig,
        "time_as_commanded_s": found.as_commanded.time_s,
        "time_under_ceiling_s": found.under_ceiling.time_s,
        "time_fastest_s": found.fastest.time_s,
        "time_at_rig_limits_s": found.as_commanded.time_at_rig_limits_s,
        "obeys_the_file": found.obeys,
        "limits": found.as_commanded.limits,
        "share_written_s": found.share_written_s,
        "share_s": found.share_s,
        "share_fastest_s": found.share_fastest_s,
    }
