"""``beadworth rig bringup``: the programs, the sums and the sheet that bring a rig up right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.cli.command import Answer, Call, command, notes, written
from beadworth.cli.load import is_record_file, load_material, load_rig
from beadworth.cli.options import RigArgument, parse_pairs, read_text
from beadworth.cli.table import Table
from beadworth.core import InputError, Place, write_file

if TYPE_CHECKING:
    from datetime import datetime

    from beadworth.bringup import BringUpResult
    from beadworth.rig import Rig
    from beadworth.workflow import BringUpWork

app = typer.Typer(
    help="Bring a rig up after a change: programs, measured moves, feed, squareness, heater, sheet."
)
KeepOption = Annotated[
    bool, typer.Option("--keep", help="Record the result with the rig, which must be on the bench.")
]
AxisName = Literal["x", "y", "z"]
ProgramKind = Literal["moves", "feed", "square", "heater"]


@command(app, "program", "rig bringup program my-rig.toml moves --axis x --out moves-x.gcode")
def program(
    call: Call,
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
) -> Answer:
    """Write the G-code that makes a measurement; refused where it would leave the rig's limits."""
    from beadworth.workflow import measurement_program

    record, polymer = load_rig(rig, call), load_material(material, call)
    text, cautions = measurement_program(record, kind, axis, polymer, temperature)
    write_file(out, text)
    return Answer(
        {"file": str(out), "lines": text.count("\n"), "cautions": list(cautions)},
        [*written(out), *(f"Caution: {caution}" for caution in cautions)],
    )


@command(app, "steps", "rig bringup steps my-rig.toml")
def steps(call: Call, rig: RigArgument) -> Answer:
    """Steps per mm of every axis and the extruder, from their mechanics."""
    from beadworth.workflow import fit_check

    record = load_rig(rig, call)
    found = [c for c in fit_check(record, record) if "steps per mm" in c.name]
    return Answer(
        {"steps": [
            {"name": c.name, "steps_per_mm": c.value, "set_to": c.limit, "verdict": c.verdict,
             "why": c.why} for c in found
        ]},
        [Table.of(
            f"Steps per mm of {record.name}",
            found,
            {"what": "name", "from mechanics": "value", "set to": "limit", "what to do": "why"},
        )],
    )  # fmt: skip


@command(app, "moves", "rig bringup moves my-rig.toml 30=30.1 75=75.2 150=150.3 --axis x")
def moves(
    call: Call,
    rig: RigArgument,
    readings: Annotated[
        list[str], typer.Argument(metavar="COMMANDED=MEASURED...", help="mm, e.g. 30=30.1 75=75.2")
    ],
    axis: Annotated[AxisName, typer.Option(help="Axis measured.")],
    reading_u: Annotated[
        float, typer.Option(metavar="MM", help="Standard uncertainty of one reading.")
    ] = 0.15,
    ruler_u: Annotated[
        float, typer.Option(metavar="SHARE", help="Relative uncertainty of the ruler's scale.")
    ] = 0.0005,
    steps_per_mm: Annotated[
        float | None, typer.Option(help="Set while measuring; left out: as the rig records.")
    ] = None,
    keep: KeepOption = False,
) -> Answer:
    """Zero and scale error of an axis from measured moves, and the steps they call for."""
    record = load_rig(rig, call)
    train = getattr(record.axes, axis)
    now = steps_per_mm if steps_per_mm is not None else train.steps_per_mm if train else None
    _check_known(now, f"axes.{axis}.steps_per_mm", record, " Or give --steps-per-mm.")
    parse_pairs(readings, "readings")
    given = {"readings": readings, "reading_u": reading_u, "ruler_u": ruler_u}
    inputs = given | {"axis": axis, "steps": now, "ruler_u": 100 * ruler_u}
    return _measured(call, record, "moves", inputs, given, keep)


