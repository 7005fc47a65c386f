"""The comments a coupon program starts with: what it will do, how long, how hot, what to mind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.core import filament_mass_g
from beadworth.gcode import comment_lines
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.programs.layout import PlateLayout
from beadworth.trial.programs.moves import (
    COOL_DOWN_S,
    SETTLE_S,
    SOAK_S,
    bed_temperature_c,
    catch_height_mm,
)
from beadworth.trial.record import Plan

if TYPE_CHECKING:
    from beadworth.trial.programs.program import Place

CAUTIONS = (
    "Hot: nozzle, heater block, bed and fresh plastic burn the skin. Keep hands, hair and sleeves "
    "away; use tweezers.",
    "Moving: the axes start without warning. Know where the power switch is.",
    "Fumes: every hot plastic gives off some. Ventilate the room or extract at the printer.",
    "Never leave it unattended while anything is hot. Keep a way to put out a fire within reach.",
    "Mains wiring is work for licensed people under your local codes.",
    "If you stop the program by hand, switch both heaters off yourself and watch them cool.",
)
"""The cautions of a coupon program, for page and dossier too."""


def header(
    plan: Plan,
    rig: Rig,
    material: Material,
    *,
    title: str,
    table: Sequence[Place],
    grid: PlateLayout | None,
    minutes: float,
    filament_mm: float,
    unchecked: Sequence[str],
) -> str:
    """The head of one program as comment lines, ending with a newline."""
    temperatures = list(dict.fromkeys(row.temperature_c for row in table))
    bed = bed_temperature_c(material) if grid else 0.0
    mass = filament_mass_g(filament_mm, rig.filament_diameter_mm, material.density_g_cm3)
    hottest = f"nozzle up to {max(temperatures):g} C, bed {f'{bed:g} C' if bed else 'not heated'}"
    park = "park at the back left" if grid else "stay in place"
    lines = [
        f"Beadworth coupon program: {title}",
        f"Question: {plan.spec.question}",
        f"Rig: {rig.name}. Material: {material.name}.",
        f"Plan digest: {plan.digest}",
        "",
        "WHAT IT WILL DO",
        *(_plate_story(table, grid) if grid else _catch_story(table, rig)),
        f"Nozzle temperatures in turn: {', '.join(f'{t:g}' for t in temperatures)} C, each soaked "
        f"{SOAK_S:g} s before its first coupon.",
        f"At the end: heaters off, retract, {park}, fan on "
        f"for {COOL_DOWN_S / 60:g} min, motors off. It may still be hot then.",
        "",
        f"HOW LONG about {minutes:.0f} min" + ("" if grid else ", each pause counted as 1 min"),
        f"HOW HOT  {hottest}",
        f"FILAMENT {filament_mm:.0f} mm ({mass:.1f} g), purges included",
        "",
        "CAUTIONS",
        *(f"- {caution}" for caution in CAUTIONS),
    ]
    if material.fumes_note:
        lines.append(f"- {material.name}: {material.fumes_note}")
    lines += ["", "BEFORE YOU START", *(f"- {step}" for step in _before(rig, grid, unchecked))]
    lines += ["", "COUPONS IN THE ORDER MADE"]
    lines += [_row(row) for row in table]
    lines += [
        "",
        "Extruder words (E) between 'coupon X begins' and 'coupon X ends' add up to the filament "
        "of X exactly; purge, retraction and recovery stand outside.",
        "",
    ]
    return "".join(
        f"{out}\n" for line in lines for out in comment_lines(line, indent="  " * (line[:1] == "-"))
    )


def _plate_story(table: Sequence[Place], grid: PlateLayout) -> list[str]:
    coil = grid.coil
    slow, fast = min(r.speed_mm_s or 0 for r in table), max(r.speed_mm_s or 0 for r in table)
    return [
        f"Homes, heats, and lays {len(table)} coupons as coils in their own cells, back row first, "
        "left to right seen from the front.",
        f"Each: settle {SETTLE_S:g} s, purge {grid.purge_mm:.0f} mm of filament at the coupon's "
        "own flow into a strip in front of its cell, wipe, then the coil.",
        f"Coil: radius {coil.radius_mm:g} mm, strand {coil.strand_mm:g} mm, nozzle "
        f"{coil.stand_off_mm:g} mm over what the strand lands on, {coil.climb_mm:g} mm up per "
        f"turn, up to {coil.turns:.1f} turns and {coil.height_mm:.1f} mm. Flow is set by the speed "
        f"along the circle, {slow:.1f} to {fast:.1f} mm/s.",
    ]


def _catch_story(table: Sequence[Place], rig: Rig) -> list[str]:
    return [
        f"Homes, lifts the nozzle {catch_height_mm(rig):g} mm over the front edge of the bed, "
        f"heats, and extrudes {len(table)} coupons into free air, one after the other.",
        "Pauses after each purge and each coupon for you to snip flush with the nozzle; resume "
        "at the printer. Heaters stay on in a pause: stay there.",
        "The last coupon hangs from the nozzle when the heaters go off: snip it then.",
    ]


def _before(rig: Rig, grid: PlateLayout | None, unchecked: Sequence[str]) -> list[str]:
    steps = [
        "The bed is clear, clean and level; nothing is in the way of any axis.",
        f"The nozzle is {rig.hot_end.nozzle_mm:g} mm and the filament "
        f"{rig.filament_diameter_mm:g} mm across, loaded and running freely off the spool.",
        "Flow and speed overrides at the printer stand at 100 %; leave them there.",
    ]
    if grid:
        head = rig.toolhead
        steps.append(
            f"Nothing but the nozzle and its heater block hangs lower than {head.height_mm:g} mm "
            f"over the nozzle tip, probe included, and nothing beside them reaches farther than "
            f"{head.radius_mm:g} mm. If not, correct the rig's toolhead and write "
            "the program again."
        )
        steps.append("The front edge of a removable build plate is marked with a pen.")
    if unchecked:
        steps.append(f"Not recorded for this rig, so check it yourself: {'; '.join(unchecked)}.")
    return steps


def _row(row: Place) -> str:
    where = f"row {row.row}, place {row.column}" if row.row else f"bag {row.coupon}"
    kind = "reference" if row.reference else f"replicate {row.replicate}"
    return (
        f"  {row.order:3d}  {row.coupon:<6} {row.temperature_c:g} C  {row.flow_mm3_s:g} mm3/s  "
        f"{row.filament_mm:g} mm  {kind}  {where}"
    )
