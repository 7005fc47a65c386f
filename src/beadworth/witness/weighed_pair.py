"""Weighed pair: one speed, two flows, two walls of a few grams on the balance.

Both are run along the same path at the same speed, so motion is the same in both. What the second
weighs less than its filament says, against the first, the melt did not deliver.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import LimitError, Place, Problem, bead_section_mm2
from beadworth.text import percent
from beadworth.witness.bead import LAYER_PER_NOZZLE, Machine, narrowest_mm, widest_mm
from beadworth.witness.codes import codes, shuffled
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.melt_or_motion import SPARE, ceiling_of
from beadworth.witness.outline import Outline, rounded
from beadworth.witness.placing import check_height, check_room, check_speed, foot

HIGHEST = 1.2
"""Flow of the faster one ÷ the ceiling asked about."""
SPEED_SHARE = 0.9
AT_FLOW_SHARE = 0.75
"""Of an object's filament, laid when the melt zone holds what was melted at its own flow."""
SIZE_MM = (70.0, 40.0)
WIDEST_CORNER_MM = 16.0
"""Axes slower than that brake in the corners, alike in both walls."""
CLEAR_MM = 8.0
"""For skirts, beside what the toolhead needs between two objects."""


@dataclass(frozen=True)
class Tuning:
    """Flow that runs ÷ flow asked for, of the faster one."""

    ratio: float = 0.95


def draw(machine: Machine, tuning: Tuning) -> Design:
    """Draw the two walls.

    Raises
    ------
    LimitError
        No ceiling given, or nothing that this rig can run and hold on its bed.
    """
    ceiling_of(machine)
    refused: list[Problem] = []
    for per_nozzle in (LAYER_PER_NOZZLE, 0.55, 0.58):
        h = machine.spec.layer_mm or round(per_nozzle * machine.nozzle_mm, 3)
        try:
            return _pair(machine, tuning, h)
        except LimitError as error:
            refused = list(error.problems)
            if machine.spec.layer_mm:
                break
    raise LimitError(refused)


def _pair(machine: Machine, tuning: Tuning, h: float) -> Design:
    ceiling, nozzle = ceiling_of(machine), machine.nozzle_mm
    widths = (SPARE * narrowest_mm(nozzle, h), widest_mm(nozzle) / SPARE)
    if widths[0] > 0.7 * widths[1]:
        raise LimitError(
            f"at {h:g} mm layer height two walls of one bead differ too little in width.",
            Place.of_field("witness", "layer_mm"), h, "Lower the layer height.",
        )  # fmt: skip
    flow = HIGHEST * ceiling / tuning.ratio
    speed = flow / float(bead_section_mm2(widths[1], h))
    check_speed(machine, speed, flow, "the faster wall")
    radius = min(machine.corner_mm(speed), WIDEST_CORNER_MM)
    width = max(SIZE_MM[0], 2 * radius + max(30.0, 8 * machine.run_up_mm(speed)))
    depth = max(SIZE_MM[1], 2 * radius + 20.0)
    pitch = depth + CLEAR_MM + machine.rig.toolhead.radius_mm
    check_room(machine, width, depth, "Ask about a lower flow.")
    pause = depth + pitch > machine.room_mm[1]
    pitch = 0.0 if pause else pitch
    outline = rounded(width, depth, radius)
    layers: list[Layer] = []
    bands = []
    marks = codes(2, machine.spec.seed)
    for number, which in enumerate(shuffled((0, 1), machine.spec.seed, "weighed pair")):
        layers += foot(machine, outline, 1, number)
        layers += _wall(machine, outline, h, widths[which], speed, number)
        bands.append(Band(
            number + 1, marks[number][0], None, "flow",
            {"speed_mm_s": speed, "width_mm": widths[which]}, ("weight",),
        ))  # fmt: skip
    tallest = max(sum(one.object == n for one in layers) for n in (0, 1))
    check_height(machine, tallest, h, "Ask for less mass.")
    x, y, _ = machine.limits.volume_mm
    return Design(
        "weighed pair", h, tuple(layers), tuple(bands),
        (Claim("speed", "front", SPEED_SHARE), Claim("flow", share=0.05)),
        ((x / 2, y / 2 + pitch / 2), (x / 2, y / 2 - pitch / 2)),
        rounded(width + 8, depth + 8, radius + 4), "side",
        "Which of the two is made first is drawn by lot: weigh both before you open the codes.",
        ("The bed holds one at a time: the program pauses between them.",) if pause else (), pause,
    )  # fmt: skip


def _wall(
    machine: Machine, outline: Outline, h: float, width: float, speed: float, number: int
) -> list[Layer]:
    """As many layers as weigh what is asked."""
    per_layer = float(bead_section_mm2(width, h)) * outline.length_mm()
    volume = machine.spec.grams / (machine.material.density_g_cm3 * 1e-3)
    count = max(4, round(volume / per_layer))
    fill = min(math.ceil(2 * machine.melt_zone_mm3 / per_layer), count - 2)
    return [
        Layer(outline, number + 1, width, speed, machine.spec.fan, n >= fill, object=number)
        for n in range(count)
    ]


def tune(design: Design, found: list[BandReach]) -> Tuning:
    """What the replay of a draft says of the next."""
    wide = max(range(2), key=lambda n: design.bands[n].settings["width_mm"])
    settings = design.bands[wide].settings
    section = float(bead_section_mm2(settings["width_mm"], design.layer_mm))
    return Tuning(found[wide].flow_mm3_s / (section * settings["speed_mm_s"]))


def judge(design: Design, machine: Machine, found: list[BandReach]) -> list[str]:
    """What keeps the pair from answering."""
    ceiling = ceiling_of(machine)
    flows = [reach.flow_mm3_s for reach in found]
    faults = []
    if max(flows) < 1.1 * ceiling:
        faults.append(f"the faster wall reaches {max(flows):.1f} mm³/s, not {1.1 * ceiling:.1f}")
    if min(flows) > 0.75 * ceiling:
        faults.append(
            f"the slower wall runs {min(flows):.1f} mm³/s, too near the ceiling of {ceiling:.1f}"
        )
    for number, share in enumerate(at_flow_shares(design, found), start=1):
        if share < AT_FLOW_SHARE:
            faults.append(f"wall {number} is laid at its own flow for {percent(share, 0)} only")
    return faults


def at_flow_shares(design: Design, found: list[BandReach]) -> list[float]:
    """Of the filament of each wall, the share laid when the melt zone holds its own flow."""
    shares = []
    for band, reach in zip(design.bands, found, strict=True):
        whole = sum(
            float(bead_section_mm2(one.width_mm, design.layer_mm)) * one.outline.length_mm()
            for one in design.layers
            if one.object == band.number - 1
        )
        shares.append(reach.laid_mm3 / whole)
    return shares
