"""``beadworth ramp``: live weighing, a flow ramp into a cup on a balance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.capacity import describe_fit
from beadworth.cli.command import Answer, Call, Next, command, notes, progress, to_look_at, written
from beadworth.cli.load import load_material, load_rig
from beadworth.cli.options import LicenceOption, read_text
from beadworth.cli.table import Table
from beadworth.core import InputError, write_file
from beadworth.text import capital, percent

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.ramp import Check, LiveWeighing, RampSpec
    from beadworth.rig import Rig
    from beadworth.workflow import Ramp, RampReading

app = typer.Typer(help="Weigh live: a flow ramp into a cup on a balance.")

SpecArgument = Annotated[Path, typer.Argument(metavar="RAMP.toml", help="Ramp record.")]
RigOption = Annotated[
    str | None, typer.Option(help="Rig (TOML, or its name); left out: the ramp's own.")
]
MaterialOption = Annotated[
    str | None, typer.Option(help="Material, likewise; left out: the ramp's own.")
]


def loaded_ramp(
    call: Call, spec_file: Path, rig: str | None, material: str | None
) -> tuple[RampSpec, Rig, Material]:
    """A ramp record with the rig and the material it names, or others."""
    from beadworth.workflow import ramp_spec

    spec = ramp_spec(read_text(spec_file), spec_file.name)
    return spec, load_rig(rig or spec.rig, call), load_material(material or spec.material, call)


@command(
    app,
    "program",
    "ramp program ramp.toml --out ramp.gcode",
    "ramp program ramp.toml --first-minute --out first.gcode",
)
def program(
    call: Call,
    ramp: SpecArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.gcode", help="Program to write.")],
    first_minute: Annotated[
        bool, typer.Option("--first-minute", help="The first minute alone: what hangs and sways.")
    ] = False,
    rig: RigOption = None,
    material: MaterialOption = None,
) -> Answer:
    """Write the program of a flow ramp, for the printer's own storage; refused outside limits."""
    from beadworth.workflow import SIMULATED, make_ramp

    spec, record, polymer = loaded_ramp(call, ramp, rig, material)
    made = make_ramp(spec, record, polymer, first_minute=first_minute)
    write_file(out, made.text)
    told = {
        "file": str(out), "minutes": made.minutes, "trace_minutes": made.trace_minutes,
        "grams": made.grams, "filament_mm": made.filament_mm, "heap_ml": made.heap_ml,
        "highest_temperature_c": made.highest_temperature_c, "before": made.before,
        "cautions": made.cautions,
    }  # fmt: skip
    lines = [
        *written(out),
        f"About {made.minutes:.0f} min, {made.grams:.0f} g into the cup (about {made.heap_ml:.0f} "
        f"ml of strands), nozzle up to {made.highest_temperature_c:g} °C.",
        *(f"Before: {step}" for step in made.before),
        *(f"Caution: {caution}" for caution in made.cautions),
        *notes([SIMULATED]),
    ]
    after = ("ramp", "outlook", str(ramp), "--trace", "first.csv")
    done = ("ramp", "read", "trace.csv", str(ramp))
    return Answer(told, lines, Next(after if first_minute else done, "once it is recorded"))


@command(app, "outlook", "ramp outlook ramp.toml", "ramp outlook ramp.toml --trace first.csv")
def outlook(
    call: Call,
    ramp: SpecArgument,
    trace: Annotated[
        Path | None,
        typer.Option(metavar="FILE.csv", help="Trace of the first minute: what hangs and sways."),
    ] = None,
    wander: Annotated[
        float | None,
        typer.Option(help="Scatter of the filament along the spool, a fraction (default 0.006)."),
    ] = None,
    rig: RigOption = None,
    material: MaterialOption = None,
) -> Answer:
    """Say what one to five cycles cost and are expected to tell, before you run them."""
    from beadworth.workflow import SIMULATED, USUAL_NOISE, foresee_ramp

    spec, record, polymer = loaded_ramp(call, ramp, rig, material)
    with progress("Calculating"):
        noise, rows = foresee_ramp(
            spec, record, polymer, None if trace is None else read_text(trace), wander
        )
    table = Table.of(
        "Cycles at each temperature, and the expected width of a ceiling's interval",
        rows,
        {
            "cycles": "cycles",
            "min": lambda r: f"{r.minutes:.0f}",
            "g": lambda r: f"{r.grams:.0f}",
            "sharp knee mm³/s": lambda r: f"{r.sharp_mm3_s:.2f}",
            "soft knee mm³/s": lambda r: f"{r.soft_mm3_s:.2f}",
        },
    )
    hangs = (
        f"Nothing weighed yet: {USUAL_NOISE}."
        if noise is None
        else f"{noise.hang_mg:.1f} mg hang and sway, for {noise.hang_s:.0f} s."
    )
    lines: list[str | Table] = [
        table, hangs, "Heating and cooling come on top.", *notes([SIMULATED])
    ]  # fmt: skip
    return Answer(
        {"noise": noise, "outlook": rows},
        lines,
        Next(("ramp", "program", str(ramp), "--out", "ramp.gcode"), "with the cycles you choose"),
    )


