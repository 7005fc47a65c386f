"""Grip ladder: how often the drive passes over the same filament before it grinds it.

Every retraction and recovery rolls a piece of filament through the drive twice more. Bands differ
in how many stand along their left side, so in how often each piece of filament passes.
"""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.core import LimitError, Place, bead_section_mm2
from beadworth.witness.bead import Machine
from beadworth.witness.codes import codes, shuffled
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.outline import rounded
from beadworth.witness.placing import check_height, check_room, check_speed, foot, middle

LAYERS = 10
SIZE_MM = (60.0, 60.0)
SPEED_MM_S = 40.0
PASSES_MISS = 0.15
CLOSEST_MM = 0.35
"""Between two retractions along the side."""
MOST_CYCLES = 120


@dataclass(frozen=True)
class Tuning:
    """Nothing to tune."""


def draw(machine: Machine, tuning: Tuning) -> Design:
    """Draw the ladder.

    Raises
    ------
    LimitError
        A rig that does not retract, or passes that cannot be made.
    """
    spec, h, bead = machine.spec, machine.layer_mm, machine.bead_mm
    retract = machine.rig.extruder.retract_mm
    if not retract:
        raise LimitError(
            "this rig does not retract, so no filament passes its drive twice.",
            Place.of_field(f"rig {machine.rig.name}", "extruder.retract_mm"), 0,
            "Record the retraction it uses.",
        )  # fmt: skip
    section = float(bead_section_mm2(bead, h))
    speed = min(SPEED_MM_S, machine.speed_mm_s)
    if spec.ceiling_mm3_s:
        speed = min(speed, 0.5 * spec.ceiling_mm3_s / section)
    check_speed(machine, speed, speed * section, "the wall")
    check_room(machine, *SIZE_MM, "Use a larger bed.")
    outline = rounded(*SIZE_MM, 8.0)
    per_layer = machine.e_per_mm(bead, h) * outline.length_mm()
    check_height(machine, 3 + LAYERS * len(spec.passes), h, "Ask for fewer bands.")
    layers, bands = foot(machine, outline, 3), []
    most = min(MOST_CYCLES, int((SIZE_MM[1] - 16) / CLOSEST_MM))
    order = shuffled(spec.passes, spec.seed, "grip")
    for number, (wanted, (code, mark)) in enumerate(
        zip(order, codes(len(order), spec.seed), strict=True), start=1
    ):
        cycles = round((wanted - 1) / 2 * per_layer / retract)
        if cycles > most:
            raise LimitError(
                f"{wanted:g} passes need {cycles} retractions a layer; {most} can stand along its "
                "side.",
                Place.of_field("witness", "passes"), wanted,
                f"Ask for {1 + 2 * most * retract / per_layer:.0f} passes at most.",
            )  # fmt: skip
        marked = rounded(*SIZE_MM, 8.0, code=mark)
        layers += [
            Layer(marked if n < 2 else outline, number, bead, speed, spec.fan, n >= 2, cycles)
            for n in range(LAYERS)
        ]
        passes = 1 + 2 * cycles * retract / per_layer
        bands.append(Band(
            number, code, mark, "passes",
            {"passes": passes, "cycles": cycles, "speed_mm_s": speed, "width_mm": bead},
            ("front",),
        ))  # fmt: skip
    return Design(
        "grip", h, tuple(layers), tuple(bands),
        (Claim("speed", "front", 0.7), Claim("passes", share=PASSES_MISS)), (middle(machine),),
        rounded(SIZE_MM[0] + 8, SIZE_MM[1] + 8, 12.0), "stop",
        "Bands stand in an order drawn by lot.",
        ("Look for filament dust below the drive after it, too.",),
    )  # fmt: skip


def tune(design: Design, found: list[BandReach]) -> Tuning:
    """Nothing to tune."""
    return Tuning()


def judge(design: Design, machine: Machine, found: list[BandReach]) -> list[str]:
    """Nothing beyond the claims."""
    return []
