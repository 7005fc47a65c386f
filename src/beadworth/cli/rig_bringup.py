"""``beadworth rig bringup``: the programs, the sums and the sheet that bring a rig up right."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.load import load_rig
from beadworth.cli.output import BenchOption, JsonOption, emit_json, print_table, read_text
from beadworth.cli.rig_bringup_kept import (
    AxisName,
    KeepOption,
    RigArgument,
    add_to,
    keep_result,
    show_findings,
)
from beadworth.core import InputError, Problem

if TYPE_CHECKING:
    from beadworth.bringup import BringUpResult, Gains
    from beadworth.core import Record
    from beadworth.rig import Rig

app = typer.Typer(
    help="Bring a rig up after a change: programs, measured moves, feed, squareness, heater, sheet."
)
add_to(app)


@app.command("steps")
def steps(rig: RigArgument, bench: BenchOption = None, json: JsonOption = False) -> None:
    """Steps per mm of every axis and the extruder, from their mechanics."""
    from beadworth.fit import fit_check

    record = load_rig(rig, bench)
    found = [c for c in fit_check(record, record) if "steps per mm" in c.name]
    if json:
        emit_json({"steps": [
            {"name": c.name, "steps_per_mm": c.value, "set_to": c.limit, "verdict": c.verdict,
             "why": c.why} for c in found
        ]})  # fmt: skip
        return
    print_table(
        f"Steps per mm of {record.name}",
        ("what", "from mechanics", "set to", "what to do"),
        [(c.name, c.value, c.limit, c.why) for c in found],
    )


@app.command("moves")
def moves(
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
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Zero and scale error of an axis from measured moves, and the steps they call for."""
    from beadworth.bringup import move_correction

    record = load_rig(rig, bench)
    train = getattr(record.axes, axis)
    now = steps_per_mm if steps_per_mm is not None else train.steps_per_mm if train else None
    commanded, measured = pairs(readings, "readings")
    found = move_correction(
        axis,
        commanded,
        measured,
        steps_per_mm=_set(now, f"axes.{axis}.steps_per_mm", record, " Or give --steps-per-mm."),
        reading_u_mm=reading_u,
        ruler_u_share=ruler_u,
    )
    given = {"readings": readings, "reading_u": reading_u, "ruler_u": ruler_u}
    result = keep_result(record, {"axes": (found,)}, given, keep, bench)
    _answer(found, result, json)


@app.command("feed")
def feed(
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
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Extruder feed from marks and from mass: do they agree, and which steps call for it?"""
    from beadworth.bringup import feed_agreement, feed_by_marks, feed_by_mass

    record = load_rig(rig, bench)
    by_marks = feed_by_marks(*pairs(marks, "--marks"), reading_u_mm=reading_u)
    by_mass = None
    if mass:
        by_mass = feed_by_mass(
            *pairs(mass, "--mass"),
            diameter_mm=diameter or record.filament_diameter_mm,
            density_g_cm3=density,
            mass_u_g=mass_u,
            diameter_u_mm=diameter_u,
            density_u_g_cm3=density_u,
        )
    now = _set(record.extruder.steps_per_mm, "extruder.steps_per_mm", record)
    found = feed_agreement(by_marks, by_mass, steps_per_mm=now)
    given = {
        "marks": marks,
        "masses": mass or [],
        "density": density,
        "diameter": diameter or record.filament_diameter_mm,
        "reading_u": reading_u,
        "mass_u": mass_u,
        "diameter_u": diameter_u,
        "density_u": density_u,
    }
    result = keep_result(record, {"feed": found}, given, keep, bench)
    _answer(found, result, json)


@app.command("square")
def square(
    rig: RigArgument,
    sides: Annotated[str, typer.Option(metavar="X=Y", help="Sides of the rectangle, mm.")],
    diagonals: Annotated[
        str, typer.Option(metavar="UP=DOWN", help="Front left to back right = the other, mm.")
    ],
    reading_u: Annotated[float, typer.Option(metavar="MM", help="Of one diagonal.")] = 0.3,
    keep: KeepOption = False,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Squareness of x and y from the diagonals of a rectangle."""
    from beadworth.bringup import squareness

    record = load_rig(rig, bench)
    (x,), (y,) = pairs([sides], "--sides")
    (up,), (down,) = pairs([diagonals], "--diagonals")
    found = squareness(x, y, up, down, reading_u)
    given = {"sides": sides, "diagonals": diagonals, "reading_u": reading_u}
    result = keep_result(record, {"square": found}, given, keep, bench)
    _answer(found, result, json)


@app.command("heater")
def heater(
    rig: RigArgument,
    log: Annotated[Path, typer.Argument(help="Log (CSV: time_s, temperature_c, duty 0 to 1).")],
    room: Annotated[
        float | None, typer.Option(metavar="°C", help="Room; needed where the log starts warm.")
    ] = None,
    full_output: Annotated[
        float, typer.Option(help="What the controller calls full: 1, 100 or 255.")
    ] = 1.0,
    keep: KeepOption = False,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Heater model, standing loss, warming against watts and mass, and starting gains."""
    from beadworth.bringup import heater_account, read_heater_log
    from beadworth.core import to_mapping

    record = load_rig(rig, bench)
    data = read_heater_log(read_text(log), str(log))
    account = heater_account(record, data, room_c=room)
    model, gains, missing = account.heater, account.gains, account.not_done
    found: dict[str, Any] = {"heater": model, "gains": gains}
    found |= {
        name: part
        for name, part in (("loss", account.loss), ("heat_up", account.heat_up))
        if part is not None
    }
    given = {"source": str(log), "output": f"{full_output:g}", "log": data.thinned()}
    result = keep_result(record, found, given, keep, bench, missing)
    if json:
        emit_json(
            {
                "heater": to_mapping(model),
                "gains": [_gains_json(g, full_output) for g in gains],
                **{k: to_mapping(found[k]) for k in ("loss", "heat_up") if k in found},
                "not_done": list(missing),
            }
        )
        return
    show_findings(result)
    print_table(
        f"Starting gains for output 0 to {full_output:g}, in K and s; P, I, D: parallel form",
        ("rule", "form", "Kc", "Ti", "Td", "P", "I", "D"),
        [tuple(_gains_json(g, full_output).values()) for g in gains],
    )
    for text in missing:
        typer.echo(f"Note: {text}")


def pairs(texts: Sequence[str], what: str) -> tuple[list[float], list[float]]:
    """Two lists from texts like ``30=30.1``.

    Raises
    ------
    InputError
        Every text that is no pair of numbers.
    """
    found, problems = [], []
    for text in texts:
        parts = text.split("=")
        try:
            first, second = (float(part) for part in parts)
            found.append((first, second))
        except ValueError:
            problems.append(
                Problem(f"{text!r} is no pair of numbers.", what, text, "Write it as 100=97.5.")
            )
    if problems:
        raise InputError(problems)
    return [a for a, _ in found], [b for _, b in found]


def _set(value: float | None, path: str, rig: Rig, otherwise: str = "") -> float:
    if value is None:
        raise InputError(
            Problem(
                "the steps per mm set while measuring are not known.",
                f"rig {rig.name}, field {path}",
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


def _answer(found: Record, result: BringUpResult, json: bool) -> None:
    from beadworth.core import to_mapping

    if json:
        emit_json(to_mapping(found))
    else:
        show_findings(result)