@command(
    app,
    "read",
    "ramp read trace.csv ramp.toml",
    "ramp read trace.csv ramp.toml --store --note 'a strand missed the cup once'",
    "ramp read trace.csv ramp.toml --out readings.csv --package trace-1",
    "ramp read trace-1",
)
def read(
    call: Call,
    trace: Annotated[
        Path,
        typer.Argument(
            metavar="TRACE.csv", help="Columns time_s, mass_g and perhaps stable; or a package."
        ),
    ],
    ramp: Annotated[
        Path | None, typer.Argument(metavar="RAMP.toml", help="Ramp record; a package has it.")
    ] = None,
    loss: Annotated[
        float | None, typer.Option(help="Loss at which ceilings are read (default 0.02).")
    ] = None,
    store: Annotated[
        bool, typer.Option("--store", help="Store it on the bench, also where a check failed.")
    ] = False,
    trial: Annotated[
        str | None, typer.Option(help="Trial to store it on; left out: a new one.")
    ] = None,
    note: Annotated[str, typer.Option(help="What you saw, stored with it.")] = "",
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Write the readings as a table.")
    ] = None,
    package: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Write trace, records and answer as an open data package, also where a check "
            "failed: to keep, or to send.",
        ),
    ] = None,
    licence: LicenceOption = None,
    rig: RigOption = None,
    material: MaterialOption = None,
) -> Answer:
    """Read a balance's trace: checks, delivery at every flow, ceilings with their intervals.

    Where a check fails, no ceiling is read; store it all the same, it says what happened.
    """
    from beadworth.workflow import (
        SIMULATED,
        Ramp,
        fit_to_json,
        keep_trace,
        live_line,
        look_at_records,
        read_ramp,
        store_trace,
    )

    if trace.is_dir() or trace.suffix.lower() == ".zip":
        asked, table = _packaged(trace)
    else:
        if ramp is None:
            raise InputError("no ramp record is given.", "RAMP.toml",
                             remedy="Name the one that the program was made from.")  # fmt: skip
        asked, table = Ramp(*loaded_ramp(call, ramp, rig, material)), read_text(trace)
    with progress("Reading the trace"):
        found = read_ramp(
            asked.spec, table, trace.name, rig=asked.rig, material=asked.material, loss=loss,
            sections=asked.sections,
        )  # fmt: skip
    weighing = found.weighing
    sent = (("rig", asked.rig), ("material", asked.material)) if package is not None else ()
    seen = look_at_records(*sent)
    data: dict[str, Any] = {
        "usable": weighing.usable, "checks": weighing.checks, "noise": weighing.noise,
        "filament_wander": weighing.wander, "minutes": weighing.minutes, "grams": weighing.grams,
        "readings": weighing.readings, "joint_errors": weighing.joint,
        "fit": fit_to_json(found.fit) if found.fit else None, "note": SIMULATED, "look_at": seen,
    }  # fmt: skip
    if out is not None:
        write_file(out, found.table)
    if package is not None:
        keep_trace(found, asked, package, licence)
    files = [file for file in (out, package) if file is not None]
    lines = [*to_look_at(seen), *written(*files), *_describe(found), *notes([SIMULATED])]
    if not (store or trial):
        return Answer(data, lines)
    one = store_trace(call.bench, asked, table, trace.name, trial=trial, note=note)
    data["stored"] = live_line(one)
    lines.append(f"Stored as live weighing {one.number} of trial {one.trial}: {one.standing}.")
    return Answer(data, lines, Next(("ramp", "show", str(one.number))))


def _packaged(source: Path) -> tuple[Ramp, str]:
    from beadworth.workflow import read_kept, read_package_files

    found = read_kept(read_package_files(source), source.name)
    if len(found) > 1:
        raise InputError(
            f"{len(found)} live weighings are in this package.", source.name, len(found),
            "Import it (beadworth package import); its ceilings are read from all of them.",
        )  # fmt: skip
    return found[0]


def _describe(found: RampReading) -> Iterator[str | Table]:
    weighing = found.weighing
    yield f"{weighing.minutes:.0f} min, {weighing.grams:.1f} g. " + _noise_words(weighing)
    yield checks_table(weighing.checks)
    for check in weighing.checks:
        if check.remedy:
            yield f"{capital(check.name)}: {check.remedy}"
    if found.fit is None:
        yield "A check failed, so no ceiling is read. Keep the trace."
    else:
        yield from describe_fit(found.fit, [])


def checks_table(checks: Sequence[Check]) -> Table:
    """Checks of a trace as a table."""
    return Table.of("Checks", checks, {"check": "name", "": "verdict", "found": "found"})


def _noise_words(weighing: LiveWeighing) -> str:
    return (
        f"{weighing.noise.hang_mg:.1f} mg hang and sway; the filament wanders by "
        f"{percent(weighing.wander)} along the spool."
    )