@command(app, "feed", "rig bringup feed my-rig.toml --marks 100=97.0 --marks 100=97.1 --keep")
def feed(
    call: Call,
    rig: RigArgument,
    marks: Annotated[
        list[str], typer.Option(metavar="COMMANDED=FED", help="mm by mark and measure; repeat.")
    ],
    mass: Annotated[
        list[str] | None, typer.Option(metavar="COMMANDED=GRAMS", help="mm and g; repeat.")
    ] = None,
    density: Annotated[
        float, typer.Option(metavar="G/CM³", help="Density, where masses are given.")
    ] = 1.24,
    diameter: Annotated[
        float | None, typer.Option(metavar="MM", help="Measured mean; left out: nominal.")
    ] = None,
    reading_u: Annotated[float, typer.Option(metavar="MM", help="Of one fed length.")] = 0.3,
    mass_u: Annotated[float, typer.Option(metavar="G", help="Of one weighing.")] = 0.005,
    diameter_u: Annotated[float, typer.Option(metavar="MM", help="Of the diameter.")] = 0.02,
    density_u: Annotated[float, typer.Option(metavar="G/CM³", help="Of the density.")] = 0.01,
    keep: KeepOption = False,
) -> Answer:
    """Extruder feed from marks and from mass: do they agree, and which steps call for it?"""
    record = load_rig(rig, call)
    _check_known(record.extruder.steps_per_mm, "extruder.steps_per_mm", record)
    shared = {"density": density, "diameter": diameter or record.filament_diameter_mm,
              "reading_u": reading_u, "mass_u": mass_u, "diameter_u": diameter_u,
              "density_u": density_u}  # fmt: skip
    parse_pairs(marks, "--marks")
    parse_pairs(mass or [], "--mass")
    given = {"marks": marks, "masses": mass or [], **shared}
    return _measured(call, record, "feed", given, given, keep)


@command(app, "square", "rig bringup square my-rig.toml --sides 176=176 --diagonals 249.6=248.1")
def square(
    call: Call,
    rig: RigArgument,
    sides: Annotated[str, typer.Option(metavar="X=Y", help="Sides of the rectangle, mm.")],
    diagonals: Annotated[
        str, typer.Option(metavar="UP=DOWN", help="Front left to back right = the other, mm.")
    ],
    reading_u: Annotated[float, typer.Option(metavar="MM", help="Of one diagonal.")] = 0.3,
    keep: KeepOption = False,
) -> Answer:
    """Squareness of x and y from the diagonals of a rectangle."""
    ((x, y),) = parse_pairs([sides], "--sides")
    ((up, down),) = parse_pairs([diagonals], "--diagonals")
    given = {"sides": sides, "diagonals": diagonals, "reading_u": reading_u}
    inputs = {"x": x, "y": y, "up": up, "down": down, "reading_u": reading_u}
    return _measured(call, load_rig(rig, call), "square", inputs, given, keep)


@command(app, "heater", "rig bringup heater my-rig.toml heater-log.csv --full-output 255")
def heater(
    call: Call,
    rig: RigArgument,
    log: Annotated[Path, typer.Argument(help="Log (CSV: time_s, temperature_c, duty 0 to 1).")],
    room: Annotated[
        float | None, typer.Option(metavar="°C", help="Room; needed where the log starts warm.")
    ] = None,
    full_output: Annotated[
        float, typer.Option(help="What the controller calls full: 1, 100 or 255.")
    ] = 1.0,
    keep: KeepOption = False,
) -> Answer:
    """Heater model, standing loss, warming against watts and mass, and starting gains."""
    from beadworth.workflow import gains_lines

    record = load_rig(rig, call)
    inputs = {"room": room, "output": f"{full_output:g}"}
    work = _work(record, "heater", inputs, (read_text(log), str(log)))
    assert work.log is not None
    given = {"source": str(log), "output": f"{full_output:g}", "log": work.log.thinned()}
    _store(call, work, given, keep)
    found = work.result
    gains = [
        {"rule": line.gains.rule, "form": line.gains.form, "kc_per_k": line.gains.kc_per_k,
         "ti_s": line.gains.ti_s, "td_s": line.gains.td_s, "p_per_k": line.p,
         "i_per_k_s": line.i, "d_s_per_k": line.d}
        for line in gains_lines(found.gains, full_output)
    ]  # fmt: skip

    def describe() -> Iterator[str | Table]:
        yield from _findings(found)
        yield Table(
            f"Starting gains for output 0 to {full_output:g}, in K and s; P, I, D: parallel form",
            ("rule", "form", "Kc", "Ti", "Td", "P", "I", "D"),
            [tuple(g.values()) for g in gains],
        )
        yield from notes(work.not_done)

    parts = {"heater": found.heater, "loss": found.loss, "heat_up": found.heat_up}
    known = {name: part for name, part in parts.items() if part is not None}
    return Answer({**known, "gains": gains, "not_done": work.not_done}, describe())


