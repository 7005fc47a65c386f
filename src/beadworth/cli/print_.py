"""``beadworth print``: replay a print, retime it, hold two rigs against each other, survey many."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.load import load_material, load_rig
from beadworth.cli.output import (
    BenchOption,
    JsonOption,
    emit_json,
    print_table,
    progress,
    read_text,
)

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.replay import OnRig, Replay
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


def _fit(source: str | None, bench: str | None) -> Fit | None:
    if source is None:
        return None
    if source.endswith(".json"):
        import json

        from beadworth.capacity import Fit
        from beadworth.errors import InputError, Problem

        try:
            return Fit.from_json(json.loads(read_text(Path(source))))
        except json.JSONDecodeError as error:
            raise InputError(
                Problem(f"this is not JSON: {error}.", source,
                        remedy="Give what `beadworth capacity fit --json` printed.")
            ) from None  # fmt: skip
    from beadworth.cli.capacity import fit_of

    return fit_of(source, None, bench)


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

    record, fit = _rig(rig, bench), _fit(capacity, bench)
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
        _show(found)


def _size(file: Path) -> int | None:
    return file.stat().st_size if file.is_file() and file.suffix != ".gz" else None


def _show(found: Replay) -> None:
    from beadworth.replay.words import duration

    typer.echo(found.verdict)
    summary = found.summary
    typer.echo(
        f"{summary.moves} moves, {summary.layers or 'continuous'} layers, "
        f"{summary.filament_net_mm / 1000:.2f} m of filament; at commanded speed all the way "
        f"{duration(found.commanded_s)}."
    )
    at = ", ".join(f"{celsius:g} °C" for celsius in found.temperatures_c) or "no temperature"
    typer.echo(
        f"Flow: {found.flow.mean_mm3_s:.1f} mm³/s in the mean, 99 % of the time under "
        f"{found.flow.p99_mm3_s:.1f}; commanded: {at}."
    )
    if found.mass_g is not None:
        typer.echo(f"It weighs {found.mass_g:.1f} g.")
    if found.heater_w is not None and found.heater_max_w is not None:
        typer.echo(
            f"Melting takes {found.heater_w:.1f} W in the mean and {found.heater_max_w:.1f} W at "
            "the highest flow; standing losses come on top."
        )
    print_table(
        "What holds it back",
        ("limit", "seconds"),
        [(name, round(s, 1)) for name, s in found.held_back_s.items() if s >= 0.05],
    )
    if found.stretches:
        print_table(
            "Stretches over the ceiling",
            ("kind", "line", "layer", "z mm", "seconds", "asked mm³/s", "ceiling", "loss %"),
            [
                (
                    s.kind,
                    s.line,
                    s.layer,
                    s.at_mm[2],
                    s.asked_s,
                    s.asked_mm3_s,
                    s.ceiling_mm3_s,
                    s.loss * 100 if s.loss is not None else None,
                )
                for s in found.stretches[:20]
            ],
        )
    if found.speed_factor is not None and found.speed_factor < 1:
        typer.echo(f"Uniform speed that stays under it: {found.speed_factor:.0%}.")
    if found.lowest_temperature_c is not None:
        typer.echo(
            f"Lowest temperature at which it needs no change: {found.lowest_temperature_c:.0f} °C."
        )
    for word in summary.unknown_words[:10]:
        typer.echo(f"Unknown: {word.word}, {word.count} times, first in line {word.lines[0]}")
    for problem in summary.problems[:10]:
        typer.echo(f"Problem: {problem}")
    for reading in summary.readings:
        typer.echo(f"Read otherwise ({reading.what}) its filament changes by {reading.change:.1%}.")
    for note in found.notes:
        typer.echo(f"Note: {note}")


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
    from beadworth.errors import ConflictError, Problem
    from beadworth.replay import check_copy
    from beadworth.replay import replay as replay_print
    from beadworth.replay import retime as retime_print

    record, fit = load_rig(rig, bench), _fit(capacity, bench)
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
        from beadworth.replay.words import duration

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
    fit = _fit(capacity, bench)
    other = _fit(candidate_capacity, bench) if candidate_capacity else fit
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
                "baseline": _on_rig_json(found.baseline),
                "candidate": _on_rig_json(found.candidate),
            }
        )
        return
    typer.echo(found.sentence)
    print_table(
        "Seconds by what holds it back",
        ("limit", f"{first.name}, as written", f"{second.name}, as written",
         f"{first.name}, fastest", f"{second.name}, fastest"),
        [
            (
                name,
                round(found.baseline.share_s[name]),
                round(found.candidate.share_s[name]),
                round(found.baseline.share_fastest_s[name]),
                round(found.candidate.share_fastest_s[name]),
            )
            for name in found.baseline.share_s
        ],
    )  # fmt: skip


def _on_rig_json(found: OnRig) -> dict[str, Any]:
    return {
        "rig": found.rig,
        "time_as_commanded_s": found.as_commanded.time_s,
        "time_under_ceiling_s": found.under_ceiling.time_s,
        "time_fastest_s": found.fastest.time_s,
        "share_s": found.share_s,
        "share_fastest_s": found.share_fastest_s,
    }


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
    from beadworth.bench import open_bench
    from beadworth.bench.survey import run_survey

    record, fit = _rig(rig, bench), _fit(capacity, bench)
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
