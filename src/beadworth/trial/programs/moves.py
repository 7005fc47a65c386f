"""The moves of a coupon program: start, one coupon after the other, and the end."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from beadworth.core import ROOM_C, feed_mm_s
from beadworth.gcode import SAFE_Z_SPEED_MM_S, Writer
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.programs.checks import segments_per_turn
from beadworth.trial.programs.coil import path_speed_mm_s
from beadworth.trial.programs.layout import EDGE_MARGIN_MM, LIFT_MM, Cell, PlateLayout, purge_mm
from beadworth.trial.record import Coupon

SOAK_S = 180.0
"""At temperature before the first coupon of a temperature."""
SETTLE_S = 10.0
"""Before each purge: the heater recovers from the coupon before."""
COOL_DOWN_S = 300.0
"""Fan at full after the heaters are off."""
COIL_FAN = 0.5
"""Part-cooling fan while coils are laid: the same for every coupon, so it favours none."""
PAUSE_S = 60.0
"""What one pause is reckoned to last in the stated duration."""
BED_C = 60.0
"""Bed temperature where the material does not say."""
CATCH_HEIGHT_MM = 120.0
LOWEST_CATCH_HEIGHT_MM = 40.0
NOZZLE_RISE_C_S, NOZZLE_FALL_C_S, BED_RISE_C_S = 2.0, 0.5, 0.25
"""Rates the stated duration reckons with, and the dwell after a fall in temperature."""


class Pace:
    """Speeds of everything that is not measured, inside the rig's limits."""

    def __init__(self, rig: Rig) -> None:
        top, _ = path_speed_mm_s(rig)
        axes, extruder = rig.motion.max_speed_mm_s, rig.extruder
        self.travel_mm_s = min(100.0, top)
        self.lift_mm_s = min(10.0, axes.z if axes else SAFE_Z_SPEED_MM_S)
        self.retract_mm_s = min(extruder.retract_mm_s, extruder.max_feed_mm_s or math.inf)
        self.retract_mm = extruder.retract_mm


def bed_temperature_c(material: Material) -> float:
    """Bed temperature of a plate program."""
    return BED_C if material.bed_c is None else material.bed_c


def catch_height_mm(rig: Rig) -> float:
    """Height of the nozzle over the bed while coupons are caught."""
    volume = rig.build_volume
    return min(CATCH_HEIGHT_MM, volume.z_mm - 10.0) if volume else 0.0


def write_plate(
    writer: Writer, rig: Rig, material: Material, coupons: Sequence[Coupon], grid: PlateLayout
) -> None:
    """All moves of one plate: coupons fill the cells in order, back to front."""
    pace, coil = Pace(rig), grid.coil
    bed = bed_temperature_c(material)
    low = coil.stand_off_mm + LIFT_MM
    writer.comment("start")
    writer.fan(0)
    if bed > 0:
        writer.bed(bed, wait_s=max(0.0, bed - ROOM_C) / BED_RISE_C_S)
    writer.home(low)
    safe, temperature = low, ROOM_C
    for coupon, cell in zip(coupons, grid, strict=False):
        writer.comment()
        writer.comment(_title(coupon))
        writer.travel(z=safe, feed_mm_s=pace.lift_mm_s)
        writer.travel(cell.x_mm, cell.wait_y_mm, feed_mm_s=pace.travel_mm_s)
        writer.travel(z=low, feed_mm_s=pace.lift_mm_s)
        if coupon.temperature_c != temperature:
            _reach(writer, coupon.temperature_c, temperature)
            temperature = coupon.temperature_c
            writer.fan(COIL_FAN)
            writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
            writer.dwell(SOAK_S)
        else:
            writer.dwell(SETTLE_S)
        _purge(writer, rig, grid, cell, coupon=coupon, pace=pace)
        _coil(writer, rig, grid, cell, coupon=coupon, pace=pace)
        safe = max(safe, coil.height_mm + LIFT_MM)
    write_end(writer, rig, pace, safe, park=True)


def write_catch(writer: Writer, rig: Rig, coupons: Sequence[Coupon]) -> None:
    """All moves of one catch session: the nozzle waits high over the front edge of the bed."""
    pace, volume = Pace(rig), rig.build_volume
    height = catch_height_mm(rig)
    writer.comment("start")
    writer.fan(0)
    writer.home(height)
    writer.travel(volume.x_mm / 2 if volume else 0.0, 0.0, feed_mm_s=pace.travel_mm_s)
    temperature = ROOM_C
    for index, coupon in enumerate(coupons):
        feed = feed_mm_s(coupon.flow_mm3_s, rig.filament_diameter_mm)
        writer.comment()
        writer.comment(_title(coupon))
        if coupon.temperature_c != temperature:
            _reach(writer, coupon.temperature_c, temperature)
            temperature = coupon.temperature_c
            writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
            writer.dwell(SOAK_S)
        else:
            writer.dwell(SETTLE_S)
        writer.comment("purge")
        writer.recover(feed_mm_s=pace.retract_mm_s)
        writer.extrude(purge_mm(rig), feed_mm_s=feed)
        writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
        writer.pause(
            f"snip the purge flush with the nozzle and throw it away. Resume to make "
            f"{coupon.coupon}; let it fall into a clean dish. The nozzle is hot."
        )
        writer.recover(feed_mm_s=pace.retract_mm_s)
        writer.comment(f"coupon {coupon.coupon} begins")
        writer.extrude(coupon.filament_mm, feed_mm_s=feed)
        writer.comment(f"coupon {coupon.coupon} ends")
        writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
        writer.seconds += PAUSE_S
        if index + 1 < len(coupons):
            writer.pause(
                f"snip {coupon.coupon} flush with the nozzle, bag it, write {coupon.coupon} on "
                "the bag. Resume to purge for the next one. The nozzle is hot."
            )
            writer.seconds += PAUSE_S
    write_end(writer, rig, pace, height, park=False)


