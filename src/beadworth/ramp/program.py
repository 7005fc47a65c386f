"""The program of a flow ramp: G-code for the printer's own storage, inside the rig's limits."""

from __future__ import annotations

from dataclasses import dataclass, replace

from beadworth.core import (
    ROOM_C,
    LimitError,
    Place,
    Problem,
    feed_mm_s,
    filament_section_mm2,
    to_toml,
)
from beadworth.gcode import Limits, Writer, comment_lines, unknown_limits
from beadworth.material import Material
from beadworth.ramp.record import (
    PAUSE_S,
    RAISE_AFTER_S,
    RAISE_MM,
    RampSpec,
    Section,
    sections_of,
)
from beadworth.rig import Rig
from beadworth.text import slug
from beadworth.trial import CAUTIONS, NOZZLE_RISE_C_S, Pace, heat_problems, write_end

ROOM_OVER_CUP_MM = 25.0
"""The nozzle starts so high over the cup."""
SOAK_S = 60.0
"""At temperature before the first extrusion of a temperature."""
FALL_S_C = 2.0
"""Dwell for each degree that the nozzle falls."""
PRIME_MM3 = 40.0
"""Fed before each temperature: what oozed while it heated is made good."""
LOOSE = 7.0
"""A heap of strands fills about so many times the volume of its plastic (assumption)."""
HANDS_MIN = 2.0
"""What the pause for the cup is reckoned to last."""

LIVE_CAUTIONS = (
    *CAUTIONS,
    "Stay beside it all the time: a hot strand that misses the cup burns what it lands on.",
    "The nozzle moves up only. Keep it so: nothing may lower it while the balance stands there.",
)


@dataclass(frozen=True)
class RampProgram:
    """A program and what a person is told before the start."""

    name: str
    """File name without its ending."""
    text: str
    minutes: float
    """Heating, soaking, steps and cooling, reckoned, and two minutes of hands."""
    trace_minutes: float
    """Of them from the first extrusion to the last mark."""
    grams: float
    """Into the cup, primes included."""
    filament_mm: float
    heap_ml: float
    """Room the strands take in the cup (assumption)."""
    highest_temperature_c: float
    before: tuple[str, ...]
    """What to do before the start, and at its pause."""
    cautions: tuple[str, ...]
    sections: tuple[Section, ...]


def ramp_program(spec: RampSpec, rig: Rig, material: Material) -> RampProgram:
    """The program of a flow ramp.

    Parameters
    ----------
    spec : RampSpec
    rig, material : Rig, Material
        Those that ``spec`` names. Needs ``build_volume`` and ``hot_end.temperature_limit_c``.

    Returns
    -------
    RampProgram

    Raises
    ------
    LimitError
        Everything outside rig, material or cup at once: temperatures, flows the extruder cannot
        turn, a nozzle that would rise out of the build volume, a cup too small.
    """
    problems = [*unknown_limits(rig), *heat_problems(rig, material, spec.temperatures_c)]
    sections = sections_of(spec)
    volume_mm3 = sum(s.volume_mm3 for s in sections) + PRIME_MM3 * len(sections)
    heap_ml = LOOSE * volume_mm3 * 1e-3
    problems += _room_problems(spec, rig, heap_ml)
    if problems:
        raise LimitError(problems)
    writer = Writer(Limits.of(rig, material))
    start_mm = spec.cup_height_mm + ROOM_OVER_CUP_MM
    _write(writer, spec, rig, material, sections, start_mm)
    grams = volume_mm3 * 1e-3 * material.density_g_cm3
    minutes = writer.seconds / 60.0 + HANDS_MIN
    program = RampProgram(
        slug(f"ramp {spec.rig} {spec.material}"),
        "",
        minutes,
        sum(s.seconds for s in sections) / 60.0,
        grams,
        volume_mm3 / filament_section_mm2(rig.filament_diameter_mm),
        heap_ml,
        max(spec.temperatures_c),
        _before(spec, start_mm, grams, heap_ml),
        LIVE_CAUTIONS
        + ((f"{material.name}: {material.fumes_note}",) if material.fumes_note else ()),
        sections,
    )
    text = _header(spec, program, rig, material, writer.limits.unchecked) + writer.text()
    return replace(program, text=text)


def _room_problems(spec: RampSpec, rig: Rig, heap_ml: float) -> list[Problem]:
    problems = []
    top = spec.cup_height_mm + ROOM_OVER_CUP_MM + RAISE_MM * len(spec.temperatures_c)
    volume = rig.build_volume
    if volume is not None and top > volume.z_mm:
        problems.append(
            Problem(
                f"balance and cup are {spec.cup_height_mm:g} mm high; the nozzle would rise to "
                f"{top:g} mm, and the rig reaches {volume.z_mm:g} mm.",
                Place.of_field("ramp", "cup_height_mm"),
                spec.cup_height_mm,
                "Use a flatter balance or cup, or fewer temperatures.",
            )
        )
    if heap_ml > spec.cup_capacity_ml:
        problems.append(
            Problem(
                f"the strands would fill about {heap_ml:.0f} ml ({LOOSE:g} times their plastic, an "
                f"assumption); the cup holds {spec.cup_capacity_ml:g} ml.",
                Place.of_field("ramp", "cup_capacity_ml"),
                spec.cup_capacity_ml,
                "Use a larger cup, fewer cycles or shorter legs, or a ramp for each temperature.",
            )
        )
    return problems


