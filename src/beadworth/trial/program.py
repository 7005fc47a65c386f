"""Coupon programs: a plan becomes G-code a printer runs, one program per plate or block.

``programs`` checks everything first and refuses all at once; what it returns never leaves
the limits of rig and material. ``docs/explanation/coupon-program.md`` explains the method.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any, Literal

from beadworth.errors import LimitError, NotFoundError, Problem
from beadworth.gcode.limits import Limits
from beadworth.gcode.writer import Writer
from beadworth.material import Material
from beadworth.quantity import feed_mm_s
from beadworth.rig import Rig
from beadworth.trial import position_map, program_checks
from beadworth.trial.layout import PlateLayout, plate_layout
from beadworth.trial.program_header import header
from beadworth.trial.program_moves import (
    LOWEST_CATCH_HEIGHT_MM,
    catch_height_mm,
    write_catch,
    write_plate,
)
from beadworth.trial.record import Coupon, Plan

Collect = Literal["plate", "catch"]


@dataclass(frozen=True)
class Place:
    """One row of a program's table: a coupon and where to find it."""

    place: int
    """1-based, in the order this program makes them."""
    order: int
    """1-based place in the whole run sheet."""
    coupon: str
    temperature_c: float
    flow_mm3_s: float
    filament_mm: float
    replicate: int
    reference: bool
    feed_mm_s: float
    """Filament feed."""
    row: int | None
    """1-based from the back of the bed; None in a catch session, as all below."""
    column: int | None
    """1-based from the left, seen from the front."""
    x_mm: float | None
    y_mm: float | None
    speed_mm_s: float | None
    """Along the circle."""
    height_mm: float | None


@dataclass(frozen=True)
class Program:
    """One program: the text for the printer and what a person needs beside it."""

    name: str
    """File name without its ending."""
    rig: str
    collect: Collect
    text: str
    coupons: tuple[Coupon, ...]
    minutes: float
    """Heating, soaking, moving and cooling, reckoned; each pause as one minute."""
    highest_temperature_c: float
    filament_mm: float
    """Fed forward in all: coupons and purges."""
    map_svg: str | None
    """Position map to print; None in a catch session, where coupons are bagged one by one."""
    map_alt: str | None
    table: tuple[Place, ...]


@dataclass(frozen=True)
class _Batch:
    """Coupons that one program makes."""

    rig: Rig
    number: int
    coupons: tuple[Coupon, ...]
    grid: PlateLayout | None


def programs(
    plan: Plan,
    rigs: Mapping[str, Rig],
    material: Material,
    *,
    collect: Collect | None = None,
) -> list[Program]:
    """The coupon programs of a plan, in the order to run them.

    Parameters
    ----------
    plan : Plan
    rigs : mapping of name to Rig
        Every rig the plan's coupons name. Needs ``build_volume`` and
        ``hot_end.temperature_limit_c``.
    material : Material
    collect : "plate" or "catch", optional
        Left out: as the plan says. Where it differs from the plan, coupons are split over plates
        anew.

    Returns
    -------
    list of Program
        One per plate and rig, or one per temperature block and rig (catch).

    Raises
    ------
    NotFoundError
        A rig the plan names is not among ``rigs``.
    LimitError
        Temperature above hot end, material or a PTFE liner; a feed the extruder cannot turn or
        hold; a plate that does not fit; limits not recorded. All at once.
    """
    how: Collect = collect or plan.spec.collect
    batches = _batches(plan, _named(plan, rigs), material, how)
    return [
        _program(plan, material, batch, title=f"program {index} of {len(batches)}", index=index)
        for index, batch in enumerate(batches, start=1)
    ]


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


def _batches(
    plan: Plan, rigs: Mapping[str, Rig], material: Material, collect: Collect
) -> list[_Batch]:
    """Split the run sheet, checking every limit on the way.

    Raises
    ------
    LimitError
        Everything found, for all rigs.
    """
    problems = program_checks.record_problems(list(rigs.values()))
    batches: list[_Batch] = []
    ordered = sorted(plan.coupons, key=lambda c: c.order)
    for rig in rigs.values():
        own = [c for c in ordered if c.rig == rig.name]
        problems += program_checks.heat_problems(rig, material, own)
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
        batches += [_Batch(rig, number, chunk, grid) for number, chunk in split]
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
            where=f"rig {rig.name}, field build_volume.z_mm",
            value=height,
            remedy="Collect by plate on this rig.",
        )
    ]


def _program(plan: Plan, material: Material, batch: _Batch, *, title: str, index: int) -> Program:
    rig, coupons, grid = batch.rig, batch.coupons, batch.grid
    limits = Limits.of(rig, material)
    writer = Writer(limits)
    if grid is not None:
        write_plate(writer, rig, material, coupons, grid)
    else:
        write_catch(writer, rig, coupons)
    body = writer.text()
    table = _table(rig, coupons, grid)
    word = "plate" if grid else "block"
    title = f"{title}, {word} {batch.number}"
    top = header(
        plan,
        rig,
        material,
        title=title,
        table=table,
        grid=grid,
        minutes=writer.seconds / 60,
        filament_mm=writer.filament_mm,
        unchecked=limits.unchecked,
    )
    drawn = (
        position_map.position_map(
            grid, table, rig=rig.name, title=title, material=material.name, digest=plan.digest
        )
        if grid
        else None
    )
    return Program(
        name=f"{index:02d}-{_slug(rig.name)}-{word}-{batch.number}",
        rig=rig.name,
        collect="plate" if grid else "catch",
        text=top + body,
        coupons=coupons,
        minutes=round(writer.seconds / 60, 1),
        highest_temperature_c=writer.highest_c,
        filament_mm=round(writer.filament_mm, 3),
        map_svg=drawn.svg if drawn else None,
        map_alt=drawn.alt if drawn else None,
        table=table,
    )


def _table(rig: Rig, coupons: Sequence[Coupon], grid: PlateLayout | None) -> tuple[Place, ...]:
    cells = list(grid)[: len(coupons)] if grid else [None] * len(coupons)
    rows = []
    for index, (coupon, cell) in enumerate(zip(coupons, cells, strict=True)):
        coil = grid.coil if grid else None
        share = coupon.filament_mm / coil.filament_mm if coil else 0.0
        rows.append(
            Place(
                place=index + 1,
                order=coupon.order,
                coupon=coupon.coupon,
                temperature_c=coupon.temperature_c,
                flow_mm3_s=coupon.flow_mm3_s,
                filament_mm=coupon.filament_mm,
                replicate=coupon.replicate,
                reference=coupon.reference,
                feed_mm_s=round(feed_mm_s(coupon.flow_mm3_s, rig.filament_diameter_mm), 4),
                row=index // grid.columns + 1 if grid else None,
                column=index % grid.columns + 1 if grid else None,
                x_mm=round(cell.x_mm, 2) if cell else None,
                y_mm=round(cell.y_mm, 2) if cell else None,
                speed_mm_s=round(coil.speed_mm_s(coupon.flow_mm3_s), 3) if coil else None,
                height_mm=round(coil.turns * share * coil.climb_mm, 1) if coil else None,
            )
        )
    return tuple(rows)


def program_summary(program: Program) -> dict[str, Any]:
    """What ``trial program --json`` says of one program: all but the text and the drawing."""
    return {
        "name": program.name,
        "rig": program.rig,
        "collect": program.collect,
        "coupons": len(program.coupons),
        "minutes": program.minutes,
        "highest_temperature_c": program.highest_temperature_c,
        "filament_mm": program.filament_mm,
        "map_alt": program.map_alt,
        "table": [asdict(row) for row in program.table],
    }


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "rig"
