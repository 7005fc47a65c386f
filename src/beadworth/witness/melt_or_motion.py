"""Melt or motion: a loop of one wall in which flow and speed rise apart from each other.

Half the bands climb in flow at one speed, by a wider bead; half climb in speed at one flow, by a
narrower one. What worsens with the first is the melt's, with the second the motion's. The flat
front is run at full speed; the sharp folds of the back are where motion shows.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from beadworth.core import LimitError, Place, Problem, bead_section_mm2
from beadworth.witness.bead import LAYER_PER_NOZZLE, Machine, narrowest_mm, widest_mm, width_of_mm
from beadworth.witness.codes import codes, shuffled
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.outline import FOLD_SIZES_MM, Outline, fold_leg_mm, folds, rounded
from beadworth.witness.placing import foot, middle

BANDS = 16
LAYERS = 8
"""Of a band, at least."""
GRADED = 3
"""Of a band's layers, at least, when the melt zone holds its own flow."""
LOWEST, HIGHEST = 0.6, 1.2
"""Flows of the climbing bands ÷ the ceiling asked about."""
STEADY = 0.75
"""Flow of the bands that climb in speed ÷ the ceiling."""
FRONT_SHARE, FOLDED_SHARE = 0.9, 0.25
"""Of a side's length that must be run at its speed."""
FLOW_MISS = 0.05
FOOT_LAYERS = 3
SIZE_MM = (140.0, 90.0)
LEAST_MM = (90.0, 60.0)
LAYERS_PER_NOZZLE = (LAYER_PER_NOZZLE, 0.55, 0.58)
"""Layer heights ÷ nozzle diameter to try in turn."""
SPARE = 1.04
"""Between the bead limits and the widths asked for."""


@dataclass(frozen=True)
class Tuning:
    """What a replay of the last draft taught: flow that runs ÷ flow asked for, by band."""

    ratio: tuple[float, ...] = ()

    def of(self, index: int) -> float:
        """Of one of the sixteen, in the order climbing flow, then climbing speed."""
        return self.ratio[index] if self.ratio else 0.9


@dataclass(frozen=True)
class _Setting:
    chain: str
    width_mm: float
    speed_mm_s: float
    index: int


def draw(machine: Machine, tuning: Tuning) -> Design:
    """Draw the loop.

    Raises
    ------
    LimitError
        No ceiling given, or no loop that these axes, this bed and this extruder can run.
    """
    ceiling = ceiling_of(machine)

    def drawn(h: float) -> Design:
        return _loop(machine, h, _settings(machine, h, ceiling, tuning))

    return at_a_layer_height(machine, drawn)


def at_a_layer_height(machine: Machine, drawn: Callable[[float], Design]) -> Design:
    """Draw at the layer height asked for; where none is, at thicker layers until one will do.

    Raises
    ------
    LimitError
        What stands in the way of the last one tried.
    """
    if machine.spec.layer_mm:
        return drawn(machine.spec.layer_mm)
    refused: list[Problem] = []
    for per_nozzle in LAYERS_PER_NOZZLE:
        try:
            return drawn(round(per_nozzle * machine.nozzle_mm, 3))
        except LimitError as error:
            refused = list(error.problems)
    raise LimitError(refused)


def ceiling_of(machine: Machine) -> float:
    """The ceiling asked about.

    Raises
    ------
    LimitError
        None was given.
    """
    if machine.spec.ceiling_mm3_s is None:
        raise LimitError(
            "this witness is built about the flow at which the hot end is thought to fall short, "
            "and none is given.",
            Place.of_field("witness", "ceiling_mm3_s"),
            None,
            "Weigh a few coupons first, or give the flow you suspect.",
        )
    return machine.spec.ceiling_mm3_s


def _settings(machine: Machine, h: float, ceiling: float, tuning: Tuning) -> list[_Setting]:
    """Widths and speeds of the sixteen bands, those that climb in flow first."""
    nozzle = machine.nozzle_mm
    low, high = SPARE * narrowest_mm(nozzle, h), widest_mm(nozzle) / SPARE
    if low >= 0.8 * high:
        raise LimitError(
            f"at {h:g} mm layer height a wall of one bead can only be {low:.2f} to {high:.2f} mm "
            "wide, too little to climb in flow.",
            Place.of_field("witness", "layer_mm"), h, "Lower the layer height.",
        )  # fmt: skip
    half = BANDS // 2
    flows = np.geomspace(LOWEST, HIGHEST, half) * ceiling
    asked = [float(q) / tuning.of(i) for i, q in enumerate(flows)]
    widest, narrowest = (float(bead_section_mm2(w, h)) for w in (high, low))
    speed = asked[-1] / widest
    if asked[0] / speed < narrowest:  # the lowest flow would be too thin: begin higher
        lowest = narrowest * speed * tuning.of(0)
        flows = np.geomspace(lowest, HIGHEST * ceiling, half)
        asked = [float(q) / tuning.of(i) for i, q in enumerate(flows)]
    climbing = [
        _Setting("flow", width_of_mm(min(max(q / speed, narrowest), widest), h), speed, i)
        for i, q in enumerate(asked)
    ]
    steady = STEADY * ceiling
    speeds = np.geomspace(
        steady / tuning.of(half) / widest, steady / tuning.of(BANDS - 1) / narrowest, half
    )
    faster = [
        _Setting("speed", width_of_mm(
            min(max(steady / tuning.of(half + i) / float(v), narrowest), widest), h
        ), float(v), half + i)
        for i, v in enumerate(speeds)
    ]  # fmt: skip
    return [*climbing, *faster]


