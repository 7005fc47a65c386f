"""Overhang ladder: facets that lean out and back, at each fan and layer time; bridges on top.

A loop of one wall. Its front is a row of facets; in every band each leans out at its own angle for
half the layers and back in for the other half, so that the next band begins where this one began,
with its angles in another order. The back has square notches; the last layers bridge them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from beadworth.core import LimitError, Place, bead_section_mm2
from beadworth.witness.bead import Machine
from beadworth.witness.codes import codes, shuffled
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.outline import Outline, facets, notches, rounded
from beadworth.witness.placing import check_height, check_room, check_speed, foot, middle

OUT_LAYERS = 10
RADIUS_MM, NOTCH_MM = 8.0, 12.0
FACET_MM, LEAST_FACET_MM = 18.0, 13.0
POST_MM, LEAST_POST_MM = 6.0, 3.0
DEPTH_MM = 60.0
BRIDGE_LAYERS = 3
TIME_MISS = 0.25
SLOWEST_MM_S = 8.0


@dataclass(frozen=True)
class Tuning:
    """Time a layer takes ÷ time asked for, by band."""

    slow: tuple[float, ...] = ()


def draw(machine: Machine, tuning: Tuning) -> Design:
    """Draw the ladder.

    Raises
    ------
    LimitError
        Too many facets, too fast or too tall for this rig.
    """
    spec, h, bead = machine.spec, machine.layer_mm, machine.bead_mm
    count, spans = len(spec.angles_deg), sum(spec.spans_mm)
    posts = len(spec.spans_mm) + 1
    wanted = max(count * FACET_MM, spans + posts * POST_MM)
    least = max(count * LEAST_FACET_MM, spans + posts * LEAST_POST_MM)
    width = 2 * RADIUS_MM + max(least, min(wanted, machine.room_mm[0] - 2 * RADIUS_MM))
    lean = OUT_LAYERS * h * math.tan(math.radians(max(spec.angles_deg)))
    check_room(machine, width, DEPTH_MM + lean, "Ask for fewer angles or shorter bridges.")
    settings = [(fan, time) for fan in spec.fans for time in spec.layer_times_s]
    if len(settings) > 12:
        raise LimitError(
            f"{len(spec.fans)} fan settings at {len(spec.layer_times_s)} layer times are "
            f"{len(settings)} bands.",
            Place.of_field("witness", "fans"), len(settings), "Ask for 12 bands at most.",
        )  # fmt: skip
    per_band = 2 * OUT_LAYERS
    check_height(machine, 3 + per_band * len(settings) + BRIDGE_LAYERS, h, "Ask for fewer bands.")
    upright = _outline(machine, width, [0.0] * len(spec.angles_deg), None)
    layers, bands = foot(machine, upright, 3), []
    order = shuffled(settings, spec.seed, "overhang")
    for number, ((fan, time), (code, mark)) in enumerate(
        zip(order, codes(len(order), spec.seed), strict=True), start=1
    ):
        angles = shuffled(spec.angles_deg, spec.seed, f"overhang {number}")
        outlines = _leaning(machine, width, h, angles, mark)
        mean = sum(o.length_mm() for o in outlines) / len(outlines)
        slow = tuning.slow[number - 1] if tuning.slow else 1.0
        speed = mean / time * slow
        flow = speed * float(bead_section_mm2(bead, h))
        check_speed(machine, speed, flow, f"a layer of {mean:.0f} mm in {time:g} s")
        if speed < SLOWEST_MM_S:
            raise LimitError(
                f"a layer of {mean:.0f} mm in {time:g} s runs {speed:.1f} mm/s: so slow a bead is "
                "another matter than the fan.",
                Place.of_field("witness", "layer_times_s"), time, "Ask for a shorter time.",
            )  # fmt: skip
        layers += [Layer(o, number, bead, speed, fan, True) for o in outlines]
        bands.append(_band(number, code, mark, fan, time, speed, bead, angles))
    last = layers[-1]
    layers += [replace(last, outline=_bridged(machine, width), graded=False)] * BRIDGE_LAYERS
    return Design(
        "overhang", h, tuple(layers), tuple(bands),
        (Claim("layer time", share=TIME_MISS),), (middle(machine),),
        rounded(width + 8, DEPTH_MM + 2 * lean + 8, RADIUS_MM + 4), "side",
        "Bands and, in every band, angles stand in an order drawn by lot.",
        (f"Bridges of {', '.join(f'{s:g}' for s in spec.spans_mm)} mm on top, at the last band's "
         "fan and speed.",),
    )  # fmt: skip


def _band(
    number: int,
    code: str,
    mark: int,
    fan: float,
    time: float,
    speed: float,
    bead: float,
    angles: Sequence[float],
) -> Band:
    names = tuple(f"facet {n}" for n in range(1, len(angles) + 1))
    return Band(
        number, code, mark, "angle",
        {"fan": fan, "layer_time_s": time, "speed_mm_s": speed, "width_mm": bead},
        names,
        {name: {"angle_deg": angle} for name, angle in zip(names, angles, strict=True)},
    )  # fmt: skip


def _leaning(
    machine: Machine, width: float, h: float, angles: Sequence[float], mark: int
) -> list[Outline]:
    """Layers of one band: out for half of them, back in for the rest."""
    steps = [*range(1, OUT_LAYERS + 1), *range(OUT_LAYERS - 1, -1, -1)]
    tangents = [math.tan(math.radians(angle)) for angle in angles]
    return [
        _outline(machine, width, [step * h * t for t in tangents], mark if n < 2 else None)
        for n, step in enumerate(steps)
    ]


def _outline(machine: Machine, width: float, offsets: Sequence[float], mark: int | None) -> Outline:
    left, right = -width / 2 + RADIUS_MM, width / 2 - RADIUS_MM
    return rounded(
        width, DEPTH_MM, RADIUS_MM,
        front=facets(left, right, -DEPTH_MM / 2, offsets),
        back=notches(left, right, DEPTH_MM / 2, machine.spec.spans_mm, NOTCH_MM),
        code=mark,
    )  # fmt: skip


def _bridged(machine: Machine, width: float) -> Outline:
    left, right = -width / 2 + RADIUS_MM, width / 2 - RADIUS_MM
    flat = [0.0] * len(machine.spec.angles_deg)
    return rounded(
        width, DEPTH_MM, RADIUS_MM,
        front=facets(left, right, -DEPTH_MM / 2, flat),
        back=notches(left, right, DEPTH_MM / 2, machine.spec.spans_mm, 0.0),
    )  # fmt: skip


def tune(design: Design, found: list[BandReach]) -> Tuning:
    """What the replay of a draft says of the next."""
    ratios = []
    for band, reach in zip(design.bands, found, strict=True):
        own = [one for one in design.layers if one.band == band.number]
        mean = sum(one.outline.length_mm() for one in own) / len(own)
        asked = mean / band.settings["layer_time_s"]
        now = band.settings["speed_mm_s"] / asked
        ratios.append(now * reach.layer_time_s / band.settings["layer_time_s"])
    return Tuning(tuple(ratios))


def judge(design: Design, machine: Machine, found: list[BandReach]) -> list[str]:
    """Nothing beyond the claims."""
    return []
