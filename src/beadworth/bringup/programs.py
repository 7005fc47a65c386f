"""Programs (G-code) that make the measurements of a bring-up, inside the rig's limits.

Each starts with what it will do and what to mind, and is refused whole where a move, feed or
temperature would leave what the rig's record allows (:class:`beadworth.gcode.Writer`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from beadworth.core import LimitError, Place, bead_section_mm2, filament_section_mm2
from beadworth.gcode import SAFE_SPEED_MM_S, SAFE_Z_SPEED_MM_S, Limits, Writer
from beadworth.material import Material
from beadworth.rig import Rig

Axis = Literal["x", "y", "z"]

CAUTIONS = (
    "Moving: the axes start without warning. Hands out; know where the power switch is.",
    "Stay with the machine from start to end.",
)
HOT_CAUTIONS = (
    *CAUTIONS,
    "Hot: nozzle, block, bed and fresh plastic burn the skin; use tweezers.",
    "Fumes: ventilate the room or extract at the printer.",
    "Mains wiring is work for licensed people under your local codes.",
    "If you stop it by hand, switch the heaters off yourself and watch them cool.",
)
LIFT_MM = 20.0
MEASURING_SPEED_MM_S = 20.0
BACK_OFF_MM = 5.0
"""Every length is approached from this far before it, so that play does not count."""
FEED_MM, FEED_SPEED_MM_S, FEED_TIMES = 100.0, 1.5, 3
SQUARE_SHARE, SQUARE_LAYER_MM, SQUARE_SPEED_MM_S = 0.8, 0.25, 30.0
HOLD_S, REST_S, COOL_S = 300.0, 60.0, 300.0


def move_lengths(rig: Rig, axis: Axis) -> tuple[float, ...]:
    """Five lengths over an axis, whole millimetres, up to nine tenths of its reach."""
    reach = _reach(rig, axis) - BACK_OFF_MM - _start(axis)
    return tuple(float(int(reach * share)) for share in (0.15, 0.35, 0.55, 0.75, 0.95))


def moves_program(rig: Rig, axis: Axis, lengths_mm: Sequence[float] | None = None) -> str:
    """Cold program: drive one axis to known lengths and pause at each to measure.

    Raises
    ------
    LimitError
        No build volume on record, or a length beyond it.
    """
    lengths = tuple(lengths_mm) if lengths_mm is not None else move_lengths(rig, axis)
    writer = Writer(_cold_limits(rig))
    _head(
        writer,
        f"measured moves of {axis}",
        rig,
        [
            f"Homes, then drives {axis} to {len(lengths)} lengths, each approached from "
            f"{BACK_OFF_MM:g} mm before it, and pauses at each. Nothing is heated.",
            "Fix a ruler or calliper along the axis, read it at the first pause (zero) and at each "
            "after it; write down reading minus zero.",
        ],
        CAUTIONS,
    )
    writer.home(LIFT_MM)
    speed = min(MEASURING_SPEED_MM_S, writer.limits.speed_mm_s["xyz".index(axis)])
    first = _start(axis)
    if axis != "x":
        writer.travel(x=_reach(rig, "x") / 2.0, feed_mm_s=_speed(writer, 0))
    if axis != "y":
        writer.travel(y=_reach(rig, "y") / 2.0, feed_mm_s=_speed(writer, 1))
    if axis == "z":  # from below: the same side of the play as for the lengths
        writer.travel(z=first - BACK_OFF_MM, feed_mm_s=speed)
    else:
        writer.travel(**{axis: max(first - BACK_OFF_MM, 0.0)}, feed_mm_s=speed)
    writer.travel(**{axis: first}, feed_mm_s=speed)
    writer.pause("set or read the ruler here: this is zero")
    for length in lengths:
        target = first + length
        writer.travel(**{axis: target - BACK_OFF_MM}, feed_mm_s=speed)
        writer.travel(**{axis: target}, feed_mm_s=speed)
        writer.pause(f"commanded {length:g} mm from zero: read and write down")
    if axis == "z":
        writer.comment("down again: without power z may drop")
        writer.travel(z=LIFT_MM, feed_mm_s=speed)
    writer.motors_off()
    return writer.text()


def feed_program(rig: Rig, material: Material, temperature_c: float) -> str:
    """Feed a known length three times, slowly and hot, pausing to measure the mark and to weigh.

    Raises
    ------
    LimitError
        A limit not on record, or a temperature or feed beyond one.
    """
    writer = Writer(Limits.of(rig, material))
    _head(
        writer,
        "extruder feed",
        rig,
        [
            f"Heats to {temperature_c:g} C, then feeds {FEED_MM:g} mm of filament "
            f"{FEED_TIMES} times at {FEED_SPEED_MM_S:g} mm/s, so slowly that the hot end loses "
            "nothing, and pauses before and after each.",
            "Mark the filament at each first pause and measure mark to drive entry; measure "
            "again after feeding. Fed = first less second reading. Weigh what came out as well.",
        ],
        HOT_CAUTIONS,
    )
    writer.nozzle(temperature_c)
    writer.home(min(50.0, _reach(rig, "z") / 2.0))
    writer.nozzle(temperature_c, wait_s=180.0)
    writer.comment("fill the nozzle")
    writer.extrude(20.0, feed_mm_s=FEED_SPEED_MM_S)
    for number in range(1, FEED_TIMES + 1):
        writer.pause(
            f"feeding {number}: clear the nozzle, mark the filament about {FEED_MM + 20:g} mm "
            "before the drive, measure mark to entry"
        )
        writer.extrude(FEED_MM, feed_mm_s=FEED_SPEED_MM_S)
        writer.dwell(5.0)
        writer.pause(f"feeding {number}: measure mark to entry, snip, keep the piece for weighing")
    writer.nozzle(0.0)
    writer.motors_off()
    return writer.text()


def square_program(rig: Rig, material: Material, temperature_c: float) -> str:
    """Lay one thin rectangle over most of the bed, its diagonals to be measured.

    Raises
    ------
    LimitError
        A limit not on record, or a temperature, move or feed beyond one.
    """
    limits = Limits.of(rig, material)
    writer = Writer(limits)
    wide, deep = (_reach(rig, "x") * SQUARE_SHARE, _reach(rig, "y") * SQUARE_SHARE)
    left, front = (_reach(rig, "x") - wide) / 2.0, (_reach(rig, "y") - deep) / 2.0
    _head(
        writer,
        "squareness of x and y",
        rig,
        [
            f"Heats and lays one line round a rectangle of {wide:g} x {deep:g} mm, "
            f"{SQUARE_LAYER_MM:g} mm high.",
            "When the bed is cold, measure both diagonals from corner to corner: front left to "
            "back right (up), back left to front right (down).",
        ],
        HOT_CAUTIONS,
    )
    width = max(1.2 * rig.hot_end.nozzle_mm, 2.0 * SQUARE_LAYER_MM)
    per_mm = bead_section_mm2(width, SQUARE_LAYER_MM) / filament_section_mm2(
        rig.filament_diameter_mm
    )
    if material.bed_c:
        writer.bed(material.bed_c)
    writer.nozzle(temperature_c)
    writer.home(LIFT_MM)
    if material.bed_c:
        writer.bed(material.bed_c, wait_s=300.0)
    writer.nozzle(temperature_c, wait_s=180.0)
    fast = min(_speed(writer, 0), _speed(writer, 1))
    speed = min(SQUARE_SPEED_MM_S, fast)
    lead_in = min(20.0, left)
    writer.travel(x=left - lead_in, y=front, feed_mm_s=fast)
    writer.extrude(10.0, feed_mm_s=FEED_SPEED_MM_S)
    writer.travel(z=SQUARE_LAYER_MM, feed_mm_s=_speed(writer, 2))
    corners = [
        (left, front), (left + wide, front), (left + wide, front + deep), (left, front + deep),
        (left, front),
    ]  # fmt: skip
    at = (left - lead_in, front)
    for x, y in corners:
        run = abs(x - at[0]) + abs(y - at[1])
        if run:
            writer.lay(x, y, SQUARE_LAYER_MM, run * per_mm, feed_mm_s=speed)
        at = (x, y)
    writer.retract(rig.extruder.retract_mm, feed_mm_s=_retract_speed(rig))
    writer.travel(z=LIFT_MM, feed_mm_s=_speed(writer, 2))
    _off(writer, bed=bool(material.bed_c))
    return writer.text()


def heater_program(rig: Rig, material: Material, temperature_c: float) -> str:
    """Cold start, full heat, hold and cooling, to be logged once a second.

    Raises
    ------
    LimitError
        A limit not on record, or a temperature beyond it.
    """
    writer = Writer(Limits.of(rig, material))
    _head(
        writer,
        "heater log",
        rig,
        [
            f"Rests {REST_S:g} s cold, heats to {temperature_c:g} C, holds {HOLD_S:g} s, switches "
            f"off and waits {COOL_S:g} s.",
            "Start logging time, temperature and duty (0 to 1) once a second before you start it, "
            "with everything at room temperature and the part fan off.",
        ],
        HOT_CAUTIONS,
    )
    writer.home(min(50.0, _reach(rig, "z") / 2.0))
    writer.fan(0.0)
    writer.dwell(REST_S)
    writer.nozzle(temperature_c, wait_s=180.0)
    writer.dwell(HOLD_S)
    writer.nozzle(0.0)
    writer.dwell(COOL_S)
    writer.motors_off()
    return writer.text()


def _head(
    writer: Writer, title: str, rig: Rig, story: Sequence[str], cautions: Sequence[str]
) -> None:
    writer.comment(f"Beadworth bring-up: {title}")
    writer.comment(f"Rig: {rig.name}")
    for heading, lines in (("WHAT IT WILL DO", story), ("CAUTIONS", cautions)):
        writer.comment()
        writer.comment(heading)
        for line in lines:
            writer.comment(f"- {line}", indent="  ")
    if writer.limits.unchecked:
        writer.comment(f"- Not recorded, check it yourself: {'; '.join(writer.limits.unchecked)}.",
                       indent="  ")  # fmt: skip
    writer.comment()


def _off(writer: Writer, *, bed: bool) -> None:
    writer.nozzle(0.0)
    if bed:
        writer.bed(0.0)
    writer.motors_off()


def _start(axis: Axis) -> float:
    """Where lengths are counted from: clear of the low stop, and of the bed."""
    return 10.0 if axis == "z" else BACK_OFF_MM


def _reach(rig: Rig, axis: Axis) -> float:
    if rig.build_volume is None:
        raise LimitError(
            "the build volume is not recorded, so no program can promise to stay inside it.",
            where=Place.of_field(f"rig {rig.name}", "build_volume"),
            remedy="Fill in build_volume.x_mm, build_volume.y_mm and build_volume.z_mm.",
        )
    return float(getattr(rig.build_volume, f"{axis}_mm"))


def _cold_limits(rig: Rig) -> Limits:
    """Limits of a program that heats nothing and feeds nothing."""
    top = rig.motion.max_speed_mm_s
    return Limits(
        rig=rig.name,
        volume_mm=(_reach(rig, "x"), _reach(rig, "y"), _reach(rig, "z")),
        speed_mm_s=(top.x, top.y, top.z)
        if top
        else (SAFE_SPEED_MM_S, SAFE_SPEED_MM_S, SAFE_Z_SPEED_MM_S),
        temperature_c=0.0,
        feed_mm_s=0.0,
        extruder_acceleration_mm_s2=None,
        section_mm2=filament_section_mm2(rig.filament_diameter_mm),
        unchecked=() if top else ("motion.max_speed_mm_s",),
    )


def _speed(writer: Writer, axis: int) -> float:
    """A travel speed inside the axis' limit."""
    return min(writer.limits.speed_mm_s[axis], SAFE_Z_SPEED_MM_S if axis == 2 else 80.0)


def _retract_speed(rig: Rig) -> float:
    top = rig.extruder.max_feed_mm_s
    return min(rig.extruder.retract_mm_s, top) if top else rig.extruder.retract_mm_s
