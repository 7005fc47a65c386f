"""The comments a witness program starts with. They name codes, never settings."""

from __future__ import annotations

from beadworth.core import filament_mass_g
from beadworth.gcode import comment_lines
from beadworth.trial import CAUTIONS, SOAK_S, bed_temperature_c
from beadworth.witness.bead import Machine
from beadworth.witness.design import Design
from beadworth.witness.program import Written
from beadworth.witness.spec import QUESTIONS


def header(design: Design, machine: Machine, written: Written) -> str:
    """The head of a program as comment lines, ending with a newline."""
    rig, material, spec = machine.rig, machine.material, machine.spec
    bed = bed_temperature_c(material)
    mass = filament_mass_g(written.filament_mm, rig.filament_diameter_mm, material.density_g_cm3)
    head = rig.toolhead
    lines = [
        f"Beadworth witness print: {design.kind}",
        f"Question: {QUESTIONS[design.kind]}",
        f"Rig: {rig.name}. Material: {material.name}. Seed: {spec.seed}.",
        "",
        "WHAT IT WILL DO",
        f"Homes, heats, soaks {SOAK_S:g} s, lays a skirt, then {len(design.bands)} bands in "
        f"{len(design.layers)} layers of {design.layer_mm:g} mm.",
        "At the end: heaters off, retract, park, fan on, motors off. It may still be hot then.",
        "",
        f"HOW LONG about {written.minutes:.0f} min",
        f"HOW HOT  nozzle {spec.temperature_c:g} C, bed {f'{bed:g} C' if bed else 'not heated'}",
        f"FILAMENT {written.filament_mm:.0f} mm ({mass:.1f} g)",
        "",
        "CAUTIONS",
        *(f"- {caution}" for caution in CAUTIONS),
        *([f"- {material.name}: {material.fumes_note}"] if material.fumes_note else []),
        "",
        "BEFORE YOU START",
        "- The bed is clear, clean and level; nothing is in the way of any axis.",
        f"- The nozzle is {rig.hot_end.nozzle_mm:g} mm and the filament "
        f"{rig.filament_diameter_mm:g} mm across.",
        "- Flow and speed overrides at the printer stand at 100 %; leave them there.",
        "- The controller runs G2 and G3 arcs.",
    ]
    if len(design.places_mm) > 1:
        lines.append(
            f"- Nothing but the nozzle hangs lower than {head.height_mm:g} mm over its tip within "
            f"{head.radius_mm:g} mm: two objects are made one after the other."
        )
    if machine.limits.unchecked:
        lines.append(f"- Not recorded, so check yourself: {'; '.join(machine.limits.unchecked)}.")
    lines += ["", "BANDS FROM THE BOTTOM, BY CODE", f"  {' '.join(b.code for b in design.bands)}"]
    lines += [design.shuffled, ""]
    return "".join(
        f"{out}\n" for line in lines for out in comment_lines(line, indent="  " * (line[:1] == "-"))
    )
