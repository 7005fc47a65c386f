"""How long a coupon, which flows, how many of each: what answers the question in the least time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from beadworth.core import LimitError, Problem
from beadworth.material import Material
from beadworth.rig import BuildVolume, Rig
from beadworth.trial.planning.budget import loss_budget
from beadworth.trial.planning.forecast import BATCH, ceiling_width
from beadworth.trial.planning.order import plates_of, reference_flow
from beadworth.trial.planning.timing import coupon_s, heating_s
from beadworth.trial.programs import checks as program_checks
from beadworth.trial.programs.coil import coil
from beadworth.trial.programs.layout import plate_layout, purge_mm
from beadworth.trial.programs.moves import SETTLE_S, SOAK_S
from beadworth.trial.record import Budget, Coupon, Outlook, Plan, TrialSpec

LENGTHS_MM = (
    60.0, 80.0, 100.0, 120.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0, 800.0, 1000.0,
    1200.0, 1500.0, 2000.0,
)  # fmt: skip
REPLICATES = range(1, 13)
"""Tried where the record names the flows and leaves the replicates out."""
REFERENCES = 2
"""At the start and the end of a block, so that drift shows."""
SOON = 1.25
"""Where no trial fits in the time: how much longer than the shortest one may take."""
HOURS_A_RIG = 2.0
"""Taken where the record says nothing of time: an evening does two rigs."""
BATCHES = 8
"""Batches of next coupons looked ahead."""
FIRST_STEP = 0.2
"""Distance of a first look's flows, in the middle of the range; six flows at least."""
ASSUMED_BED = BuildVolume(x_mm=200.0, y_mm=200.0, z_mm=200.0)
"""Bed that plates are counted on where the rig does not record its own."""


@dataclass(frozen=True)
class Size:
    """One size of trial, what it tells and what it costs."""

    filament_mm: float
    replicates: int
    references: int
    u: float
    """Combined standard uncertainty of loss at one setting."""
    outlook: tuple[Outlook, ...]
    """First these coupons, then with more and more next coupons."""

    @property
    def now(self) -> Outlook:
        """The coupons of the sheet alone."""
        return self.outlook[0]

    @property
    def coupons(self) -> int:
        """On the sheet."""
        return self.now.coupons

    @property
    def seconds(self) -> float:
        """Of the sheet, hands included."""
        return 3600 * self.now.hours

    def answer(self, width_mm3_s: float) -> Outlook | None:
        """The least that reaches a width; None where nothing looked at does."""
        return next((step for step in self.outlook if step.width_mm3_s <= width_mm3_s), None)

    def within(self, hours: float) -> Outlook | None:
        """The most there is time for."""
        return next((step for step in self.outlook[::-1] if step.hours <= hours), None)


def ladder(spec: TrialSpec) -> tuple[float, ...]:
    """The flows of the sheet: those of the record, or a coarse ladder between two."""
    if len(spec.flows_mm3_s) != 2:
        return spec.flows_mm3_s
    low, high = sorted(spec.flows_mm3_s)
    steps = max(5, math.ceil((high - low) / (FIRST_STEP * (low + high) / 2) - 1e-9))
    return tuple(round(low + (high - low) * i / steps, 2) for i in range(steps + 1))


def with_ladder(spec: TrialSpec) -> TrialSpec:
    """The record with the flows of the sheet."""
    return spec.model_copy(update={"flows_mm3_s": ladder(spec)})


def budget_of(
    spec: TrialSpec, rig: Rig, material: Material, *, filament_mm: float, counts: tuple[int, int]
) -> Budget:
    """The budget of a trial record at one setting, for (replicates, references)."""
    block = len(ladder(spec)) * counts[0] + counts[1]
    return loss_budget(
        balance=spec.balance,
        spool=spec.spool,
        filament_mm=filament_mm,
        diameter_mm=rig.filament_diameter_mm,
        density_g_cm3=material.density_g_cm3,
        replicates=counts[0],
        references=counts[1],
        loss=spec.loss,
        block=(block, filament_mm + purge_mm(rig)),
    )


def coupon_u(budget: Budget, replicates: int, loss: float) -> float:
    """Relative standard uncertainty of one coupon of a budget, what all share left out."""
    own = sum(row.contribution**2 for row in budget.lines if "reference" not in row.source)
    return math.sqrt(own * replicates) / (1 - loss)


def planned_scatter(plan: Plan | None) -> float | None:
    """Scatter of a coupon as the budget of a plan without replicates has it, relative.

    None of a plan with replicates, which show the scatter themselves, and without a plan.
    """
    if plan is None or plan.replicates > 1:
        return None
    return coupon_u(plan.budget, 1, plan.spec.loss)


def with_bed(rig: Rig) -> Rig:
    """The rig with a bed to count plates on."""
    return rig if rig.build_volume else rig.model_copy(update={"build_volume": ASSUMED_BED})


def refusals(spec: TrialSpec, rig: Rig, material: Material, filament_mm: float) -> list[Problem]:
    """What the rig or the material cannot do with coupons of this length."""
    highest = max(*spec.flows_mm3_s, reference_flow(spec))
    drafts = [
        Coupon("", rig.name, t, q, filament_mm, 1, False, 1, 1, 1)
        for t in spec.temperatures_c
        for q in {*ladder(spec), reference_flow(spec)}
    ]
    problems = program_checks.heat_problems(rig, material, [c.temperature_c for c in drafts])
    if spec.collect == "catch":
        return problems + program_checks.flow_problems(rig, drafts, None)
    problems += program_checks.flow_problems(
        rig, drafts, coil(rig, filament_mm=filament_mm, radius_mm=20.0)
    )
    try:
        grid = plate_layout(with_bed(rig), filament_mm=filament_mm, highest_flow_mm3_s=highest)
    except LimitError as error:
        return problems + list(error.problems)
    return problems + program_checks.joint_problems(rig, grid.coil, grid.coil.speed_mm_s(highest))


