"""The run sheet split into programs: which coupons each makes, every limit checked on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from beadworth.core import LimitError, NotFoundError, Place, Problem
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.programs import checks as program_checks
from beadworth.trial.programs.layout import PlateLayout, plate_layout
from beadworth.trial.programs.moves import LOWEST_CATCH_HEIGHT_MM, catch_height_mm
from beadworth.trial.record import Coupon, Plan

Collect = Literal["plate", "catch"]


@dataclass(frozen=True)
class Batch:
    """Coupons that one program makes."""

    rig: Rig
    number: int
    coupons: tuple[Coupon, ...]
    grid: PlateLayout | None


def _named(plan: Plan, rigs: Mapping[str, Rig]) -> dict[str, Rig]:
    names = list(dict.fromkeys(c.rig for c in plan.coupons))
    missing = [name for name in names if name not in rigs]
    if missing:
        raise NotFoundError(
            [
                Problem(
                    f"the plan names the rig {name!r}, which was not given.",
                    where="coupon program",
                    value=name,
                    remedy="Give its record.",
                )
                for name in missing
            ]
        )
    return {name: rigs[name] for name in names}


def batches_of(
    plan: Plan, rigs: Mapping[str, Rig], material: Material, collect: Collect
) -> list[Batch]:
    """Split the run sheet, checking every limit on the way; in the order to run them.

    Raises
    ------
    NotFoundError
        A rig the plan names is not among ``rigs``.
    LimitError
        Everything found, for all rigs.
    """
    rigs = _named(plan, rigs)
    problems = program_checks.record_problems(list(rigs.values()))
    batches: list[Batch] = []
    ordered = sorted(plan.coupons, key=lambda c: c.order)
    for rig in rigs.values():
        own = [c for c in ordered if c.rig == rig.name]
        problems += program_checks.heat_problems(rig, material, [c.temperature_c for c in own])
        grid = None
        if collect == "plate" and rig.build_volume is not None:
            try:
                grid = plate_layout(
                    rig,
                    filament_mm=max(c.filament_mm for c in own),
                    highest_flow_mm3_s=max(c.flow_mm3_s for c in own),
                )
            except LimitError as error:
                problems += error.problems
        if collect == "catch" and rig.build_volume is not None:
            problems += _catch_problems(rig)
        problems += program_checks.flow_problems(rig, own, grid.coil if grid else None)
        if grid is not None:
            top = grid.coil.speed_mm_s(max(c.flow_mm3_s for c in own))
            problems += program_checks.joint_problems(rig, grid.coil, top)
        split, trouble = _split(own, collect, collect != plan.spec.collect, grid)
        problems += trouble
        batches += [Batch(rig, number, chunk, grid) for number, chunk in split]
    if problems:
        raise LimitError(list(dict.fromkeys(problems)))
    return sorted(batches, key=lambda batch: batch.coupons[0].order)


def _split(
    own: Sequence[Coupon], collect: Collect, anew: bool, grid: PlateLayout | None
) -> tuple[list[tuple[int, tuple[Coupon, ...]]], list[Problem]]:
    """Numbered groups of one rig's coupons, and plates that hold too many."""
    if collect == "catch":
        blocks = groupby(sorted(own, key=lambda c: (c.block, c.order)), key=lambda c: c.block)
        return [(block, tuple(group)) for block, group in blocks], []
    cells = grid.cells if grid else len(own)
    if anew:
        chunks = [tuple(own[i : i + cells]) for i in range(0, len(own), cells)]
        return list(enumerate(chunks, start=1)), []
    plates = [
        (plate, tuple(group))
        for plate, group in groupby(
            sorted(own, key=lambda c: (c.plate, c.order)), key=lambda c: c.plate
        )
    ]
    return plates, [
        Problem(
            f"plate {plate} holds {len(group)} coupons, but the bed of {group[0].rig} has room "
            f"for {cells}.",
            where=f"plan, plate {plate}",
            value=len(group),
            remedy="Plan again with this rig's build volume and toolhead as they are recorded.",
        )
        for plate, group in plates
        if len(group) > cells
    ]


def _catch_problems(rig: Rig) -> list[Problem]:
    height = catch_height_mm(rig)
    if height >= LOWEST_CATCH_HEIGHT_MM:
        return []
    return [
        Problem(
            f"the nozzle would wait {height:g} mm over the bed; catching needs "
            f"{LOWEST_CATCH_HEIGHT_MM:g} mm.",
            where=Place.of_field(f"rig {rig.name}", "build_volume.z_mm"),
            value=height,
            remedy="Collect by plate on this rig.",
        )
    ]
