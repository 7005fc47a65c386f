"""``beadworth print``: replay a print, retime it, compare two rigs on it, survey many."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, command, notes, progress
from beadworth.cli.load import load_fit, load_material, load_rig
from beadworth.cli.table import Table
from beadworth.core import RESERVE
from beadworth.text import count, duration, percent

if TYPE_CHECKING:
    from beadworth.gcode import GcodeSummary
    from beadworth.replay import OnRig, Replay, Retiming, WhatIf
    from beadworth.workflow import RigInputs

app = typer.Typer(help="Prints: what a print file asks of the machine, and a copy that asks less.")

WAYS = ("as written", "own limits", "fastest")
OTHER_HOT_END = (
    "More than a fifth of its extruding moves had to slow: it looks made for another hot end. "
    "Preparing it anew with a cap on flow serves better."
)
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
    return Answer(found, _describe_replay(found))


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
        _describe_retiming(made, after, written),
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
        _describe_comparison(found),
    )


@command(app, "survey", "print survey prints --rig my-rig.toml --out survey.parquet")
def survey(
    call: Call,
    folders: Annotated[list[Path], typer.Argument(help="Folders (searched through) or files.")],
    out: Annotated[Path, typer.Option(help="Table to write (Parquet); a rerun goes on with it.")],
    rig: RigOption = None,
    capacity: CapacityOption = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Dask scheduler; left out: processes here."),
    ] = None,
) -> Answer:
    """Replay thousands of prints; a broken file is a row that says why.

    The rows land in the table and on the bench every few seconds.
    """
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
    known = f"{count(done['prints'], 'print')}, {done['resumed']} of them known before"
    return Answer(done, [f"{known}, {done['broken']} broken: {out}"])


def _describe_retiming(made: Retiming, after: Replay, written: Path | None) -> Iterator[str]:
    """What was done to the feeds, and what to make of it."""
    if made.moves:
        yield (
            f"{made.moves} moves slower; {duration(after.time_s)} instead of "
            f"{duration(made.before.time_s)}. {after.verdict}"
        )
    else:
        yield f"Under the ceiling less the reserve already: nothing is changed. {after.verdict}"
    if made.other_hot_end:
        yield OTHER_HOT_END
    yield f"Written: {written}" if written else "Nothing was written."


def _describe_replay(found: Replay) -> Iterator[str | Table]:
    """The verdict first, then what the print asks for, and how its file was read."""
    yield found.verdict
    if found.summary.moves:
        yield from _describe_print(found)
    yield from _describe_file(found.summary)
    yield from notes(found.notes)


def _describe_print(found: Replay) -> Iterator[str | Table]:
    """Moves, flow, what holds it back, and where it is over the ceiling."""
    summary = found.summary
    layers = "continuous" if summary.layers is None else summary.layers
    yield (
        f"{summary.moves} moves, {layers} layers, "
        f"{summary.filament_net_mm / 1000:.2f} m of filament; at commanded speed all the way "
        f"{duration(found.commanded_s)}."
    )
    if found.sets_limits:
        yield (
            f"As written {duration(found.time_s)}; at the rig's own limits "
            f"{duration(found.time_at_rig_limits_s)}."
        )
    at = ", ".join(f"{celsius:g} °C" for celsius in found.temperatures_c) or "no temperature"
    yield (
        f"Flow: {found.flow.mean_mm3_s:.1f} mm³/s in the mean, 99 % of the time under "
        f"{found.flow.p99_mm3_s:.1f}; commanded: {at}."
    )
    if found.priming.moves:
        yield found.priming.sentence
    if found.mass_g is not None:
        yield f"It weighs {found.mass_g:.1f} g."
    if found.heater_w is not None and found.heater_max_w is not None:
        yield (
            f"Melting takes {found.heater_w:.1f} W in the mean and {found.heater_max_w:.1f} W at "
            "the highest flow; standing losses come on top."
        )
    yield Table(
        "What holds it back",
        ("limit", "seconds"),
        [(name, round(s, 1)) for name, s in found.held_back_s.items() if s >= 0.05],
    )
    yield Table.of(
        "Limits in force", found.limits,
        {"limit": "name", "value": "value", "unit": "unit", "from": "origin"},
    )  # fmt: skip
    if found.stretches:
        yield Table.of(
            "Stretches over the ceiling",
            found.stretches[:20],
            {
                "kind": "kind", "line": "line", "layer": "layer",
                "z mm": lambda s: s.at_mm[2], "seconds": "asked_s", "wanted mm³/s": "asked_mm3_s",
                "ceiling": "ceiling_mm3_s",
                "loss %": lambda s: None if s.loss is None else s.loss * 100,
            },
        )  # fmt: skip
    if found.speed_factor is not None and found.speed_factor < 1:
        yield f"Uniform speed that stays under it: {percent(found.speed_factor, 0)}."
    if found.lowest_temperature_c is not None:
        yield (
            f"Lowest temperature at which it needs no change: {found.lowest_temperature_c:.0f} °C."
        )


def _describe_file(summary: GcodeSummary) -> Iterator[str]:
    """Unrecognised commands, problems, and other ways to read the file."""
    for word in summary.unknown_words[:10]:
        found_at = "once, in" if word.count == 1 else f"{word.count} times, first in"
        yield f"Unrecognised: {word.word}, {found_at} line {word.lines[0]}"
    for problem in summary.problems[:10]:
        yield f"Problem: {problem}"
    for reading in summary.readings:
        if reading.taken or reading.why:
            yield f"Reading: {reading.what}"
            continue
        yield (
            f"Read otherwise ({reading.what}) its filament changes by {percent(reading.change, 1)}."
        )


def _describe_comparison(found: WhatIf) -> Iterator[str | Table]:
    """The finding, then the seconds of both rigs by what holds the print back."""
    first, second = found.baseline, found.candidate
    yield found.sentence
    shares = [(on.share_written_s, on.share_s, on.share_fastest_s) for on in (first, second)]
    yield Table(
        "Seconds by what holds it back",
        ("limit", *(f"{on.rig}, {way}" for way in WAYS for on in (first, second))),
        [
            (name, *(round(share[name]) for pair in zip(*shares, strict=True) for share in pair))
            for name in first.share_s
        ],
    )  # fmt: skip


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