def _write(
    writer: Writer,
    spec: RampSpec,
    rig: Rig,
    material: Material,
    sections: tuple[Section, ...],
    start_mm: float,
) -> None:
    pace, volume = Pace(rig), rig.build_volume
    writer.comment("start")
    writer.fan(0)
    writer.home(start_mm)
    if volume:
        writer.travel(volume.x_mm / 2, volume.y_mm / 2, feed_mm_s=pace.travel_mm_s)
    writer.pause(
        "set balance and cup under the nozzle and start recording (the list is at the top of this "
        "file). Lift the cup off for 10 s and put it back. Hands away, then resume."
    )
    height, now = start_mm, ROOM_C
    for section in sections:
        writer.comment()
        writer.comment(f"{section.temperature_c:g} C")
        rise = section.temperature_c - now
        writer.nozzle(section.temperature_c, wait_s=max(0.0, rise) / NOZZLE_RISE_C_S)
        writer.dwell(SOAK_S + max(0.0, -rise) * FALL_S_C)
        now = section.temperature_c
        flow = section.steps[0].flow_mm3_s
        feed = feed_mm_s(flow, rig.filament_diameter_mm)
        writer.comment("prime")
        writer.extrude(PRIME_MM3 / filament_section_mm2(rig.filament_diameter_mm), feed_mm_s=feed)
        writer.dwell(PAUSE_S)
        height = _steps(writer, section, rig, pace, height)
    write_end(writer, rig, pace, height, park=False)


def _steps(writer: Writer, section: Section, rig: Rig, pace: Pace, height: float) -> float:
    """All steps of one temperature; returns how high the nozzle stands then."""
    said, last = "", 0
    for step in section.steps:
        label = f"{step.kind} {step.cycle}" if step.cycle else step.kind
        if label != said and step.kind != "pause":
            writer.comment(label)
        said = label
        if step.kind == "pause":
            if last == 1:  # the first cycle is over: does a pile hold on to the nozzle?
                writer.dwell(RAISE_AFTER_S)
                height += RAISE_MM
                writer.travel(z=height, feed_mm_s=pace.lift_mm_s)
                writer.dwell(step.seconds - RAISE_AFTER_S - RAISE_MM / pace.lift_mm_s)
            else:
                writer.dwell(step.seconds)
        else:
            feed = feed_mm_s(step.flow_mm3_s, rig.filament_diameter_mm)
            length = step.volume_mm3 / filament_section_mm2(rig.filament_diameter_mm)
            writer.extrude(length, feed_mm_s=feed)
        last = step.cycle
    return height


def _before(spec: RampSpec, start_mm: float, grams: float, heap_ml: float) -> tuple[str, ...]:
    return (
        "The bed is clear, and nothing stands in the way of any axis: it homes first.",
        f"It then lifts the nozzle {start_mm:g} mm over the bed, moves over its middle and pauses, "
        "still cold. Now set the balance under the nozzle, on something level and firm.",
        "Switch off the balance's zero tracking and its automatic power-off. Put a weight of "
        "20 g or more on it beside the cup, and never tare.",
        f"The cup stands in the middle under the nozzle, touches nothing, and takes {grams:.0f} g "
        f"({heap_ml:.0f} ml of loose strands, an assumption).",
        "Part-cooling fan off, room fans off, windows shut while it weighs; air the room "
        "through an extract that does not blow on the balance.",
        "Start recording time and mass, 2 readings a second or more. Lift the cup off for 10 s and "
        "put it back, before you resume and after the end.",
        "Flow and speed overrides at the printer stand at 100 %; leave them there.",
    )


def _header(
    spec: RampSpec,
    program: RampProgram,
    rig: Rig,
    material: Material,
    unchecked: tuple[str, ...],
) -> str:
    ranges = zip(spec.temperatures_c, spec.ranges_mm3_s, strict=True)
    lines = [
        "Beadworth flow ramp, for live weighing",
        f"Rig: {rig.name}. Material: {material.name}.",
        "",
        "WHAT IT WILL DO",
        "Homes, lifts the nozzle, pauses for balance and cup. Then, from this file alone, heats "
        "and extrudes into the cup:",
        *(f"- {t:g} C: {spec.cycles} times {low:g} to {high:g} mm3/s and back"
          for t, (low, high) in ranges),
        f"A pause of {PAUSE_S:g} s is a mark in the trace. After the first cycle of a temperature "
        f"the nozzle rises {RAISE_MM:g} mm.",
        "At the end: heaters off, stays in place, fan on, motors off. It may still be hot then.",
        "",
        f"HOW LONG about {program.minutes:.0f} min",
        f"HOW HOT  nozzle up to {program.highest_temperature_c:g} C, bed not heated",
        f"FILAMENT {program.filament_mm:.0f} mm ({program.grams:.1f} g)",
        "",
        "CAUTIONS",
        *(f"- {caution}" for caution in program.cautions),
        "",
        "BEFORE YOU START, AND AT THE PAUSE",
        *(f"- {step}" for step in program.before),
    ]  # fmt: skip
    if unchecked:
        lines.append(f"- Not recorded for this rig, so check it yourself: {'; '.join(unchecked)}.")
    lines += ["", "RAMP RECORD (to read the trace with)", *to_toml(spec).splitlines(), ""]
    return "".join(
        f"{out}\n" for line in lines for out in comment_lines(line, indent="  " * (line[:1] == "-"))
    )
