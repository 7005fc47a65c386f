"""Places, feet and room of witness objects on the bed."""

from __future__ import annotations

from beadworth.core import LimitError, Place
from beadworth.witness.bead import Machine
from beadworth.witness.design import FOOT, Layer
from beadworth.witness.outline import Outline

FOOT_SPEED_MM_S = 25.0
FOOT_WIDTH = 1.15
"""Width of the beads of the foot ÷ nozzle."""


def middle(machine: Machine) -> tuple[float, float]:
    """Middle of the bed."""
    x, y, _ = machine.limits.volume_mm
    return x / 2, y / 2


def foot(machine: Machine, outline: Outline, count: int, object: int = 0) -> list[Layer]:
    """Slow layers that hold an object down; the first without fan."""
    speed = min(FOOT_SPEED_MM_S, machine.speed_mm_s)
    fan = machine.spec.fan
    return [
        Layer(outline, FOOT, FOOT_WIDTH * machine.nozzle_mm, speed, 0.0 if n == 0 else fan,
              object=object)
        for n in range(count)
    ]  # fmt: skip


def check_height(machine: Machine, layers: int, layer_mm: float, remedy: str) -> None:
    """Whether an object of so many layers fits under the top.

    Raises
    ------
    LimitError
        It does not.
    """
    height = layers * layer_mm
    if height > machine.room_mm[2]:
        raise LimitError(
            f"it would stand {height:.0f} mm high; there is room for {machine.room_mm[2]:.0f} mm.",
            Place.of_field(f"rig {machine.rig.name}", "build_volume.z_mm"),
            round(height, 1),
            remedy,
        )


def check_room(machine: Machine, width_mm: float, depth_mm: float, remedy: str) -> None:
    """Whether an object with its skirt fits the bed.

    Raises
    ------
    LimitError
        It does not.
    """
    x, y, _ = machine.room_mm
    if width_mm > x or depth_mm > y:
        raise LimitError(
            f"it takes {width_mm:.0f} by {depth_mm:.0f} mm; the bed has room for {x:.0f} by "
            f"{y:.0f} mm.",
            Place.of_field(f"rig {machine.rig.name}", "build_volume"),
            round(max(width_mm, depth_mm), 1),
            remedy,
        )


def check_speed(machine: Machine, speed_mm_s: float, flow_mm3_s: float, what: str) -> None:
    """Whether axes and extruder reach what is asked.

    Raises
    ------
    LimitError
        They do not.
    """
    where = f"rig {machine.rig.name}"
    if speed_mm_s > machine.speed_mm_s:
        raise LimitError(
            f"{what} runs {speed_mm_s:.0f} mm/s; x and y reach {machine.speed_mm_s:g} mm/s.",
            Place.of_field(where, "motion.max_speed_mm_s"), round(speed_mm_s, 1),
            "Ask for less speed.",
        )  # fmt: skip
    if flow_mm3_s > machine.most_flow_mm3_s:
        raise LimitError(
            f"{what} needs {flow_mm3_s:.1f} mm³/s; the extruder turns "
            f"{machine.most_flow_mm3_s:.1f} mm³/s at most.",
            Place.of_field(where, "extruder.max_feed_mm_s"), round(flow_mm3_s, 2),
            "Ask for less flow.",
        )  # fmt: skip
