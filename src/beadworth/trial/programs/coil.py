"""The coil of one coupon, and how fast the axes can run its circle.

The nozzle runs a circle at constant tangential speed and climbs one
strand diameter per turn. The laid strand has one section, ``π/4·(2·nozzle)²``, whatever the
flow; flow is set by tangential speed alone, ``speed = flow ÷ section``. The nozzle keeps
two strand diameters above the surface the strand lands on, so the strand falls free and
neither the bed nor the turn below pushes back on the melt.

``docs/explanation/coupon-program.md`` has the drawing and the reasons.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import filament_section_mm2
from beadworth.gcode import SAFE_SPEED_MM_S
from beadworth.rig import Rig

STRAND_PER_NOZZLE = 2.0
"""Strand diameter ÷ nozzle diameter. Melt swells on leaving a nozzle, rarely to twice its
bore (from memory, no source); at 2 the strand arrives slack at any flow, so the moving nozzle
never draws on the melt, and the circle is slow. Above about 2.25 some controllers refuse the
move as laying too much per mm (common practice, no source)."""
STAND_OFF_PER_STRAND = 2.0
"""Nozzle height over the landing surface ÷ strand diameter: one for the strand just laid,
one of free air over it."""
SPREAD_MM = 1.0
"""How far a coil may spread or lean past its nominal outside."""
ASSUMED_ACCELERATION_MM_S2 = 500.0
"""Axis acceleration taken where the rig does not say."""


@dataclass(frozen=True)
class Coil:
    """The geometry of one coupon laid as a coil."""

    strand_mm: float
    """Diameter of the laid strand."""
    strand_section_mm2: float
    radius_mm: float
    """Of the nozzle's circle: the middle of the strand."""
    turns: float
    climb_mm: float
    """Per turn: one strand diameter."""
    stand_off_mm: float
    """Nozzle over the surface the strand lands on."""
    strand_length_mm: float
    filament_mm: float

    @property
    def outside_mm(self) -> float:
        """Radius that holds the whole coil, spreading allowed."""
        return self.radius_mm + self.strand_mm + SPREAD_MM

    @property
    def height_mm(self) -> float:
        """Nozzle height at the end of the coil: nothing of the coil stands higher."""
        return self.stand_off_mm + self.turns * self.climb_mm

    def speed_mm_s(self, flow_mm3_s: float) -> float:
        """Path speed that lays ``flow_mm3_s`` as this strand."""
        return flow_mm3_s / self.strand_section_mm2


def coil(rig: Rig, *, filament_mm: float, radius_mm: float) -> Coil:
    """The coil that ``filament_mm`` of filament makes on a circle of ``radius_mm``.

    The strand's volume is the filament's: length = filament·section ÷ strand section. One
    turn of the helix is √((2πr)² + climb²) long.
    """
    strand = STRAND_PER_NOZZLE * rig.hot_end.nozzle_mm
    section = math.pi / 4 * strand * strand
    length = filament_mm * filament_section_mm2(rig.filament_diameter_mm) / section
    return Coil(
        strand_mm=strand,
        strand_section_mm2=section,
        radius_mm=radius_mm,
        turns=length / math.hypot(2 * math.pi * radius_mm, strand),
        climb_mm=strand,
        stand_off_mm=STAND_OFF_PER_STRAND * strand,
        strand_length_mm=length,
        filament_mm=filament_mm,
    )


def path_acceleration_mm_s2(rig: Rig) -> tuple[float, bool]:
    """Acceleration a circle may ask of the x and y axes, and whether the rig says so."""
    axes, printing = rig.motion.max_acceleration_mm_s2, rig.motion.print_acceleration_mm_s2
    known = [a for a in (printing, axes and axes.x, axes and axes.y) if a]
    return (min(known), True) if known else (ASSUMED_ACCELERATION_MM_S2, False)


def path_speed_mm_s(rig: Rig) -> tuple[float, bool]:
    """Speed both x and y reach, and whether the rig says so."""
    axes = rig.motion.max_speed_mm_s
    return (min(axes.x, axes.y), True) if axes else (SAFE_SPEED_MM_S, False)
