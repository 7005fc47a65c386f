"""Cause wall: eight sides, two speeds, a frame of known size, for the photo that names a cause.

Walls at 0, 45, 90 and 135 degrees part the two axes and coupled belts; what is locked to time
changes its length on the wall with speed, what is locked to place or filament does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.core import LimitError, Place, bead_section_mm2, filament_section_mm2
from beadworth.witness.bead import Machine, widest_mm
from beadworth.witness.codes import codes
from beadworth.witness.design import Band, BandReach, Claim, Design, Layer
from beadworth.witness.outline import polygon
from beadworth.witness.placing import check_height, check_room, check_speed, foot, middle

SIDES = 8
PERIODS = 2.5
"""Repeats of the longest pattern that must stand between the marks of the frame."""
LEAST_HEIGHT_MM = 12.0
END_MM = 6.0
"""Between a mark of the frame and the corner."""
SPEED_SHARE = 0.6
LONGEST_SIDE_MM, LEAST_SIDE_MM = 160.0, 30.0
USUAL_MM = 40.0
"""Longest repeat asked for where the bed allows: a pulley of 20 teeth at 2 mm pitch."""


@dataclass(frozen=True)
class Tuning:
    """Nothing to tune."""


@dataclass(frozen=True)
class Visible:
    """A source of patterns, and whether the wall is long enough for it."""

    source: str
    period_mm: float | None
    """Along the wall, or up it for a screw; None where the rig does not say."""
    seen: bool | None
    """None where the period is not known."""


def draw(machine: Machine, tuning: Tuning) -> Design:
    """Draw the wall.

    Raises
    ------
    LimitError
        A bed too small for the longest pattern asked for, or speeds out of reach.
    """
    spec, h, bead = machine.spec, machine.layer_mm, machine.bead_mm
    section = float(bead_section_mm2(bead, h))
    slow, fast = sorted(spec.speeds_mm_s)
    if fast < 1.25 * slow:
        raise LimitError(
            f"{slow:g} and {fast:g} mm/s are too near each other to part what is locked to time.",
            Place.of_field("witness", "speeds_mm_s"), fast, "Let them differ by a quarter or more.",
        )  # fmt: skip
    check_speed(machine, fast, fast * section, "the faster half")
    room = min(machine.room_mm[:2]) - 4.01
    most = min(room * math.tan(math.pi / SIDES), LONGEST_SIDE_MM)
    longest = (most - 2 * END_MM) / PERIODS
    side = max(PERIODS * (spec.longest_mm or min(longest, USUAL_MM)) + 2 * END_MM, LEAST_SIDE_MM)
    across = side / math.tan(math.pi / SIDES)
    check_room(machine, across + 4, across + 4, f"Ask for {longest:.1f} mm at most.")
    outline = polygon(SIDES, side, side - 2 * END_MM)
    lead = machine.rig.axes.z.lead_mm if machine.rig.axes.z else None
    height = max(LEAST_HEIGHT_MM, min(PERIODS * (lead or 0.0), 25.0) / 2)
    count = math.ceil(height / h)
    check_height(machine, 3 + 2 * count, h, "Lower the layer height.")
    layers, bands = foot(machine, outline, 3), []
    names = tuple(f"side {n * 45}°" for n in range(SIDES))
    for number, (speed, (code, _)) in enumerate(
        zip((slow, fast), codes(2, spec.seed), strict=True), start=1
    ):
        wide = min(1.35 * bead, widest_mm(machine.nozzle_mm))
        layers += [
            Layer(outline, number, wide if n in (0, count - 1) else bead, speed, spec.fan,
                  0 < n < count - 1)
            for n in range(count)
        ]  # fmt: skip
        bands.append(Band(
            number, code, None, "speed",
            {"speed_mm_s": speed, "width_mm": bead, "frame_mm": side - 2 * END_MM,
             "frame_height_mm": (count - 1) * h}, names,
        ))  # fmt: skip
    listed = visible(machine, side - 2 * END_MM, section, 2 * count * h)
    return Design(
        "cause wall", h, tuple(layers), tuple(bands),
        tuple(Claim("speed", name, SPEED_SHARE) for name in names), (middle(machine),),
        polygon(SIDES, side + 5, side - 2 * END_MM), "stop",
        "The lower half is the slower one: a photo of it needs no codes.",
        tuple(_line(one) for one in listed),
    )  # fmt: skip


def visible(
    machine: Machine, frame_mm: float, section_mm2: float, height_mm: float
) -> Sequence[Visible]:
    """Which sources the wall can show: those that repeat at least 2.5 times on it."""
    rig, axes = machine.rig, machine.rig.axes
    filament = filament_section_mm2(rig.filament_diameter_mm) / section_mm2
    drive = rig.extruder.effective_diameter_mm
    found: list[tuple[str, float | None, float]] = [
        ("frame or guide of an axis", None, frame_mm),
        ("turn of the drive wheel", math.pi * drive * filament if drive else None, frame_mm),
        ("screw of z", axes.z.lead_mm if axes.z else None, height_mm),
    ]
    for name, axis in (("x", axes.x), ("y", axes.y)):
        pitch = axis.belt_pitch_mm if axis else None
        teeth = axis.pulley_teeth if axis else None
        found.append((f"belt teeth of {name}", pitch, frame_mm))
        found.append((f"pulley of {name}", pitch * teeth if pitch and teeth else None, frame_mm))
    return [
        Visible(name, period, None if period is None else PERIODS * period <= room)
        for name, period, room in found
    ]


def _line(one: Visible) -> str:
    if one.period_mm is None:
        return f"{one.source}: not recorded, so it cannot be told by its length."
    verdict = "can be shown" if one.seen else "too long for this wall"
    return f"{one.source}: repeats every {one.period_mm:.1f} mm, {verdict}."


def tune(design: Design, found: list[BandReach]) -> Tuning:
    """Nothing to tune."""
    return Tuning()


def judge(design: Design, machine: Machine, found: list[BandReach]) -> list[str]:
    """Nothing beyond the claims."""
    return []
