"""``beadworth print``: replay a print, retime it, hold two rigs against each other, survey many."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.load import load_fit, load_material, load_rig
from beadworth.cli.output import BenchOption, JsonOption, emit_json, progress
from beadworth.cli.print_told import on_rig_json, show_comparison, show_replay

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.rig import Rig

app = typer.Typer(help="Prints: what a print file asks of the machine, and a copy that asks less.")

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
        metavar="FIT.json|FILE.csv|TRIAL",
        help="Capacity: what `capacity fit --json` wrote, a readings table, or a trial.",
    ),
]
MaterialOption = Annotated[
    str | None,
    typer.Option("--material", help="Material for mass and melt power (name or TOML)."),
]


def _group(fit: Fit | None, rig: Rig) -> str | None:
    """The rig's own group where the fit has several rigs."""
    if fit is None:
        return None
    names = {group.rig for group in fit.groups}
    return rig.name if rig.name in names else None


def _rig(name: str | None, bench: str | None) -> Rig:
    from beadworth.rig import Rig

    return load_rig(name, bench) if name else Rig(name="conservative defaults")


@app.command("replay")
def replay(
    file: FileArgument,
    rig: RigOption = None,
    capacity: CapacityOption = None,
    material: MaterialOption = None,
    strict: Annotated[
        bool, typer.Option("--strict", help="Stop at the first problem in the file.")
    ] = False,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Say how long a print takes, what flow it asks for, and where that is over the ceiling."""
    from beadworth.replay import replay as replay_print

    record, fit = _rig(rig, bench), load_fit(capacity, bench)
    polymer = load_material(material, bench) if material else None
    with progress(f"Replaying {file.name}", _size(file)) as bar:
        task = bar.task_ids[0]
        found = replay_print(
            file,
            record,
            fit,
            fit_rig=_group(fit, record),
            material=polymer,
            stop_on_problem=strict,
            progress=lambda count: bar.update(task, completed=count),
        )
    if json:
        emit_json(found.to_json())
    else:
        show_replay(found)


def _size(file: Path) -> int | None:
    return file.stat().st_size if file.is_file() and file.suffix != ".gz" else None


@app.command("retime")
def retime(
    file: FileArgument,
    rig: Annotated[str, typer.Option("--rig", help="Rig record (TOML) or name on the bench.")],
    capacity: Annotated[
        str,
        typer.Option(
            "--capacity", metavar="FIT.json|FILE.csv|TRIAL", help="Capacity to stay under."
        ),
    ],
    out: Annotated[Path, typer.Option(help="Copy to write; must not exist yet.")],
    reserve: Annotated[float, typer.Option(help="Fraction kept below the ceiling.")] = 0.1,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write a copy whose feeds keep the flow under the ceiling; nothing else changes."""
    from beadworth.core import ConflictError, Problem
    from beadworth.replay import check_copy
    from beadworth.replay import replay as replay_print
    from beadworth.replay import retime as retime_print

    record, fit = load_rig(rig, bench), load_fit(capacity, bench)
    assert fit is not None
    if out.exists():
        raise ConflictError(
            Problem("this file is there already.", str(out), remedy="Name another.")
        )
    part = out.with_name(out.name + ".part")
    try:
        with progress("Retiming"), part.open("wb") as target:
            made = retime_print(
                file, target, record, fit, fit_rig=_group(fit, record), reserve=reserve
            )
        with progress("Checking the copy"):
            after = replay_print(part, record, fit, fit_rig=_group(fit, record))
        check_copy(made, after)
        part.rename(out)
    finally:
        part.unlink(missing_ok=True)
    least = min((x.headroom for x in after.layers if x.headroom is not None), default=None)
    if json:
        emit_json(
            {
                "out": str(out),
                "moves_slower": made.moves,
                "words_changed": made.words_changed,
                "words_added": made.words_added,
                "time_s": after.time_s,
                "time_before_s": made.before.time_s,
                "over_ceiling_s": after.over_ceiling_s,
                "least_headroom": least,
                "reserve": reserve,
            }
        )
    else:
        from beadworth.replay import duration

        typer.echo(
            f"{made.moves} moves slower; {duration(after.time_s)} instead of "
            f"{duration(made.before.time_s)}. {after.verdict}"
        )
        typer.echo(f"Written: {out}")


@app.command("compare")
def compare(
    file: FileArgument,
    baseline: Annotated[str, typer.Option(help="Rig record (TOML) or name on the bench.")],
    candidate: Annotated[str, typer.Option(help="Rig record (TOML) or name on the bench.")],
    capacity: CapacityOption = None,
    candidate_capacity: Annotated[
        str | None,
        typer.Option(metavar="FIT.json|FILE.csv|TRIAL", help="Where the candidate has its own."),
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Hold two rigs against each other on one print: time, and what holds it back on each."""
    from beadworth.replay import compare as held_against
    from beadworth.replay import on_rig

    first, second = load_rig(baseline, bench), load_rig(candidate, bench)
    fit = load_fit(capacity, bench)
    other = load_fit(candidate_capacity, bench) if candidate_capacity else fit
    with progress("Replaying on both"):
        found = held_against(
            on_rig(file, first, fit, fit_rig=_group(fit, first)),
            on_rig(file, second, other, fit_rig=_group(other, second)),
        )
    if json:
        emit_json(
            {
                "sentence": found.sentence,
                "saved_s": found.saved_s,
                "saved_fastest_s": found.saved_fastest_s,
                "baseline": on_rig_json(found.baseline),
                "candidate": on_rig_json(found.candidate),
            }
        )
        return
    show_comparison(found)


@app.command("survey")
def survey(
    folders: Annotated[list[Path], typer.Argument(help="Folders (searched through) or files.")],
    out: Annotated[Path, typer.Option(help="Table to write (Parquet); a rerun goes on with it.")],
    rig: RigOption = None,
    capacity: CapacityOption = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Dask scheduler; left out: processes here."),
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Replay thousands of prints; a broken file is a row that says why.

    The rows land in the table and on the bench every few seconds.
    """
    from beadworth.store import open_bench
    from beadworth.workflow import run_survey

    record, fit = _rig(rig, bench), load_fit(capacity, bench)
    with open_bench(bench) as store, progress("Replaying", unit="prints") as bar:
        task = bar.task_ids[0]
        done = run_survey(
            folders,
            out,
            record,
            fit,
            fit_rig=_group(fit, record),
            cluster=cluster,
            bench=store,
            on_row=lambda count, total: bar.update(task, completed=count, total=total),
        )
    if json:
        emit_json(done)
    else:
        typer.echo(
            f"{done['prints']} prints, {done['resumed']} of them known before, "
            f"{done['broken']} broken: {out}"
        )