@command(app, "sheet", "rig bringup sheet my-rig.toml --out sheet.html")
def sheet(
    call: Call,
    rig: RigArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.html", help="Page to write.")],
) -> Answer:
    """Write the bring-up sheet: one page with boxes to tick, on screen or on paper."""
    from beadworth.report import tokens_css
    from beadworth.workflow import rig_sheet_page

    record = load_rig(rig, call)
    page, titles = rig_sheet_page(record, _found_before(call, rig, record), tokens_css())
    write_file(out, page)
    return Answer({"file": str(out), "sections": titles}, written(out))


@command(app, "results", 'rig bringup results "My rig"')
def results(call: Call, rig: RigArgument) -> Answer:
    """List what bring-ups of a rig found, as recorded, newest first."""
    from beadworth.workflow import stored_bring_ups

    name = load_rig(rig, call).name
    stored = list(reversed(stored_bring_ups(call.bench, name)))

    def describe() -> Iterator[str | Table]:
        if not stored:
            yield f"Nothing recorded for {name} yet; --keep on moves, feed, square or heater does."
        for one in stored:
            yield from _findings(one.result, f"{one.number}, {one.at:%Y-%m-%d %H:%M} UTC: ")

    return Answer({"rig": name, "results": list(stored)}, describe())


@command(app, "apply", 'rig bringup apply "My rig"', "rig bringup apply my-rig.toml --number 3")
def apply(
    call: Call,
    rig: RigArgument,
    number: Annotated[
        int | None,
        typer.Option(metavar="N", help="One result; left out: the newest of every measurement."),
    ] = None,
) -> Answer:
    """Write recorded results into the rig's record, each value marked measured.

    A rig on the bench gets its next version; a TOML file is left alone and the changed record is
    printed.
    """
    from beadworth.core import to_toml
    from beadworth.rig import changed
    from beadworth.workflow import applied, apply_bring_up, pick_bring_up

    before = load_rig(rig, call)
    if is_record_file(rig):
        after = applied(before, pick_bring_up(call.bench, before.name, number))
        return Answer(after, raw=to_toml(after))
    after = apply_bring_up(call.bench, before.name, number)
    differences = changed(before, after)
    table = Table(f"{after.name}, next version", ("field", "before", "after"), differences)
    return Answer(after, [table])


def _check_known(steps: float | None, path: str, rig: Rig, otherwise: str = "") -> None:
    """Refuse where the steps per mm set while measuring are not known."""
    if steps is None:
        raise InputError(
            "the steps per mm set while measuring are not known.",
            Place.of_field(f"rig {rig.name}", path),
            remedy=f"Enter {path} in the rig's record.{otherwise}",
        )


def _work(
    rig: Rig, kind: str, inputs: Mapping[str, Any], log: tuple[str, str] | None = None
) -> BringUpWork:
    """What measurements of a rig come to."""
    from beadworth.core import from_mapping
    from beadworth.workflow import BRING_UP_INPUTS, work_out_bring_up

    given = {name: value for name, value in inputs.items() if value is not None}
    checked = from_mapping(BRING_UP_INPUTS[kind], given, f"rig bringup {kind}")
    return work_out_bring_up(rig, checked, log)


def _store(call: Call, work: BringUpWork, given: dict[str, Any], keep: bool) -> None:
    """Store a result with its rig where that is wanted."""
    if keep:
        from beadworth.workflow import store_bring_up

        store_bring_up(call.bench, work.result, given, work.not_done)


def _measured(
    call: Call, rig: Rig, kind: str, inputs: Mapping[str, Any], given: dict[str, Any], keep: bool
) -> Answer:
    """The answer to one measurement, stored with the rig where that is wanted."""
    work = _work(rig, kind, inputs)
    _store(call, work, given, keep)
    found = work.result
    part = {"moves": found.axes[0] if found.axes else None, "feed": found.feed}
    return Answer(part.get(kind, found.square), _findings(found))


def _findings(result: BringUpResult, before: str = "") -> Iterator[str | Table]:
    """What a bring-up found, each part with what to do; every ± is the 95 % one."""
    from beadworth.workflow import describe_result

    for finding in describe_result(result):
        yield Table(f"{before}{finding.title}", ("what", "value"), finding.rows)
        yield f"{finding.advice}\n"


def _found_before(call: Call, given: str, rig: Rig) -> list[tuple[datetime, BringUpResult]]:
    """What the bench holds of a rig on it; a rig in a file stands for itself."""
    if is_record_file(given):
        return []
    from beadworth.workflow import stored_bring_ups

    return [(one.at, one.result) for one in stored_bring_ups(call.bench, rig.name)]
