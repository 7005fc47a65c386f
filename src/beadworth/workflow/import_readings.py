"""A readings table taken into a trial, or as a trial of its own: what the bench knows checks it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from beadworth.trial import Reading, decode, read_readings_csv

if TYPE_CHECKING:
    from beadworth.store import Bench


def read_table(bench: Bench, table: str | bytes, source: str, trial: str | None) -> list[Reading]:
    """Read a table against the trial's plan, rigs and material, as far as the bench knows them.

    Raises
    ------
    NotFoundError
        No such trial.
    ReadingsError
        Every fault of the table, all at once.
    """
    text = decode(table, source) if isinstance(table, bytes) else table
    plan = None
    if trial is not None and (plan := bench.trial(trial).plan) is not None:
        plan = replace(plan, coupons=tuple(bench.coupons(trial)))
    return read_readings_csv(
        text,
        source,
        plan,
        rigs={rig.name: rig for rig in bench.rigs()},
        materials={material.name: material for material in bench.materials()},
    )


def take_table(
    bench: Bench,
    table: str | bytes,
    source: str,
    *,
    trial: str | None = None,
    question: str | None = None,
) -> tuple[str, int]:
    """Take a table in, whole or not at all; returns the trial's id and the count of readings."""
    readings = read_table(bench, table, source, trial)
    if trial is None:
        asked = question or f"What do the readings of {source} say?"
        return bench.create_trial_from_readings(asked, readings, source).id, len(readings)
    bench.import_readings(trial, readings, source)
    return trial, len(readings)