def _refuse_speed(machine: Machine, fastest: float, flow: float) -> list[Problem]:
    where = f"rig {machine.rig.name}"
    problems = []
    if fastest > machine.speed_mm_s:
        problems.append(Problem(
            f"to bring the hot end to {flow:.1f} mm³/s in a wall of one bead, the nozzle would "
            f"have to run {fastest:.0f} mm/s; x and y reach {machine.speed_mm_s:g} mm/s.",
            Place.of_field(where, "motion.max_speed_mm_s"), round(fastest, 1),
            "Ask about a lower flow, raise the layer height, or fit a wider nozzle.",
        ))  # fmt: skip
    if flow > machine.most_flow_mm3_s:
        problems.append(Problem(
            f"{flow:.1f} mm³/s is more than the extruder turns "
            f"({machine.most_flow_mm3_s:.1f} mm³/s).",
            Place.of_field(where, "extruder.max_feed_mm_s"), round(flow, 2),
            "Ask about a lower flow: this extruder is the limit, not the hot end.",
        ))  # fmt: skip
    return problems


def _loop(machine: Machine, h: float, settings: list[_Setting]) -> Design:
    sections = [float(bead_section_mm2(s.width_mm, h)) for s in settings]
    fastest = max(s.speed_mm_s for s in settings)
    most = max(a * s.speed_mm_s for a, s in zip(sections, settings, strict=True))
    problems = _refuse_speed(machine, fastest, most)
    size = _size(machine, fastest)
    if isinstance(size, Problem):
        problems.append(size)
    if problems or isinstance(size, Problem):
        raise LimitError(problems)
    width, depth, radius, fold = size
    width, drive = _off_the_drive(machine, settings, (width, depth, radius, fold), h)
    plain = _outline(width, depth, radius, fold, None)
    per_layer = min(sections) * plain.length_mm()
    count = max(LAYERS, math.ceil(2 * machine.melt_zone_mm3 / per_layer) + GRADED)
    height = (BANDS * count + FOOT_LAYERS) * h
    if height > machine.room_mm[2]:
        raise LimitError(
            f"sixteen bands of {count} layers would stand {height:.0f} mm high; there is room for "
            f"{machine.room_mm[2]:.0f} mm.",
            Place.of_field(f"rig {machine.rig.name}", "build_volume.z_mm"), round(height, 1),
            "Use the weighed pair: it needs no height.",
        )  # fmt: skip
    return _design(machine, h, settings, (width, depth, radius, fold), count, drive)


def _outline(
    width: float, depth: float, radius: float, fold: tuple[float, float], code: int | None
) -> Outline:
    back = folds(-width / 2 + radius, width / 2 - radius, depth / 2, fold)
    return rounded(width, depth, radius, back=back, code=code)


def _size(
    machine: Machine, fastest: float
) -> tuple[float, float, float, tuple[float, float]] | Problem:
    """Width, depth, corner radius and fold that let every side reach the fastest speed."""
    radius = machine.corner_mm(fastest)
    run_up = 2 * machine.run_up_mm(fastest)
    room_x, room_y, _ = machine.room_mm
    fold = next(
        (f for f in FOLD_SIZES_MM if 1 - run_up / fold_leg_mm(f) >= FOLDED_SHARE + 0.08), None
    )
    least_x = max(LEAST_MM[0], 2 * radius + 60.0, 2 * radius + (2.2 * fold[0] if fold else 0))
    least_y = max(LEAST_MM[1], 2 * radius + 40.0, (fold[1] if fold else 0) + 40.0)
    if fold is None or least_x > room_x or least_y > room_y:
        return Problem(
            f"{fastest:.0f} mm/s at {machine.acceleration_mm_s2:g} mm/s² takes "
            f"{run_up / 2:.1f} mm to reach and as much to stop, and corners of {radius:.0f} mm "
            f"radius: no loop with such sides fits {room_x:.0f} by {room_y:.0f} mm.",
            Place.of_field(f"rig {machine.rig.name}", "motion.print_acceleration_mm_s2"),
            round(fastest, 1),
            "Use the weighed pair, raise the layer height, or ask about a lower flow.",
        )
    return (
        min(max(SIZE_MM[0], least_x), room_x),
        min(max(SIZE_MM[1], least_y), room_y),
        radius,
        fold,
    )


