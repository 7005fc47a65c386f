"""Coupon programs: a plan becomes G-code a printer runs, one program per plate or block.

``programs`` checks everything first and refuses all at once; what it returns never leaves
the limits of rig and material. ``docs/explanation/coupon-program.md`` explains the method.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from beadworth.core import feed_mm_s
from beadworth.gcode import Limits, Writer
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import slug
from beadworth.trial.programs import position_map
from beadworth.trial.programs.batches import Batch, Collect, batches_of
from beadworth.trial.programs.header import header
from beadworth.trial.programs.layout import PlateLayout
from beadworth.trial.programs.moves import write_catch, write_plate
from beadworth.trial.record import Coupon, Plan


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


def coupon_programs(
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
    batches = batches_of(plan, rigs, material, how)
    return [
        _program(plan, material, batch, title=f"program {index} of {len(batches)}", index=index)
        for index, batch in enumerate(batches, start=1)
    ]


def _program(plan: Plan, material: Material, batch: Batch, *, title: str, index: int) -> Program:
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
        name=f"{index:02d}-{slug(rig.name, 'rig')}-{word}-{batch.number}",
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
