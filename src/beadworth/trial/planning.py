"""From the question to a whole plan: length, replicates, order, plates, power, hours, grams."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from beadworth.errors import LimitError, NotFoundError, Problem
from beadworth.material import Material
from beadworth.quantity import feed_mm_s, filament_mass_g
from beadworth.rig import Rig
from beadworth.trial.budget import loss_budget
from beadworth.trial.digest import plan_digest
from beadworth.trial.layout import cells_per_plate, purge_mm
from beadworth.trial.order import added_coupons, by_block, on_plates, run_sheet
from beadworth.trial.order import reference_flow as reference_flow_of
from beadworth.trial.power import smallest_difference
from beadworth.trial.program_checks import heat_problems
from beadworth.trial.record import Budget, Coupon, Plan, TrialSpec

LENGTHS_MM = (300.0, 400.0, 500.0, 600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0, 3000.0)
MOST_REPLICATES = 12
MOST_REFERENCES = 12
MICROMETER_U_MM = 0.005
"""Standard uncertainty of a diameter measured with a micrometer; common practice, no source."""
MANY_PER_SETTING = 4
HANDLING_S = 60.0
"""Snip or lift, label, weigh and type one coupon; common practice, no source."""
BETWEEN_S = 30.0
"""Purge, wipe and settle before a coupon."""
HEATING_S = 420.0
"""Heat and soak at the start of a block."""
PLATE_S = 600.0
"""Heat the bed, cool it, clear it: the price of one more plate."""


@dataclass(frozen=True)
class _Size:
    """One size of trial tried: what it costs and the uncertainty it reaches."""

    filament_mm: float
    replicates: int
    references: int
    budget: Budget
    seconds: float


def plan(spec: TrialSpec, rigs: Mapping[str, Rig], material: Material) -> Plan:
    """Work out the plan of a trial; the same spec always gives the same plan.

    Length, replicates and references that the spec leaves out are the ones that
    reach ``spec.loss_u`` in the least time; where none within bounds does, the best
    of them, and a note that says by how much it misses.

    Raises
    ------
    NotFoundError
        A rig the spec names is not among ``rigs``.
    LimitError
        A temperature, feed or plate outside what rig or material allow; all at once.
    """
    names = [spec.baseline] + ([spec.candidate] if spec.candidate else [])
    missing = [name for name in names if name not in rigs]
    if missing:
        raise NotFoundError(
            [Problem(f"there is no rig {name!r}.", "trial", name, "Add it first.")
             for name in missing]
        )  # fmt: skip
    used = [rigs[name] for name in names]
    problems = [p for rig in used for p in _problems(spec, rig, material)]
    if problems:
        raise LimitError(problems)
    size = _size(spec, used[0], material)
    sheet = run_sheet(
        spec,
        filament_mm=size.filament_mm,
        replicates=size.replicates,
        references=size.references,
    )
    coupons = _placed(spec, sheet, rigs)
    fed = sum(c.filament_mm for c in coupons) + sum(purge_mm(rigs[c.rig]) for c in coupons)
    thickest = max(rig.filament_diameter_mm for rig in used)
    return Plan(
        spec=spec,
        coupons=tuple(coupons),
        budget=size.budget,
        power=smallest_difference(spec, size.budget, size.replicates),
        filament_mm=size.filament_mm,
        replicates=size.replicates,
        references_per_block=size.references,
        total_filament_mm=fed,
        total_mass_g=float(filament_mass_g(fed, thickest, material.density_g_cm3)),
        duration_s=size.seconds,
        plates=max(c.plate for c in coupons),
        notes=tuple(_notes(spec, size, used[0], material)),
        digest=plan_digest(spec, coupons),
    )


def add_to_plan(
    made: Plan,
    sheet: Sequence[Coupon],
    settings: Sequence[tuple[str, float, float]],
    rigs: Mapping[str, Rig],
) -> list[Coupon]:
    """Coupons for an amendment: (rig, °C, mm³/s) each, in new blocks with their references.

    ``sheet`` holds every coupon so far, earlier amendments included.
    """
    added = added_coupons(made.spec, sheet, settings)
    return _placed(made.spec, added, rigs, first=max(c.plate for c in sheet) + 1)


def _placed(
    spec: TrialSpec, sheet: list[Coupon], rigs: Mapping[str, Rig], first: int = 1
) -> list[Coupon]:
    if spec.collect == "catch":
        return by_block(sheet, first)
    per_plate = {
        rig: cells_per_plate(
            rigs[rig],
            filament_mm=max(c.filament_mm for c in sheet if c.rig == rig),
            highest_flow_mm3_s=max(c.flow_mm3_s for c in sheet if c.rig == rig),
        )
        for rig in {c.rig for c in sheet}
    }
    return on_plates(sheet, per_plate, first)


def _problems(spec: TrialSpec, rig: Rig, material: Material) -> list[Problem]:
    """What the rig or the material cannot do, before anything is worked out."""
    probe = [
        Coupon("", rig.name, temperature, max(spec.flows_mm3_s), 100.0, 1, False, 1, 1, 1)
        for temperature in spec.temperatures_c
    ]
    problems = heat_problems(rig, material, probe)
    top = rig.extruder.max_feed_mm_s
    for flow in sorted({*spec.flows_mm3_s, reference_flow_of(spec)}):
        feed = feed_mm_s(flow, rig.filament_diameter_mm)
        if top is not None and feed > top:
            problems.append(
                Problem(
                    f"{flow:g} mm³/s needs a feed of {feed:.2f} mm/s, above the extruder's "
                    f"{top:g} mm/s.",
                    f"rig {rig.name}, field extruder.max_feed_mm_s",
                    flow,
                    "Leave that flow out.",
                )
            )
    return problems


def _size(spec: TrialSpec, rig: Rig, material: Material) -> _Size:
    """The size that reaches the target in the least time, else the most certain one."""
    lengths = [spec.filament_mm] if spec.filament_mm else list(LENGTHS_MM)
    per_plate = {length: _cells(spec, rig, length) for length in lengths}
    fitting = [length for length in lengths if per_plate[length] != 0] or lengths[:1]
    tried = [
        _tried(spec, rig, material, length, per_plate[length] or None, replicates, references)
        for length in fitting
        for replicates in ([spec.replicates] if spec.replicates else range(1, MOST_REPLICATES + 1))
        for references in (
            [spec.references_per_block]
            if spec.references_per_block
            else range(2, MOST_REFERENCES + 1)
        )
    ]
    enough = [size for size in tried if size.budget.combined_u <= spec.loss_u]
    if enough:
        return min(enough, key=lambda size: (size.seconds, size.budget.combined_u))
    return min(tried, key=lambda size: (size.budget.combined_u, size.seconds))


def _tried(
    spec: TrialSpec,
    rig: Rig,
    material: Material,
    length: float,
    per_plate: int | None,
    replicates: int,
    references: int,
) -> _Size:
    diameter = rig.filament_diameter_mm
    budget = loss_budget(
        balance=spec.balance,
        spool=spec.spool,
        coupon_g=float(filament_mass_g(length, diameter, material.density_g_cm3)),
        filament_mm=length,
        filament_diameter_mm=diameter,
        replicates=replicates,
        references=references,
    )
    rigs = 2 if spec.candidate else 1
    blocks = rigs * len(spec.temperatures_c)
    feeding = sum(replicates * length / feed_mm_s(flow, diameter) for flow in spec.flows_mm3_s)
    feeding += references * length / feed_mm_s(reference_flow_of(spec), diameter)
    coupons = replicates * len(spec.flows_mm3_s) + references
    seconds = blocks * (feeding + coupons * (HANDLING_S + BETWEEN_S) + HEATING_S)
    if per_plate is not None:
        seconds += PLATE_S * math.ceil(blocks * coupons / per_plate)
    return _Size(length, replicates, references, budget, seconds)


def _cells(spec: TrialSpec, rig: Rig, length: float) -> int | None:
    """Coupons of a length on one plate, None in catch mode, 0 where none fits."""
    if spec.collect == "catch":
        return None
    try:
        return cells_per_plate(rig, filament_mm=length, highest_flow_mm3_s=max(spec.flows_mm3_s))
    except LimitError:
        return 0


def _notes(spec: TrialSpec, size: _Size, rig: Rig, material: Material) -> list[str]:
    notes = []
    reached = size.budget.combined_u
    if reached > spec.loss_u:
        worst = max(size.budget.lines, key=lambda row: row.contribution)
        remedy = (
            "measure the filament's diameter on each coupon's feed (a micrometer), or add "
            "replicates and references"
            if "spool" in worst.source
            else "use a finer balance, or longer coupons"
        )
        notes.append(
            f"The standard uncertainty of loss reaches {reached:.2%}, not the {spec.loss_u:.2%} "
            f"asked for. Most of it is {worst.source}: {remedy}."
        )
    if size.replicates > MANY_PER_SETTING and spec.spool.diameter_u_mm is None:
        spool = spec.spool.model_copy(update={"diameter_u_mm": MICROMETER_U_MM})
        other = _size(spec.model_copy(update={"spool": spool}), rig, material)
        notes.append(
            f"With the filament's diameter measured to {MICROMETER_U_MM:g} mm on each coupon's "
            f"feed, {other.replicates} per setting of {other.filament_mm:g} mm and "
            f"{other.references} references would reach {other.budget.combined_u:.2%}, in "
            f"{other.seconds / 3600:.1f} h instead of {size.seconds / 3600:.1f} h."
        )
    cold = [t for t in spec.temperatures_c if t < material.min_temperature_c]
    if cold:
        notes.append(
            f"{', '.join(f'{t:g} °C' for t in cold)} is below the "
            f"{material.min_temperature_c:g} °C {material.name} is used from: the drive may "
            "grind or stall; stay with the printer."
        )
    if len(spec.flows_mm3_s) < 5:
        notes.append(
            "Fewer than five flows: if the knee falls between two of them, the interval will be "
            "as wide as their distance."
        )
    return notes
