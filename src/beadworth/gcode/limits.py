"""What a program may ask of one rig with one material, read from their records."""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.core import LimitError, Place, Problem, filament_section_mm2
from beadworth.material import Material
from beadworth.rig import Rig

SAFE_SPEED_MM_S = 120.0
"""Top speed of x and y taken where the rig does not say."""
SAFE_Z_SPEED_MM_S = 5.0
"""Top speed of z taken where the rig does not say."""


@dataclass(frozen=True)
class Limits:
    """What a program may ask of one rig with one material; None where not recorded."""

    rig: str
    volume_mm: tuple[float, float, float]
    speed_mm_s: tuple[float, float, float]
    temperature_c: float
    feed_mm_s: float | None
    extruder_acceleration_mm_s2: float | None
    section_mm2: float
    unchecked: tuple[str, ...]
    """Fields the rig leaves out: their limits were taken low or could not be checked."""

    @classmethod
    def of(cls, rig: Rig, material: Material) -> Limits:
        """Limits from the records.

        Raises
        ------
        LimitError
            Build volume or temperature limit not recorded: no program can promise to stay inside.
        """
        problems = unknown_limits(rig)
        volume, top = rig.build_volume, rig.hot_end.temperature_limit_c
        if problems or volume is None or top is None:
            raise LimitError(problems)
        axes, extruder = rig.motion.max_speed_mm_s, rig.extruder
        unchecked = [
            name
            for name, value in (
                (f"motion.max_speed_mm_s (taken as {SAFE_SPEED_MM_S:g})", axes),
                ("extruder.max_feed_mm_s", extruder.max_feed_mm_s),
                ("extruder.max_acceleration_mm_s2", extruder.max_acceleration_mm_s2),
            )
            if value is None
        ]
        return cls(
            rig=rig.name,
            volume_mm=(volume.x_mm, volume.y_mm, volume.z_mm),
            speed_mm_s=(axes.x, axes.y, axes.z)
            if axes
            else (SAFE_SPEED_MM_S, SAFE_SPEED_MM_S, SAFE_Z_SPEED_MM_S),
            temperature_c=min(top, material.max_temperature_c),
            feed_mm_s=extruder.max_feed_mm_s,
            extruder_acceleration_mm_s2=extruder.max_acceleration_mm_s2,
            section_mm2=filament_section_mm2(rig.filament_diameter_mm),
            unchecked=tuple(unchecked),
        )


def unknown_limits(rig: Rig) -> list[Problem]:
    """Records without which no program can promise to stay inside the rig."""
    missing = []
    if rig.build_volume is None:
        missing.append(
            Problem(
                "the build volume is not recorded, so no program can promise to stay inside it.",
                where=Place.of_field(f"rig {rig.name}", "build_volume"),
                remedy="Fill in build_volume.x_mm, build_volume.y_mm and build_volume.z_mm.",
            )
        )
    if rig.hot_end.temperature_limit_c is None:
        missing.append(
            Problem(
                "the hot end's temperature limit is not recorded.",
                where=Place.of_field(f"rig {rig.name}", "hot_end.temperature_limit_c"),
                remedy="Fill in hot_end.temperature_limit_c from the hot end's data sheet.",
            )
        )
    return missing
