"""What the reader of a plan should know: why this size, what it misses, what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from beadworth.gcode import unknown_limits
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import percent
from beadworth.trial.planning.budget import MEASURED_U_MM
from beadworth.trial.planning.sizing import ASSUMED_BED, Size, best_size
from beadworth.trial.record import Budget, TrialSpec

WORTH_SAYING = 0.75
"""A change that needs at most this part of the time is named."""
FIRST_LOOK_U = 0.02
"""Standard uncertainty of loss at one setting that a first look can do with: next coupons,
placed where they tell most, narrow the ceiling afterwards."""
FIRST_LOOK_SHARE = 0.5
"""A first look that needs more of the time is not worth naming."""


def notes(
    spec: TrialSpec,
    rigs: Sequence[Rig],
    material: Material,
    *,
    size: Size,
    budget: Budget,
    lengths: Sequence[float],
) -> tuple[str, ...]:
    """The notes of a plan, the most important first."""
    said = [_target(spec, size, budget)]
    said += _first_look(spec, rigs, material, size, lengths)
    said += _help(spec, rigs, material, size=size, lengths=lengths)
    said += _cold(spec, material)
    said += [note for rig in rigs for note in _unknown(spec, rig)]
    if len(spec.flows_mm3_s) < 5:
        said.append(
            "Fewer than five flows: where the knee falls between two of them, the interval of the "
            "ceiling is about as wide as their distance. Next coupons can be added later."
        )
    if size.references == 1:
        said.append("One reference per block cannot show drift; two stand at its start and end.")
    return tuple(said)


def _target(spec: TrialSpec, size: Size, budget: Budget) -> str:
    """Whether the uncertainty asked for is met, and where it comes from."""
    largest: dict[str, float] = {}
    for row in budget.lines:
        name = row.source.rsplit(", ", 1)[0]
        largest[name] = largest.get(name, 0.0) + row.contribution**2
    source = max(largest, key=lambda name: largest[name])
    share = largest[source] / budget.combined_u**2
    counts = (
        f"{size.filament_mm:g} mm per coupon, {size.replicates} per setting and "
        f"{size.references} references per block"
    )
    fixed = all((spec.filament_mm, spec.replicates, spec.references_per_block))
    where = f"Largest source: {source}, {share * 100:.0f} % of the variance."
    if size.u > spec.loss_u:
        how = "as given" if fixed else "within a quarter of the best that the bounds allow"
        return (
            f"The standard uncertainty of loss at one setting is {percent(size.u, 2)}, "
            f"{percent(size.u - spec.loss_u, 2)} above the {percent(spec.loss_u, 2)} asked for, "
            f"with {counts}, {how}. {where}"
        )
    aim = percent(spec.loss_u, 2)
    chosen = "As given" if fixed else f"The quickest of the sizes that reach {aim}"
    return f"{chosen}: {counts} give {percent(size.u, 2)}. {where}"


def _help(
    spec: TrialSpec,
    rigs: Sequence[Rig],
    material: Material,
    *,
    size: Size,
    lengths: Sequence[float],
) -> list[str]:
    """Changes that would reach the target, or reach it in much less time, each with its price."""
    missed = size.u > spec.loss_u
    said = []
    for words, change in _changes(spec).items():
        other = best_size(spec.model_copy(update=change), rigs, material, lengths)
        price = (
            f"{other.filament_mm:g} mm, {other.replicates} per setting, {other.references} "
            f"references: {_cost(other)}"
        )
        price += f" in place of {_cost(size)}" if _cost(other) != _cost(size) else " as now"
        if missed and other.u <= spec.loss_u:
            said.append(f"{words} would reach {percent(spec.loss_u, 2)} ({price}).")
        elif missed and other.u < 0.9 * size.u:
            said.append(f"{words} would come to {percent(other.u, 2)} ({price}).")
        elif not missed and other.seconds < WORTH_SAYING * size.seconds:
            said.append(f"{words} would do it sooner ({price}).")
    return said


def _cost(size: Size) -> str:
    return f"{size.coupons} coupons and {size.seconds / 3600:.0f} h"


def _first_look(
    spec: TrialSpec, rigs: Sequence[Rig], material: Material, size: Size, lengths: Sequence[float]
) -> list[str]:
    """What a coarser trial would take, where the one asked for takes much longer."""
    if spec.loss_u >= FIRST_LOOK_U:
        return []
    look = best_size(spec.model_copy(update={"loss_u": FIRST_LOOK_U}), rigs, material, lengths)
    if look.u > FIRST_LOOK_U or look.seconds > FIRST_LOOK_SHARE * size.seconds:
        return []
    return [
        f"For a first look, {percent(FIRST_LOOK_U, 2)} asked for in place of "
        f"{percent(spec.loss_u, 2)} "
        f"takes {_cost(look)} in place of {_cost(size)}. Next coupons can be added to it, where "
        "they tell most."
    ]


def _changes(spec: TrialSpec) -> Mapping[str, dict[str, Any]]:
    """What could be done otherwise, as changes of the record."""
    changes: dict[str, dict[str, Any]] = {}
    measured = spec.spool.model_copy(update={"diameter_u_mm": MEASURED_U_MM})
    finer = spec.balance.model_copy(
        update={
            name: getattr(spec.balance, name) / 10
            for name in ("readability_g", "repeatability_g", "linearity_g")
        }
    )
    unmeasured = spec.spool.diameter_u_mm is None
    if unmeasured:
        changes[
            f"Measuring the filament diameter on each coupon's own feed to {MEASURED_U_MM:g} mm"
        ] = {"spool": measured}
    changes["A balance ten times finer"] = {"balance": finer}
    if unmeasured:
        changes["Both, the measured diameter and the finer balance,"] = {
            "spool": measured, "balance": finer,
        }  # fmt: skip
    if spec.replicates or spec.references_per_block:
        changes["Leaving the counts to be computed"] = {
            "replicates": None, "references_per_block": None,
        }  # fmt: skip
    return changes


def _cold(spec: TrialSpec, material: Material) -> list[str]:
    cold = [t for t in sorted(spec.temperatures_c) if t < material.min_temperature_c]
    if not cold:
        return []
    return [
        f"{', '.join(f'{t:g} °C' for t in cold)}: below the {material.min_temperature_c:g} °C that "
        f"{material.name} is used from. The drive may grind or stall; stay with the printer."
    ]


def _unknown(spec: TrialSpec, rig: Rig) -> list[str]:
    said = [f"{problem} Needed before the programs are written." for problem in unknown_limits(rig)]
    if rig.build_volume is None and spec.collect == "plate":
        bed = ASSUMED_BED
        said.append(
            f"Plates of {rig.name} are counted on an assumed bed of {bed.x_mm:g} x {bed.y_mm:g} mm."
        )
    return said