def _off_the_drive(
    machine: Machine,
    settings: list[_Setting],
    size: tuple[float, float, float, tuple[float, float]],
    h: float,
) -> tuple[float, str]:
    """A width near the wanted one at which no band feeds whole turns of the drive per loop.

    A whole turn per loop would put the drive's own pattern at the same place of every layer,
    where it looks like a fault of the frame.
    """
    width, depth, radius, fold = size
    across = machine.rig.extruder.effective_diameter_mm
    if across is None:
        return width, "The drive wheel's diameter is not recorded: turns per loop not looked at."
    turn = math.pi * across
    per_mm = [machine.e_per_mm(s.width_mm, h) for s in settings]
    least = max(LEAST_MM[0], 2 * radius + 60.0, 2 * radius + 2.2 * fold[0])
    tried = np.arange(max(width - 12.0, least), min(width + 20.0, machine.room_mm[0]) + 0.01, 0.5)
    best, off = width, -1.0
    for one in (float(w) for w in tried):
        length = _outline(one, depth, radius, fold, None).length_mm()
        turns = np.array([length * e / turn for e in per_mm])
        here = float(np.abs(turns - np.round(turns)).min()) - abs(one - width) * 1e-4
        if here > off:
            best, off = one, here
    length = _outline(best, depth, radius, fold, None).length_mm()
    turns = np.array([length * e / turn for e in per_mm])
    away = float(np.abs(turns - np.round(turns)).min())
    return (
        best,
        f"A loop takes {turns.min():.2f} to {turns.max():.2f} turns of the drive, never "
        f"nearer to a whole number than {away:.2f}.",
    )


def _design(
    machine: Machine,
    h: float,
    settings: list[_Setting],
    size: tuple[float, float, float, tuple[float, float]],
    count: int,
    drive: str,
) -> Design:
    width, depth, radius, fold = size
    seed, fan = machine.spec.seed, machine.spec.fan
    order = shuffled(settings, seed, "melt or motion")
    plain = _outline(*size, None)
    length = plain.length_mm()
    layers = foot(machine, plain, FOOT_LAYERS)
    bands = []
    for number, (one, (code, mark)) in enumerate(
        zip(order, codes(BANDS, seed), strict=True), start=1
    ):
        marked = _outline(*size, mark)
        section = float(bead_section_mm2(one.width_mm, h))
        fill = min(math.ceil(2 * machine.melt_zone_mm3 / (section * length)), count - GRADED)
        layers += [
            Layer(marked if n < 2 else plain, number, one.width_mm, one.speed_mm_s, fan, n >= fill)
            for n in range(count)
        ]
        bands.append(Band(
            number, code, mark, one.chain,
            {"speed_mm_s": one.speed_mm_s, "width_mm": one.width_mm, "index": one.index},
            ("front", "folded"),
        ))  # fmt: skip
    return Design(
        "melt or motion", h, tuple(layers), tuple(bands),
        (Claim("speed", "front", FRONT_SHARE), Claim("speed", "folded", FOLDED_SHARE),
         Claim("flow", share=FLOW_MISS)),
        (middle(machine),), rounded(width + 8, depth + 8, radius + 4), "side",
        "Bands stand in an order drawn by lot, so that height tells nothing of their settings.",
        (drive, f"Folds of {fold[0]:g} by {fold[1]:g} mm, corners of {radius:.1f} mm radius."),
    )  # fmt: skip


def tune(design: Design, found: list[BandReach]) -> Tuning:
    """What the replay of a draft says of the next."""
    ratio = [0.9] * BANDS
    for band, reach in zip(design.bands, found, strict=True):
        settings = band.settings
        section = float(bead_section_mm2(settings["width_mm"], design.layer_mm))
        asked = section * settings["speed_mm_s"]
        ratio[int(settings["index"])] = reach.flow_mm3_s / asked
    return Tuning(tuple(ratio))


def judge(design: Design, machine: Machine, found: list[BandReach]) -> list[str]:
    """What keeps the design from telling melt from motion."""
    ceiling = ceiling_of(machine)
    flows = {b.chain: [] for b in design.bands}  # type: dict[str, list[float]]
    for band, reach in zip(design.bands, found, strict=True):
        flows[band.chain].append(reach.flow_mm3_s)
    top, low = max(flows["flow"]), min(flows["flow"])
    faults = []
    if top < 1.1 * ceiling or low > 0.85 * ceiling:
        faults.append(
            f"the flows reached, {low:.1f} to {top:.1f} mm³/s, do not lie about the ceiling of "
            f"{ceiling:.1f} mm³/s"
        )
    spread = max(flows["speed"]) / min(flows["speed"])
    if spread > 1.12:
        faults.append(f"the bands that climb in speed differ in flow by a factor {spread:.2f}")
    speeds = [b.settings["speed_mm_s"] for b in design.bands if b.chain == "speed"]
    if max(speeds) < 1.4 * min(speeds):
        faults.append("speed climbs by less than a factor 1.4")
    return faults
