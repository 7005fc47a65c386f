"""Weighed pair: one speed, two flows, two walls of a few grams on the balance.

Both are run along the same path at the same speed, so motion is the same in both. What the second
weighs less than its filament says, against the first, the melt did not deliver.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.core import LimitError, Place, bead_section_mm2
from beadworth.text import percent
from beadworth.witness.bead import Machine, narrowest_mm, widest_mm
from beadworth.witness.codes import codes, shuffled
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.melt_or_motion import SPARE, at_a_layer_height, ceiling_of
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
    return at_a_layer_height(machine, lambda h: _pair(machine, tuning, h))


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


def at_flow_shares(design: Design, found: Sequence[BandReach]) -> list[float]:
    """Of the filament of each wall, the share laid when the melt zone holds its own flow."""
    volumes = volumes_mm3(design)
    return [
        reach.laid_mm3 / volumes[band.number - 1]
        for band, reach in zip(design.bands, found, strict=True)
    ]


def volumes_mm3(design: Design) -> dict[int, float]:
    """Filament of each object, by its number from 0, foot and all."""
    volumes: dict[int, float] = {}
    outlines = {id(one.outline): one.outline for one in design.layers}
    length_mm = {key: outline.length_mm() for key, outline in outlines.items()}
    for one in design.layers:
        section = float(bead_section_mm2(one.width_mm, design.layer_mm))
        volume = section * length_mm[id(one.outline)]
        volumes[one.object] = volumes.get(one.object, 0.0) + volume
    return volumes
