"""What was replayed for a case as plain data, and back: so that prices move without a replay."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from beadworth.capacity import Difference
from beadworth.core import from_json, to_json
from beadworth.worth.case import WorthCase
from beadworth.worth.estimate import Estimate
from beadworth.worth.model import PrintTimes, WorthRequest
from beadworth.worth.replayed import currency_of


@dataclass(frozen=True)
class _Replayed:
    """What is stored beside a case."""

    prints: tuple[PrintTimes, ...]
    parts: Estimate
    currency: str
    differences: tuple[Difference, ...]
    mass_removed_g: Estimate | None


def to_plain(asked: WorthRequest) -> dict[str, Any]:
    """What was replayed, as plain data to be stored beside its case."""
    stored = _Replayed(
        asked.prints, asked.parts, asked.currency, asked.differences, asked.mass_removed_g
    )
    data: dict[str, Any] = to_json(stored)
    return data


def from_plain(case: WorthCase, data: dict[str, Any]) -> WorthRequest:
    """A case with what was replayed for it before; prices and rates are the case's own."""
    stored = from_json(_Replayed, data, "stored case")
    return WorthRequest(
        case,
        stored.prints,
        case.cost.parts or stored.parts,
        currency_of(case) or stored.currency,
        stored.differences,
        case.mass_removed_g or stored.mass_removed_g,
    )


def reused(case: WorthCase, before: WorthRequest) -> WorthRequest | None:
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
