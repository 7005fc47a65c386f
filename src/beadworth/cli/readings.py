"""Readings of ``beadworth trial``: weigh, correct and void them; import a table, export one."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, Next, command, to_look_at
from beadworth.cli.options import TrialArgument, read_bytes

if TYPE_CHECKING:
    from beadworth.workflow import Weighing

TareOption = Annotated[str | None, typer.Option(help="Tare, g; the mass is then gross.")]
DiameterOption = Annotated[
    float | None, typer.Option(help="Filament diameter measured on this coupon's feed, mm.")
]


def add_to(app: typer.Typer) -> None:
    """Put the commands on the trial noun."""
    command(app, "weigh", "trial weigh how-fast-1", "trial weigh how-fast-1 A07 1.784",
            'trial weigh how-fast-1 --balance "My balance" --hands-free')(weigh)  # fmt: skip
    command(app, "correct", 'trial correct 12 1.779 --reason "a hair on the pan"')(correct)
    command(app, "void", 'trial void 12 --reason "snipped short"')(void)
    command(app, "import", 'trial import readings.csv --question "How far does it go?"')(import_)
    command(app, "export", "trial export how-fast-1")(export)


def weigh(
    call: Call,
    trial: TrialArgument,
    coupon: Annotated[str | None, typer.Argument(help="Coupon; left out: all in turn.")] = None,
    mass: Annotated[str | None, typer.Argument(metavar="[MASS_G]", help="Mass, g.")] = None,
    tare: TareOption = None,
    diameter_mm: DiameterOption = None,
    note: Annotated[str | None, typer.Option(help="A note stored with the reading.")] = None,
    balance: Annotated[
        str | None, typer.Option(help="Balance by cable: Enter alone takes its reading.")
    ] = None,
    port: Annotated[
        str | None, typer.Option(help="The balance's port, where it is another one today.")
    ] = None,
    hands_free: Annotated[
        bool, typer.Option("--hands-free", help="Piece on, at rest, off, the next: no keys.")
    ] = False,
) -> Answer:
    """Record a weighing (or all that are missing, one after the other); answers at once."""
    from beadworth.cli.weighing import Entering, mass_of, weigh_in_turn
    from beadworth.workflow import record_weighing

    def record(coupon: str, typed: str) -> Weighing:
        return record_weighing(
            call.bench, trial, coupon, typed, tare=tare, diameter_mm=diameter_mm, note=note
        )

    with Entering.opened(call, balance, port, hands_free=hands_free) as entering:
        if coupon is not None:
            answer = record(coupon, mass if mass is not None else mass_of(entering, coupon))
            return Answer(answer, [_sentence(answer)], _next_weighing(call, trial))
        answers = weigh_in_turn(entering, _waiting(call, trial), record, _sentence)
    return Answer({"readings": answers}, (), _next_weighing(call, trial))


def _waiting(call: Call, trial: str) -> list[Any]:
    """The coupons of a trial without a reading that counts."""
    done = {reading.coupon for reading in call.bench.current_readings(trial)}
    return [c for c in call.bench.coupons(trial) if c.coupon not in done]


def _next_weighing(call: Call, trial: str) -> Next:
    """The coupons that wait, or the ceilings once none does."""
    waiting = len(_waiting(call, trial))
    if waiting:
        return Next(("trial", "weigh", trial), f"for the {waiting} that wait")
    return Next(("capacity", "fit", trial))


def _sentence(answer: Weighing) -> str:
    return f"Reading {answer.reading_id}: {answer.sentence}"


def correct(
    call: Call,
    reading: Annotated[int, typer.Argument(help="Number of the reading it takes the place of.")],
    mass: Annotated[str, typer.Argument(metavar="MASS_G", help="The new mass, g.")],
    tare: TareOption = None,
    diameter_mm: DiameterOption = None,
    reason: Annotated[str, typer.Option(help="Why it was weighed again.")] = "weighed again",
) -> Answer:
    """Put a new weighing in a reading's place; the old one stays in the history."""
    from beadworth.trial import parse_mass

    stored = call.bench.supersede_reading(
        reading,
        parse_mass(mass),
        parse_mass(tare, "tare", zero=True) if tare else None,
        diameter_mm,
        reason=reason,
    )
    return Answer(
        {"reading_id": stored.reading_id, "supersedes": reading, "reason": reason},
        [f"Reading {stored.reading_id} takes the place of reading {reading}."],
    )


def void(
    call: Call,
    reading: Annotated[int, typer.Argument(help="Number of the reading.")],
    reason: Annotated[str, typer.Option(help="Why it does not count; stored in the history.")],
) -> Answer:
    """Void a reading: it stays in the history, marked, with the reason."""
    stored = call.bench.void_reading(reading, reason)
    coupon = stored.reading.coupon
    again = Next(("trial", "weigh", stored.trial, coupon or ""), "if it is weighed or made again")
    return Answer(
        {"reading_id": stored.reading_id, "state": stored.state, "reason": reason},
        [f"Reading {stored.reading_id} is voided: {reason}"],
        again if coupon else None,
    )


def import_(
    call: Call,
    file: Annotated[Path, typer.Argument(help="Readings table (CSV).")],
    trial: Annotated[
        str | None, typer.Option(help="Trial the coupons belong to; left out: a new one.")
    ] = None,
    question: Annotated[
        str | None, typer.Option(help="Question of the new trial; left out: the file's name.")
    ] = None,
) -> Answer:
    """Import a readings table, whole or not at all."""
    from beadworth.workflow import import_readings

    data = read_bytes(file)
    trial, count = import_readings(call.bench, data, file.name, trial=trial, question=question)
    return Answer(
        {"trial": trial, "readings": count},
        [f"{count} readings imported into trial {trial}."],
        Next(("capacity", "fit", trial)),
    )


def export(call: Call, trial: TrialArgument) -> Answer:
    """Print the readings that count as CSV (or JSON)."""
    from beadworth.trial import write_readings_csv
    from beadworth.workflow import look_at_readings

    readings = call.bench.current_readings(trial)
    for line in to_look_at(look_at_readings(readings)):
        print(line, file=sys.stderr)
    return Answer({"readings": readings}, raw=write_readings_csv(readings))
