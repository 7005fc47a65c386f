"""How long a coupon, how many of each: the sizes that reach the uncertainty, the quickest first."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from beadworth.core import LimitError, Problem
from beadworth.material import Material
from beadworth.rig import BuildVolume, Rig
from beadworth.trial.planning.budget import loss_budget
from beadworth.trial.planning.order import reference_flow
from beadworth.trial.planning.timing import coupon_s, heating_s
from beadworth.trial.programs import checks as program_checks
from beadworth.trial.programs.coil import coil
from beadworth.trial.programs.layout import plate_layout
from beadworth.trial.programs.moves import SETTLE_S, SOAK_S
from beadworth.trial.record import Budget, Coupon, TrialSpec

LENGTHS_MM = (
    150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0, 2500.0,
    3000.0,
)  # fmt: skip
REPLICATES = range(2, 13)
"""Tried where the record leaves them out: two at least, so that scatter is seen."""
REFERENCES = range(2, 13)
"""Two at least, at the start and the end of a block, so that drift is seen."""
NEAR_BEST = 1.25
"""Where no size reaches the target: the quickest of those within a quarter of the best, since
the last per cents cost many hours."""
ASSUMED_BED = BuildVolume(x_mm=200.0, y_mm=200.0, z_mm=200.0)
"""Bed that plates are counted on where the rig does not record its own."""


@dataclass(frozen=True)
class Size:
    """One size of trial, what it reaches and what it costs."""

    filament_mm: float
    replicates: int
    references: int
    u: float
    """Combined standard uncertainty of loss at one setting."""
    seconds: float
    coupons: int


@dataclass(frozen=True)
class Variances:
    """The budget of one coupon against one reference, in the parts that counts divide."""

    coupon: float
    reference: float
    common: float

    def u(self, replicates: int, references: int) -> float:
        """Combined standard uncertainty with these counts."""
        return math.sqrt(self.coupon / replicates + self.reference / references + self.common)


def budget_of(
    spec: TrialSpec, rig: Rig, material: Material, *, filament_mm: float, counts: tuple[int, int]
) -> Budget:
    """The budget of a trial record at one setting, for (replicates, references)."""
    return loss_budget(
        balance=spec.balance,
        spool=spec.spool,
        filament_mm=filament_mm,
        diameter_mm=rig.filament_diameter_mm,
        density_g_cm3=material.density_g_cm3,
        replicates=counts[0],
        references=counts[1],
        loss=spec.loss,
    )


def variances(spec: TrialSpec, rig: Rig, material: Material, filament_mm: float) -> Variances:
    """The parts of :func:`budget_of` for one coupon and one reference."""
    parts = {"coupon": 0.0, "reference": 0.0, "references": 0.0}
    for row in budget_of(spec, rig, material, filament_mm=filament_mm, counts=(1, 1)).lines:
        parts[row.source.rsplit(" ", 1)[1]] += row.contribution**2
    return Variances(parts["coupon"], parts["reference"], parts["references"])


def with_bed(rig: Rig) -> Rig:
    """The rig with a bed to count plates on."""
    return rig if rig.build_volume else rig.model_copy(update={"build_volume": ASSUMED_BED})


def refusals(spec: TrialSpec, rig: Rig, material: Material, filament_mm: float) -> list[Problem]:
    """What the rig or the material cannot do with coupons of this length."""
    highest = max(*spec.flows_mm3_s, reference_flow(spec))
    drafts = [
        Coupon("", rig.name, t, q, filament_mm, 1, False, 1, 1, 1)
        for t in spec.temperatures_c
        for q in {*spec.flows_mm3_s, reference_flow(spec)}
    ]
    problems = program_checks.heat_problems(rig, material, drafts)
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
    for length in lengths:
        parts = [variances(spec, rig, material, length) for rig in rigs]
        cost = _Cost(spec, rigs, material, length)
        for r in [spec.replicates] if spec.replicates else REPLICATES:
            for n in [spec.references_per_block] if spec.references_per_block else REFERENCES:
                u = max(part.u(r, n) for part in parts)
                yield Size(length, r, n, u, cost.seconds(r, n), cost.coupons(r, n) * len(rigs))


class _Cost:
    """What a size takes, as :mod:`~beadworth.trial.planning.timing`, in closed form."""

    def __init__(
        self, spec: TrialSpec, rigs: Sequence[Rig], material: Material, length: float
    ) -> None:
        catch = spec.collect == "catch"
        self.temperatures = len(spec.temperatures_c)
        self.flows = len(spec.flows_mm3_s)
        middle = sorted(spec.temperatures_c)[self.temperatures // 2]
        self.start = heating_s(material, [middle], catch=catch)
        low = reference_flow(spec)
        highest = max(*spec.flows_mm3_s, low)
        self.rigs = []
        for rig in rigs:
            ladder = sum(coupon_s(rig, length, q, catch=catch) for q in spec.flows_mm3_s)
            cells = None
            if not catch:
                cells = plate_layout(
                    with_bed(rig), filament_mm=length, highest_flow_mm3_s=highest
                ).cells
            self.rigs.append((ladder, coupon_s(rig, length, low, catch=catch), cells))

    def coupons(self, replicates: int, references: int) -> int:
        """Coupons of one rig."""
        return self.temperatures * (self.flows * replicates + references)

    def seconds(self, replicates: int, references: int) -> float:
        """The whole trial."""
        made = self.coupons(replicates, references)
        total = 0.0
        for ladder, reference, cells in self.rigs:
            programs = -(-made // cells) if cells else self.temperatures
            soaks = max(0, self.temperatures - programs)
            total += programs * self.start + soaks * (SOAK_S - SETTLE_S)
            total += self.temperatures * (ladder * replicates + reference * references)
        return total


def best_size(
    spec: TrialSpec, rigs: Sequence[Rig], material: Material, lengths: Sequence[float]
) -> Size:
    """The quickest size that reaches ``spec.loss_u``; else the quickest near the best there is."""
    tried = list(sizes(spec, rigs, material, lengths))
    best = min(size.u for size in tried)
    enough = spec.loss_u if best <= spec.loss_u else NEAR_BEST * best
    return min((size for size in tried if size.u <= enough), key=lambda s: (s.seconds, s.u))
