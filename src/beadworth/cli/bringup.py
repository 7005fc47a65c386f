"""``beadworth rig bringup``: the programs, the sums and the sheet that bring a rig up right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.cli.command import Answer, Call, command, notes, written
from beadworth.cli.load import is_record_file, load_material, load_rig
from beadworth.cli.options import RigArgument, parse_pairs, read_text
from beadworth.cli.table import Table
from beadworth.core import InputError, Place, Problem

if TYPE_CHECKING:
    from datetime import datetime

    from beadworth.bringup import BringUpResult, Gains
    from beadworth.rig import Rig

app = typer.Typer(
    help="Bring a rig up after a change: programs, measured moves, feed, squareness, heater, sheet."
)
KeepOption = Annotated[
    bool, typer.Option("--keep", help="Keep the result with the rig, which must be on the bench.")
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
    from beadworth.bringup import programs

    record = load_rig(rig, call)
    if kind == "moves":
        text = programs.moves_program(record, axis)
    else:
        make = {"feed": programs.feed_program, "square": programs.square_program,
                "heater": programs.heater_program}[kind]  # fmt: skip
        text = make(record, load_material(material, call), temperature)
    out.write_text(text, encoding="ascii")
    cautions = programs.CAUTIONS if kind == "moves" else programs.HOT_CAUTIONS
    return Answer(
        {"file": str(out), "lines": text.count("\n"), "cautions": list(cautions)},
        [*written(out), *(f"Caution: {caution}" for caution in cautions)],
    )


@command(app, "steps", "rig bringup steps my-rig.toml")
def steps(call: Call, rig: RigArgument) -> Answer:
    """Steps per mm of every axis and the extruder, from their mechanics."""
    from beadworth.fit import fit_check

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
    from beadworth.bringup import move_correction

    record = load_rig(rig, call)
    train = getattr(record.axes, axis)
    now = steps_per_mm if steps_per_mm is not None else train.steps_per_mm if train else None
    commanded, measured = parse_pairs(readings, "readings")
    found = move_correction(
        axis,
        commanded,
        measured,
        steps_per_mm=_known(now, f"axes.{axis}.steps_per_mm", record, " Or give --steps-per-mm."),
        reading_u_mm=reading_u,
        ruler_u_share=ruler_u,
    )
    given = {"readings": readings, "reading_u": reading_u, "ruler_u": ruler_u}
    return _answer(call, record, {"axes": (found,)}, given, keep)


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
    from beadworth.bringup import feed_agreement, feed_by_marks, feed_by_mass

    record = load_rig(rig, call)
    by_marks = feed_by_marks(*parse_pairs(marks, "--marks"), reading_u_mm=reading_u)
    by_mass = None
    diameter = diameter or record.filament_diameter_mm
    if mass:
        by_mass = feed_by_mass(
            *parse_pairs(mass, "--mass"),
            diameter_mm=diameter,
            density_g_cm3=density,
            mass_u_g=mass_u,
            diameter_u_mm=diameter_u,
            density_u_g_cm3=density_u,
        )
    now = _known(record.extruder.steps_per_mm, "extruder.steps_per_mm", record)
    found = feed_agreement(by_marks, by_mass, steps_per_mm=now)
    given = {
        "marks": marks,
        "masses": mass or [],
        "density": density,
        "diameter": diameter,
        "reading_u": reading_u,
        "mass_u": mass_u,
        "diameter_u": diameter_u,
        "density_u": density_u,
    }
    return _answer(call, record, {"feed": found}, given, keep)


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
    from beadworth.bringup import squareness

    record = load_rig(rig, call)
    (x,), (y,) = parse_pairs([sides], "--sides")
    (up,), (down,) = parse_pairs([diagonals], "--diagonals")
    found = squareness(x, y, up, down, reading_u)
    given = {"sides": sides, "diagonals": diagonals, "reading_u": reading_u}
    return _answer(call, record, {"square": found}, given, keep)


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
    from beadworth.bringup import heater_account, read_heater_log
    from beadworth.core import to_mapping

    record = load_rig(rig, call)
    data = read_heater_log(read_text(log), str(log))
    account = heater_account(record, data, room_c=room)
    parts = {
        name: part
        for name, part in (("loss", account.loss), ("heat_up", account.heat_up))
        if part is not None
    }
    found = {"heater": account.heater, "gains": account.gains} | parts
    given = {"source": str(log), "output": f"{full_output:g}", "log": data.thinned()}
    result = _result(call, record, found, given, keep, account.not_done)
    gains = [_gains_json(g, full_output) for g in account.gains]

    def describe() -> Iterator[str | Table]:
        yield from _findings(result)
        yield Table(
            f"Starting gains for output 0 to {full_output:g}, in K and s; P, I, D: parallel form",
            ("rule", "form", "Kc", "Ti", "Td", "P", "I", "D"),
            [tuple(g.values()) for g in gains],
        )
        yield from notes(account.not_done)

    return Answer(
        {
            "heater": to_mapping(account.heater),
            "gains": gains,
            **{name: to_mapping(part) for name, part in parts.items()},
            "not_done": list(account.not_done),
        },
        describe(),
    )


@command(app, "sheet", "rig bringup sheet my-rig.toml --out sheet.html")
def sheet(
    call: Call,
    rig: RigArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.html", help="Page to write.")],
) -> Answer:
    """Write the bring-up sheet: one page with boxes to tick, on screen or on paper."""
    from beadworth.bringup import bring_up_sheet, sheet_page
    from beadworth.report import tokens_css

    record = load_rig(rig, call)
    made = bring_up_sheet(record, _found_before(call, rig, record))
    out.write_text(sheet_page(made, tokens_css()), encoding="utf-8")
    titles = [section.title for section in made.sections]
    return Answer({"file": str(out), "sections": titles}, written(out))


@command(app, "results", 'rig bringup results "My rig"')
def results(call: Call, rig: RigArgument) -> Answer:
    """List what bring-ups of a rig found and kept, newest first."""
    from beadworth.workflow import stored_bring_ups

    name = load_rig(rig, call).name
    stored = list(reversed(stored_bring_ups(call.bench, name)))

    def describe() -> Iterator[str | Table]:
        if not stored:
            yield f"Nothing kept with {name} yet; --keep on moves, feed, square or heater does."
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
    """Write kept results into the rig's record, each value marked measured.

    A rig on the bench gets its next version; a TOML file is left alone and the changed record is
    printed.
    """
    from beadworth.bringup import applied
    from beadworth.core import to_mapping, to_toml
    from beadworth.rig import changed
    from beadworth.workflow import apply_bring_up, pick_bring_up

    before = load_rig(rig, call)
    if is_record_file(rig):
        after = applied(before, pick_bring_up(call.bench, before.name, number))
        return Answer(to_mapping(after), raw=to_toml(after))
    after = apply_bring_up(call.bench, before.name, number)
    differences = changed(before, after)
    table = Table(f"{after.name}, next version", ("field", "before", "after"), differences)
    return Answer(to_mapping(after), [table])


def _known(value: float | None, path: str, rig: Rig, otherwise: str = "") -> float:
    if value is None:
        raise InputError(
            Problem(
                "the steps per mm set while measuring are not known.",
                Place.of_field(f"rig {rig.name}", path),
                remedy=f"Enter {path} in the rig's record.{otherwise}",
            )
        )
    return value


def _gains_json(gains: Gains, full_output: float) -> dict[str, Any]:
    from beadworth.bringup import parallel

    three = parallel(gains, full_output)
    return {
        "rule": gains.rule,
        "form": gains.form,
        "kc_per_k": gains.kc_per_k,
        "ti_s": gains.ti_s,
        "td_s": gains.td_s,
        "p_per_k": three.p_per_k,
        "i_per_k_s": three.i_per_k_s,
        "d_s_per_k": three.d_s_per_k,
    }


def _answer(
    call: Call, rig: Rig, found: dict[str, Any], given: dict[str, Any], keep: bool
) -> Answer:
    """The answer to one measurement, stored with the rig where that is wanted."""
    from beadworth.core import to_mapping

    result = _result(call, rig, found, given, keep)
    ((_, part),) = found.items()
    return Answer(to_mapping(part[0] if isinstance(part, tuple) else part), _findings(result))


def _result(
    call: Call,
    rig: Rig,
    found: dict[str, Any],
    given: dict[str, Any],
    keep: bool,
    not_done: Sequence[str] = (),
) -> BringUpResult:
    """A result of a rig, stored with it where that is wanted."""
    from beadworth.bringup import BringUpResult

    result = BringUpResult(rig=rig.name, **found)
    if keep:
        from beadworth.workflow import store_bring_up

        store_bring_up(call.bench, result, given, not_done)
    return result


def _findings(result: BringUpResult, before: str = "") -> Iterator[str | Table]:
    """What a bring-up found, each part with what to do; every ± is the 95 % one."""
    from beadworth.bringup import told_result

    for finding in told_result(result):
        yield Table(f"{before}{finding.title}", ("what", "value"), finding.rows)
        yield f"{finding.advice}\n"


def _found_before(call: Call, given: str, rig: Rig) -> list[tuple[datetime, BringUpResult]]:
    """What the bench holds of a rig on it; a rig in a file stands for itself."""
    if is_record_file(given):
        return []
    from beadworth.workflow import stored_bring_ups

    return [(one.at, one.result) for one in stored_bring_ups(call.bench, rig.name)]