def _title(coupon: Coupon) -> str:
    kind = "reference" if coupon.reference else f"replicate {coupon.replicate}"
    return (
        f"{coupon.order}: {coupon.coupon}, {coupon.temperature_c:g} C, "
        f"{coupon.flow_mm3_s:g} mm3/s, {kind}"
    )


def _reach(writer: Writer, wanted: float, now: float) -> None:
    """Set the nozzle and wait; after a fall a dwell too, since the wait may not see it."""
    rise = wanted - now
    writer.comment(f"nozzle to {wanted:g} C, then soak")
    writer.nozzle(wanted, wait_s=max(0.0, rise) / NOZZLE_RISE_C_S)
    if rise < 0:
        writer.dwell(-rise / NOZZLE_FALL_C_S)


def _strip(grid: PlateLayout, cell: Cell) -> list[tuple[float, float]]:
    """Corners of the purge strip: lines to and fro, the last one nearest the coil."""
    coil, n = grid.coil, grid.strip_lines
    strand = grid.purge_mm * coil.strand_length_mm / coil.filament_mm
    half = (strand - (n - 1) * grid.strip_pitch_mm) / n / 2
    corners = []
    for line in range(n):
        y = cell.strip_back_mm - (n - 1 - line) * grid.strip_pitch_mm
        ends = [(cell.x_mm - half, y), (cell.x_mm + half, y)]
        corners += ends if line % 2 == 0 else ends[::-1]
    return corners


def _purge(
    writer: Writer, rig: Rig, grid: PlateLayout, cell: Cell, *, coupon: Coupon, pace: Pace
) -> None:
    """Purge at the coupon's own flow, then wipe back along the last line."""
    coil, corners = grid.coil, _strip(grid, cell)
    writer.comment("purge and wipe")
    writer.travel(*corners[0], feed_mm_s=pace.travel_mm_s)
    writer.travel(z=coil.stand_off_mm, feed_mm_s=pace.lift_mm_s)
    writer.recover(feed_mm_s=pace.retract_mm_s)
    points = [(x, y, coil.stand_off_mm) for x, y in corners]
    _lay(writer, rig, points, grid.purge_mm, coupon.flow_mm3_s)
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
    writer.travel(z=coil.strand_mm, feed_mm_s=pace.lift_mm_s)
    writer.travel(*corners[-2], feed_mm_s=pace.travel_mm_s)
    writer.travel(z=coil.stand_off_mm + coil.strand_mm, feed_mm_s=pace.lift_mm_s)


def _coil(
    writer: Writer, rig: Rig, grid: PlateLayout, cell: Cell, *, coupon: Coupon, pace: Pace
) -> None:
    """The coupon: a helix from the front of its circle, anticlockwise seen from above."""
    coil = grid.coil
    turns = coil.turns * coupon.filament_mm / coil.filament_mm
    per_turn = segments_per_turn(rig, coil, coil.speed_mm_s(coupon.flow_mm3_s))
    pieces = math.ceil(turns * per_turn)
    turn = turns * np.arange(pieces + 1) / pieces
    angle = 2 * np.pi * turn - np.pi / 2
    points = np.stack(
        [
            cell.x_mm + coil.radius_mm * np.cos(angle),
            cell.y_mm + coil.radius_mm * np.sin(angle),
            coil.stand_off_mm + coil.climb_mm * turn,
        ],
        axis=1,
    )
    front = points[0].tolist()
    writer.travel(front[0], front[1], feed_mm_s=pace.travel_mm_s)
    writer.travel(z=front[2], feed_mm_s=pace.lift_mm_s)
    writer.recover(feed_mm_s=pace.retract_mm_s)
    writer.comment(f"coupon {coupon.coupon} begins")
    _lay(writer, rig, points, coupon.filament_mm, coupon.flow_mm3_s)
    writer.comment(f"coupon {coupon.coupon} ends")
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)


def _lay(
    writer: Writer, rig: Rig, points: ArrayLike, filament_mm: float, flow_mm3_s: float
) -> None:
    """Lay ``filament_mm`` evenly along a path so that every piece runs at ``flow_mm3_s``.

    The path speed follows from flow: speed = length ÷ time, time = filament·section ÷ flow.
    """
    writer.lay_path(points, filament_mm, e_mm_s=feed_mm_s(flow_mm3_s, rig.filament_diameter_mm))


def write_end(writer: Writer, rig: Rig, pace: Pace, safe_mm: float, *, park: bool) -> None:
    """Heaters off first, then clear, park, cool, and let the motors go.

    A catch session stays where it is: its last coupon still hangs from the nozzle.
    """
    volume = rig.build_volume
    writer.comment()
    writer.comment("end: heaters off, park, cool")
    writer.nozzle(0)
    writer.bed(0)
    writer.fan(1)
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
    writer.travel(z=safe_mm, feed_mm_s=pace.lift_mm_s)
    if volume and park:
        writer.travel(EDGE_MARGIN_MM, volume.y_mm - EDGE_MARGIN_MM, feed_mm_s=pace.travel_mm_s)
    writer.dwell(COOL_DOWN_S)
    writer.fan(0)
    writer.motors_off()
