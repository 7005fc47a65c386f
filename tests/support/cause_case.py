"""A print with two walls, photos of them drawn with a known cause, and the rig that printed it."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from cause_walls import rig_told
from simulated_walls import Machine, Side, Truth, offsets_mm, photo

from beadworth.cause import PrintedSide, printed_sides
from beadworth.rig import AxisLimits, BuildVolume, Motion, Rig

MACHINE = Machine(20, 2.0, 33.0, 4.0, 8.0, 40, 52, 7.0, 48.0, 0.06)
PHOTO_PX = (2400, 480)
LAYER_MM = 0.3


@dataclass(frozen=True)
class WallCase:
    """What a test needs to read a wall."""

    rig: Rig
    program: str
    sides: tuple[PrintedSide, PrintedSide]
    """The front wall, slow and fast; numbers 1 and 3 of the print's walls."""
    photos: tuple[tuple[bytes, np.ndarray], ...]
    """Of each: JPEG, and where its corners lie in it, in pixels."""

    def places(self, index: int) -> str:
        """Corners of one photo as a person would type them."""
        return " ".join(f"{u:.0f},{v:.0f}" for u, v in self.photos[index][1])

    def shares(self, index: int) -> list[list[float]]:
        """The same as shares of the photo."""
        return (self.photos[index][1] / np.array(PHOTO_PX)).tolist()


def rig() -> Rig:
    """The rig, which knows its machine with small errors."""
    told = rig_told(MACHINE, np.random.default_rng(3))
    return told.model_copy(update={
        "name": "Wader",
        "build_volume": BuildVolume(x_mm=220, y_mm=220, z_mm=250),
        "motion": Motion(
            max_speed_mm_s=AxisLimits(x=200, y=200, z=10),
            max_acceleration_mm_s2=AxisLimits(x=3000, y=3000, z=100),
        ),
    })  # fmt: skip


def program(layers: int = 40) -> str:
    """A box of one bead, 110 by 20 mm; the lower half at 50 mm/s, the upper at 83."""
    corners = [(50, 50), (160, 50), (160, 70), (50, 70)]
    per_mm = ((0.5 - LAYER_MM) * LAYER_MM + math.pi * LAYER_MM**2 / 4) / (math.pi / 4 * 1.75**2)
    lines = ["G21", "G90", "M83", "G28", "G0 X50 Y50 Z0.3 F6000"]
    for n in range(2 * layers):
        lines.append(f"G0 Z{LAYER_MM * (n + 1):.2f} F600")
        for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
            e = per_mm * math.dist((ax, ay), (bx, by))
            lines.append(f"G1 X{bx} Y{by} E{e:.5f} F{(50 if n < layers else 83) * 60}")
    return "\n".join(lines) + "\n"


@functools.cache
def wall_case(cause: str = "belt tooth", amplitude_mm: float = 0.02) -> WallCase:
    """The case, drawn once in a process."""
    rng = np.random.default_rng(17)
    own, text = rig(), program()
    sides = [s for s in printed_sides(text.encode(), own) if s.name.startswith("front")]
    truth = Truth(cause, amplitude_mm, 0.0)
    phases = rng.uniform(0, 2 * math.pi, 3)
    photos = []
    for printed in sides:
        w = printed.wall
        loop_mm = w.loop_filament_mm / w.filament_per_mm
        side = Side(w.length_mm, printed.layers, w.speed_mm_s, w.acceleration_mm_s2, w.corner_mm_s,
                    loop_mm, w.filament_per_mm, w.layer_s)  # fmt: skip
        offsets = offsets_mm(side, MACHINE, truth, phases, rng)
        photos.append(photo(side, offsets, rng, PHOTO_PX))
    return WallCase(own, text, (sides[0], sides[1]), tuple(photos))
