"""What was replayed for a case as plain data, and back: so that prices move without a replay."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from beadworth.capacity import Difference, Span
from beadworth.core import to_mapping
from beadworth.worth.case import WorthCase
from beadworth.worth.estimate import Estimate
from beadworth.worth.model import Asked, PrintTimes
from beadworth.worth.replayed import currency_of
from beadworth.worth.times import RigTimes


def to_plain(asked: Asked) -> dict[str, Any]:
    """What was replayed, as plain data to be kept beside its case."""
    return {
        "prints": [asdict(times) for times in asked.prints],
        "parts": to_mapping(asked.parts),
        "currency": asked.currency,
        "differences": [asdict(difference) for difference in asked.differences],
        "mass_removed_g": None
        if asked.mass_removed_g is None
        else to_mapping(asked.mass_removed_g),
    }


def from_plain(case: WorthCase, data: dict[str, Any]) -> Asked:
    """A case with what was replayed for it before; prices and rates are the case's own."""
    spans = ("percent", "speed_mm_s", "money_per_mm3_s")
    removed = data["mass_removed_g"]
    return Asked(
        case,
        tuple(
            PrintTimes(
                item["name"], _times(item["baseline"]), _times(item["candidate"]),
                item["density_g_cm3"],
            )
            for item in data["prints"]
        ),
        case.cost.parts or Estimate(**data["parts"]),
        currency_of(case) or data["currency"],
        tuple(
            Difference(**{**row, **{name: Span(**row[name]) for name in spans}})
            for row in data["differences"]
        ),
        case.mass_removed_g or (None if removed is None else Estimate(**removed)),
    )  # fmt: skip


def reused(case: WorthCase, before: Asked) -> Asked | None:
    """A changed case with the times replayed for it before; None where they no longer hold."""
    old = before.case

    def replays(of: WorthCase) -> tuple[Any, ...]:
        uses = tuple((u.print, u.file, u.trial, u.material, u.called) for u in of.prints)
        return of.baseline, of.candidate, of.trial, of.candidate_trial, of.feeds, uses

    if replays(case) != replays(old):
        return None
    for mine, theirs in ((case.cost.parts, old.cost.parts), (case.currency, old.currency),
                         (case.mass_removed_g, old.mass_removed_g)):  # fmt: skip
        if mine is None and theirs is not None:  # it comes from the rig records then
            return None
    run = case.running
    if run.density_g_cm3 != old.running.density_g_cm3:
        return None
    weighs = run.filament_kg is not None and run.failed is not None
    if weighs and any(times.density_g_cm3 is None for times in before.prints):
        return None
    return from_plain(case, to_plain(before))


def _times(data: dict[str, Any]) -> RigTimes:
    return RigTimes(**{**data, "slowness": tuple(data["slowness"]), "notes": tuple(data["notes"])})
