"""A print with two walls, photos of them drawn with a known cause, and the rig that printed it."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from cause_walls import rig_told
from simulated_box import box_program, photographs
from simulated_walls import Machine, Truth

from beadworth.cause import PrintedSide, printed_sides
from beadworth.rig import AxisLimits, BuildVolume, Motion, Rig

MACHINE = Machine(20, 2.0, 33.0, 4.0, 8.0, 40, 52, 7.0, 48.0, 0.06)
PHOTO_PX = (2400, 480)


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


@functools.cache
def wall_case(cause: str = "belt tooth", amplitude_mm: float = 0.02) -> WallCase:
    """The case, drawn once in a process."""
    own, text = rig(), box_program()
    sides = [s for s in printed_sides(text.encode(), own) if s.name.startswith("front")]
    photos = photographs(sides, MACHINE, Truth(cause, amplitude_mm, 0.0), 17, PHOTO_PX)
    return WallCase(own, text, (sides[0], sides[1]), tuple(photos))
