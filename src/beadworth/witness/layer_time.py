"""Layer-time ladder: a wall to and fro, shorter from band to band, at one speed and one bead.

The time of a layer falls because the wall gets shorter, so flow, speed and bead stay what they
are. A short wall must stand on a long one: here the order of the bands is given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from beadworth.core import bead_section_mm2
from beadworth.witness.bead import Machine
from beadworth.witness.codes import codes
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.outline import meander, rounded
from beadworth.witness.placing import check_height, check_room, check_speed, foot, middle

TEETH = (12, 9, 7, 5, 4, 3, 2, 1)
TOOTH_MM, PITCH_MM = 50.0, 10.0
LAYERS = 12
SPEED_MM_S = 60.0
SPEED_SHARE = 0.7


@dataclass(frozen=True)
class Tuning:
    """Speed ÷ the usual one."""

    factor: float = 1.0


def draw(machine: Machine, tuning: Tuning) -> Design:
    """Draw the ladder.

    Raises
    ------
    LimitError
        A bed or a height too small for it.
    """
    spec, h, bead = machine.spec, machine.layer_mm, machine.bead_mm
    section = float(bead_section_mm2(bead, h))
    speed = tuning.factor * min(SPEED_MM_S, machine.speed_mm_s)
    if spec.ceiling_mm3_s:
        speed = min(speed, 0.6 * spec.ceiling_mm3_s / section)
    tooth = min(TOOTH_MM, machine.room_mm[1] - 12)
    most = int((machine.room_mm[0] - 12) // PITCH_MM)
    check_room(machine, 4 * PITCH_MM + 12, 30 + 12, "Use a larger bed.")
    teeth = [n for n in TEETH if n <= most]
    check_speed(machine, speed, speed * section, "the wall")
    check_height(machine, 2 + LAYERS * len(teeth), h, "Lower the layer height.")
    longest = meander(teeth[0], tooth, PITCH_MM)
    layers, bands = foot(machine, longest, 2), []
    for number, (count, (code, _)) in enumerate(
        zip(teeth, codes(len(teeth), spec.seed), strict=True), start=1
    ):
        outline = meander(count, tooth, PITCH_MM)
        layers += [Layer(outline, number, bead, speed, spec.fan, n >= 2) for n in range(LAYERS)]
        bands.append(Band(
            number, code, None, "layer time",
            {"teeth": count, "speed_mm_s": speed, "width_mm": bead, "fan": spec.fan}, ("first",),
        ))  # fmt: skip
    x, y = middle(machine)
    across = teeth[0] * PITCH_MM
    return Design(
        "layer time", h, tuple(layers), tuple(bands), (Claim("speed", "first", SPEED_SHARE),),
        ((x - across / 2, y - tooth / 2),),
        rounded(across + 10, tooth + 10, 4.0).moved(across / 2, tooth / 2), "travel",
        "Short layers must stand on long ones: the order cannot be drawn by lot. Let somebody who "
        "does not know it grade too.",
    )  # fmt: skip


def tune(design: Design, found: list[BandReach]) -> Tuning:
    """Slower, where the teeth are too short for the speed."""
    share = min(reach.sides["first"].share for reach in found)
    speed = design.bands[0].settings["speed_mm_s"]
    factor = speed / SPEED_MM_S
    return Tuning(factor * math.sqrt((1 - SPEED_SHARE) / max(1 - share, 0.05)) * 0.97)


def judge(design: Design, machine: Machine, found: list[BandReach]) -> list[str]:
    """Whether the times make a ladder."""
    times = [reach.layer_time_s for reach in found]
    if any(b >= a for a, b in pairwise(times)):
        return ["layer times do not fall from band to band"]
    if max(times) < 3 * min(times):
        return [f"layer times span {min(times):.1f} to {max(times):.1f} s only"]
    return []
