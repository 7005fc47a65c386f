"""What a single-walled bead may be, and the machine that lays it, read from its records."""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import bead_section_mm2, filament_section_mm2
from beadworth.gcode import Limits
from beadworth.material import Material
from beadworth.motion import Limits as MotionLimits
from beadworth.motion import straight_mm_s2
from beadworth.rig import Rig
from beadworth.witness.spec import WitnessSpec

NARROWEST, WIDEST = 0.9, 1.75
"""Width of a wall of one bead ÷ nozzle diameter. Narrower, it tears; wider, the nozzle's flat no
longer presses it down (common practice, no source)."""
WIDTH_PER_LAYER = 1.5
"""Least width of a bead ÷ its height: a rounder one bonds badly (common practice, no source)."""
LAYER_PER_NOZZLE = 0.5
"""Layer height ÷ nozzle diameter where nobody says."""
RIM_MM = 12.0
"""Kept free along every edge of the bed; the skirt stands in it."""
ASSUMED_MELT_ZONE_MM3 = 64.0
"""Volume of a melt zone 20 mm long and 2 mm wide; taken where the rig does not say."""


def widest_mm(nozzle_mm: float) -> float:
    """Widest bead of a single wall."""
    return WIDEST * nozzle_mm


def narrowest_mm(nozzle_mm: float, layer_mm: float) -> float:
    """Narrowest bead of a single wall."""
    return max(NARROWEST * nozzle_mm, WIDTH_PER_LAYER * layer_mm)


def width_of_mm(section_mm2: float, layer_mm: float) -> float:
    """Width of the bead of a section: the inverse of :func:`~beadworth.core.bead_section_mm2`."""
    return (section_mm2 - math.pi / 4 * layer_mm * layer_mm) / layer_mm + layer_mm


@dataclass(frozen=True)
class Machine:
    """What a witness may ask of a rig with a material."""

    rig: Rig
    material: Material
    spec: WitnessSpec
    limits: Limits
    acceleration_mm_s2: float
    """Along any direction in the plane, as a replay takes it."""
    speed_mm_s: float
    """That both x and y reach."""
    melt_zone_mm3: float
    melt_zone_known: bool

    @classmethod
    def of(cls, rig: Rig, material: Material, spec: WitnessSpec) -> Machine:
        """Read the records.

        Raises
        ------
        LimitError
            Build volume or temperature limit not recorded.
        """
        limits = Limits.of(rig, material)
        row = dict(zip(MotionLimits.names(), MotionLimits.from_rig(rig).table[0], strict=True))
        plane = ("print_acceleration_mm_s2", "acceleration_x_mm_s2", "acceleration_y_mm_s2")
        hot = rig.hot_end
        known = hot.bore_mm is not None and hot.melt_zone_mm is not None
        volume = ASSUMED_MELT_ZONE_MM3
        if hot.bore_mm is not None and hot.melt_zone_mm is not None:
            volume = math.pi / 4 * hot.bore_mm**2 * hot.melt_zone_mm
        speeds = (row["speed_x_mm_s"], row["speed_y_mm_s"], *limits.speed_mm_s[:2])
        return cls(
            rig, material, spec, limits, float(min(row[name] for name in plane)),
            float(min(speeds)), volume, known,
        )  # fmt: skip

    @property
    def nozzle_mm(self) -> float:
        """Bore of the nozzle."""
        return self.rig.hot_end.nozzle_mm

    @property
    def layer_mm(self) -> float:
        """Layer height asked for, or half the nozzle."""
        return self.spec.layer_mm or round(LAYER_PER_NOZZLE * self.nozzle_mm, 3)

    @property
    def bead_mm(self) -> float:
        """Width of a plain bead at that layer height: a tenth over the nozzle, or what bonds."""
        return max(1.1 * self.nozzle_mm, narrowest_mm(self.nozzle_mm, self.layer_mm))

    @property
    def most_flow_mm3_s(self) -> float:
        """Fastest the extruder turns, as flow."""
        feed = self.limits.feed_mm_s
        return math.inf if feed is None else 0.98 * feed * self.limits.section_mm2

    @property
    def room_mm(self) -> tuple[float, float, float]:
        """Width, depth and height that an object may take."""
        x, y, z = self.limits.volume_mm
        return x - 2 * RIM_MM, y - 2 * RIM_MM, z - 15.0

    def run_up_mm(self, speed_mm_s: float) -> float:
        """Way to reach a speed from rest: v² ÷ 2a, longer where the rig limits the jerk."""
        a = straight_mm_s2(speed_mm_s, self.acceleration_mm_s2, self.rig.motion.max_jerk_mm_s3)
        return speed_mm_s**2 / (2 * max(float(a), 1e-9))

    def corner_mm(self, speed_mm_s: float) -> float:
        """Radius at which a corner needs no more than the acceleration, with a tenth to spare."""
        return max(5.0, 1.1 * speed_mm_s**2 / self.acceleration_mm_s2)

    def e_per_mm(self, width_mm: float, layer_mm: float) -> float:
        """Filament per length of bead, mm/mm."""
        section = float(bead_section_mm2(width_mm, layer_mm))
        return section / filament_section_mm2(self.rig.filament_diameter_mm)
