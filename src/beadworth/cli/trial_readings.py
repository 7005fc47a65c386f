"""Readings of ``beadworth trial``: weigh, correct and void them, take a table in, give one out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json, next_step, read_bytes

if TYPE_CHECKING:
    from beadworth.store import Bench

TrialArgument = Annotated[str, typer.Argument(help="Trial id, as `trial list` shows it.")]


def add_to(app: typer.Typer) -> None:
    """Put the commands on the trial noun."""
    for name, command in (
        ("weigh", weigh), ("correct", correct), ("void", void), ("import", import_),
        ("export", export),
    ):  # fmt: skip
        app.command(name)(command)


def weigh(
    trial: TrialArgument,
    coupon: Annotated[str | None, typer.Argument(help="Coupon; left out: all in turn.")] = None,
    mass: Annotated[str | None, typer.Argument(metavar="[MASS_G]", help="Mass, g.")] = None,
    tare: Annotated[str | None, typer.Option(help="Tare, g; the mass is then gross.")] = None,
    diameter_mm: Annotated[
        float | None, typer.Option(help="Filament diameter measured on this coupon's feed, mm.")
    ] = None,
    note: Annotated[str | None, typer.Option(help="A note kept with the reading.")] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Enter a weighing (or all that are missing, one after the other); answers at once."""
    from beadworth.core import BeadworthError
    from beadworth.store import open_bench
    from beadworth.trial import parse_mass

    with open_bench(bench) as store:
        if coupon is not None:
            typed = mass if mass is not None else typer.prompt(f"{coupon} mass, g")
            answer = _weigh_one(store, trial, coupon, typed, tare, diameter_mm, note)
            if json:
                emit_json(answer)
            else:
                _say_answer(answer)
                _say_next(store, trial, bench)
            return
        done = {reading.coupon for reading in store.current_readings(trial)}
        for waiting in [c for c in store.coupons(trial) if c.coupon not in done]:
            label = (
                f"{waiting.coupon}  {waiting.rig}  {waiting.temperature_c:g} °C  "
                f"{waiting.flow_mm3_s:g} mm³/s  mass, g (Enter alone stops)"
            )
            while typed := typer.prompt(label, default="", show_default=False):
                try:
                    parse_mass(typed)
                    _say_answer(_weigh_one(store, trial, waiting.coupon, typed, tare, None, note))
                    break
                except BeadworthError as error:
                    typer.echo(str(error), err=True)
            if not typed:
                break
        _say_next(store, trial, bench)


def _weigh_one(
    store: Bench,
    trial: str,
    coupon: str,
    typed: str,
    tare: str | None,
    diameter_mm: float | None,
    note: str | None,
) -> dict[str, Any]:
    from beadworth.workflow import weigh_in

    return weigh_in(store, trial, coupon, typed, tare=tare, diameter_mm=diameter_mm, note=note)


def _say_next(store: Bench, trial: str, bench: str | None) -> None:
    """The next command: the coupons that wait, or the ceilings once none does."""
    done = {reading.coupon for reading in store.current_readings(trial)}
    waiting = sum(c.coupon not in done for c in store.coupons(trial))
    if waiting:
        next_step(f"trial weigh {trial}", bench, f"for the {waiting} that wait")
    else:
        next_step(f"capacity fit {trial}", bench)


def _say_answer(answer: dict[str, Any]) -> None:
    typer.echo(f"Reading {answer['reading_id']}: {answer['sentence']}")


def correct(
    reading: Annotated[int, typer.Argument(help="Number of the reading it takes the place of.")],
    mass: Annotated[str, typer.Argument(metavar="MASS_G", help="The new mass, g.")],
    tare: Annotated[str | None, typer.Option(help="Tare, g; the mass is then gross.")] = None,
    diameter_mm: Annotated[
        float | None, typer.Option(help="Filament diameter measured on this coupon's feed, mm.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why it was weighed again.")] = "weighed again",
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Put a new weighing in a reading's place; the old one stays in the history."""
    from beadworth.store import open_bench
    from beadworth.trial import parse_mass

    with open_bench(bench) as store:
        stored = store.supersede_reading(
            reading,
            parse_mass(mass),
            parse_mass(tare, "tare", zero=True) if tare else None,
            diameter_mm,
            reason=reason,
        )
    if json:
        emit_json({"reading_id": stored.reading_id, "supersedes": reading, "reason": reason})
    else:
        typer.echo(f"Reading {stored.reading_id} takes the place of reading {reading}.")


def void(
    reading: Annotated[int, typer.Argument(help="Number of the reading.")],
    reason: Annotated[str, typer.Option(help="Why it does not count; kept in the history.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Void a reading: it stays in the history, marked, with the reason."""
    from beadworth.store import open_bench

    with open_bench(bench) as store:
        stored = store.void_reading(reading, reason)
    if json:
        emit_json({"reading_id": stored.reading_id, "state": stored.state, "reason": reason})
    else:
        typer.echo(f"Reading {stored.reading_id} is void: {reason}")
        if stored.reading.coupon:
            next_step(
                f"trial weigh {stored.trial} {stored.reading.coupon}",
                "if it is weighed or made again",
            )


def import_(
    file: Annotated[Path, typer.Argument(help="Readings table (CSV).")],
    trial: Annotated[
        str | None, typer.Option(help="Trial it belongs to; left out: a trial of its own.")
    ] = None,
    question: Annotated[str | None, typer.Option(help="Question of the new trial.")] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Take in a readings table: all of it or, with every fault named, nothing."""
    from beadworth.store import open_bench
    from beadworth.workflow import take_table

    table = read_bytes(file)
    with open_bench(bench) as store:
        trial, count = take_table(store, table, file.name, trial=trial, question=question)
    if json:
        emit_json({"trial": trial, "readings": count})
    else:
        typer.echo(f"{count} readings taken into trial {trial}.")
        next_step(f"capacity fit {trial}", bench)


def export(trial: TrialArgument, bench: BenchOption = None, json: JsonOption = False) -> None:
    """Print the readings that count as CSV (or JSON)."""
    from dataclasses import asdict

    from beadworth.store import open_bench
    from beadworth.trial import write_readings_csv

    with open_bench(bench) as store:
        readings = store.current_readings(trial)
    if json:
        emit_json({"readings": [asdict(reading) for reading in readings]})
    else:
        typer.echo(write_readings_csv(readings), nl=False)