def lengths_that_can_be(
    spec: TrialSpec, rigs: Sequence[Rig], material: Material
) -> tuple[float, ...]:
    """Lengths per coupon that every rig can make.

    Raises
    ------
    LimitError
        There is none: what stands in the way of the length with the least in its way.
    """
    tried = [spec.filament_mm] if spec.filament_mm else LENGTHS_MM
    fewest: list[Problem] | None = None
    able = []
    for length in tried:
        problems = [p for rig in rigs for p in refusals(spec, rig, material, length)]
        if not problems:
            able.append(length)
        elif fewest is None or len(problems) < len(fewest):
            fewest = problems
    if not able:
        raise LimitError(list(dict.fromkeys(fewest or [])))
    return tuple(able)


def sizes(
    spec: TrialSpec, rigs: Sequence[Rig], material: Material, lengths: Sequence[float]
) -> Iterator[Size]:
    """Every size within the bounds, what the record fixes kept."""
    n = spec.references_per_block or REFERENCES
    free = spec.replicates is None and len(spec.flows_mm3_s) > 2
    for length in lengths:
        cost = _Cost(spec, rigs, material, length)
        for r in REPLICATES if free else [spec.replicates or 1]:
            budgets = [
                budget_of(spec, rig, material, filament_mm=length, counts=(r, n)) for rig in rigs
            ]
            worst = max(budgets, key=lambda one: one.combined_u)
            u = coupon_u(worst, r, spec.loss)
            outlook = tuple(
                Outlook(
                    cost.coupons(r, n, batches),
                    cost.seconds(r, n, batches) / 3600,
                    ceiling_width(ladder(spec), u, spec.loss, replicates=r, batches=batches),
                    planned=batches == 0,
                )
                for batches in range(BATCHES + 1)
            )
            yield Size(length, r, n, worst.combined_u, outlook)


class _Cost:
    """What a size takes, as :mod:`~beadworth.trial.planning.timing`, in closed form."""

    def __init__(
        self, spec: TrialSpec, rigs: Sequence[Rig], material: Material, length: float
    ) -> None:
        catch = spec.collect == "catch"
        flows = ladder(spec)
        self.temperatures = len(spec.temperatures_c)
        self.flows = len(flows)
        middle = sorted(spec.temperatures_c)[self.temperatures // 2]
        self.start = heating_s(material, [middle], catch=catch)
        low = reference_flow(spec)
        highest = max(*flows, low)
        self.rigs = []
        for rig in rigs:
            run = sum(coupon_s(rig, length, q, catch=catch) for q in flows)
            cells = None
            if not catch:
                cells = plate_layout(
                    with_bed(rig), filament_mm=length, highest_flow_mm3_s=highest
                ).cells
            near = coupon_s(rig, length, 0.5 * (min(flows) + highest), catch=catch)
            self.rigs.append((run, coupon_s(rig, length, low, catch=catch), near, cells))

    def coupons(self, replicates: int, references: int, batches: int) -> int:
        """Of all rigs."""
        made = self.flows * replicates + references + batches * (BATCH + 1)
        return self.temperatures * made * len(self.rigs)

    def seconds(self, replicates: int, references: int, batches: int) -> float:
        """The whole trial; each batch is a program of its own, with a reference in each block."""
        block = self.flows * replicates + references
        total = 0.0
        for run, reference, near, cells in self.rigs:
            programs = plates_of(self.temperatures, block, cells) if cells else self.temperatures
            soaks = max(0, self.temperatures - programs)
            total += programs * self.start + soaks * (SOAK_S - SETTLE_S)
            total += self.temperatures * (run * replicates + reference * references)
            again = self.start + (self.temperatures - 1) * (SOAK_S - SETTLE_S)
            again += self.temperatures * (BATCH * near + reference)
            total += batches * again
        return total


def hours_of(spec: TrialSpec, rigs: Sequence[Rig]) -> float:
    """Time at hand."""
    return spec.hours or HOURS_A_RIG * len(rigs)


def best_size(
    spec: TrialSpec, rigs: Sequence[Rig], material: Material, lengths: Sequence[float]
) -> Size:
    """The size that answers soonest, next coupons included.

    Where no difference is named, or none reaches it in the time, the one that tells most in the
    time at hand. Where even the shortest takes longer, the one that tells most among those that
    take at most a quarter more: shorter coupons save minutes and cost the answer.
    """
    tried = list(sizes(spec, rigs, material, lengths))
    wanted, hours = spec.difference_mm3_s, hours_of(spec, rigs)
    if wanted is not None:
        reached = [(step.hours, i) for i, size in enumerate(tried) if (step := size.answer(wanted))]
        if reached and (min(reached)[0] <= hours or spec.hours is None):
            return tried[min(reached)[1]]
    able = [(step.width_mm3_s, i) for i, size in enumerate(tried) if (step := size.within(hours))]
    if able:
        return tried[min(able)[1]]
    shortest = min(size.seconds for size in tried)
    soon = [size for size in tried if size.seconds <= SOON * shortest]
    return min(soon, key=lambda size: size.now.width_mm3_s)
