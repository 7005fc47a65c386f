"""The way of the melt through a rig, and what has to be assumed where a record does not say."""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import PTFE_LIMIT_C, InputError, Place, Problem
from beadworth.material import Material
from beadworth.rig import Rig

# Assumed where a rig does not say; common practice, no source.
LAND_DIAMETERS = 1.0
CONE_HALF_ANGLE_DEG = 30.0
CONTACT_M2K_W = 5e-5


@dataclass(frozen=True)
class Channel:
    """The way of the melt: bore, cone, land. mm and degrees; contact in m²·K/W."""

    bore_mm: float
    melt_zone_mm: float
    nozzle_mm: float
    land_mm: float
    cone_half_angle_deg: float
    filament_mm: float
    contact_m2k_w: float = CONTACT_M2K_W

    def si(self) -> tuple[float, float, float, float, float]:
        """What the kernels take: radius, length, land radius, land length, tan(half angle)."""
        return (
            self.bore_mm / 2e3,
            self.melt_zone_mm / 1e3,
            self.nozzle_mm / 2e3,
            self.land_mm / 1e3,
            math.tan(math.radians(self.cone_half_angle_deg)),
        )


def channel_of(rig: Rig) -> tuple[Channel, tuple[str, ...]]:
    """The melt's way from a rig record, with what was assumed.

    Raises
    ------
    InputError
        Melt-zone length or bore unknown, or a nozzle as wide as the bore; all at once.
    """
    hot_end, problems, notes = rig.hot_end, [], []
    for name in ("melt_zone_mm", "bore_mm"):
        if getattr(hot_end, name) is None:
            problems.append(
                Problem(
                    f"{name} is not known, and the melt model needs it.",
                    where=Place.of_field(f"rig {rig.name}", f"hot_end.{name}"),
                    remedy="Measure it or take it from the part's drawing.",
                )
            )
    if hot_end.bore_mm is not None and hot_end.nozzle_mm >= hot_end.bore_mm:
        problems.append(
            Problem(
                f"the nozzle ({hot_end.nozzle_mm:g} mm) is not narrower than the bore "
                f"({hot_end.bore_mm:g} mm).",
                where=Place.of_field(f"rig {rig.name}", "hot_end.nozzle_mm"),
                value=hot_end.nozzle_mm,
                remedy="Check both diameters.",
            )
        )
    if problems:
        raise InputError(problems)
    assert hot_end.bore_mm is not None
    assert hot_end.melt_zone_mm is not None
    land, angle = hot_end.land_mm, hot_end.cone_half_angle_deg
    if land is None:
        land = LAND_DIAMETERS * hot_end.nozzle_mm
        notes.append(f"Land length assumed: {land:g} mm (one nozzle diameter).")
    if angle is None:
        angle = CONE_HALF_ANGLE_DEG
        notes.append(f"Nozzle cone assumed: {angle:g}° half angle.")
    if rig.extruder.grip_force_n is None:
        notes.append(
            "The force at which the drive slips is not known, so only heat limits this "
            "prediction: measure it (extruder.grip_force_n)."
        )
    channel = Channel(
        hot_end.bore_mm, hot_end.melt_zone_mm, hot_end.nozzle_mm, land, angle,
        rig.filament_diameter_mm,
    )  # fmt: skip
    return channel, tuple(notes)


def beyond_limits(rig: Rig, material: Material, temperature_c: float) -> tuple[str, ...]:
    """Limits of hot end, liner and polymer that a temperature is above, each in a sentence.

    A prediction there is a figure to compare with, never one to set.
    """
    hot_end = rig.hot_end
    ptfe = PTFE_LIMIT_C if hot_end.ptfe_in_melt_zone else None
    limits = (
        (hot_end.temperature_limit_c, f"{rig.name} is made for"),
        (ptfe, f"the PTFE liner in the melt zone of {rig.name} stands"),
        (material.max_temperature_c, f"{material.name} may see"),
    )
    return tuple(
        f"{temperature_c:g} °C is above the {limit:g} °C that {whose}: a figure to compare with, "
        "never one to set."
        for limit, whose in limits
        if limit is not None and temperature_c > limit
    )


def softening_of(material: Material) -> float:
    """The softening temperature, or a refusal that says where to enter it."""
    if material.softening_c is None:
        raise InputError(
            f"the softening temperature of {material.name} is not known, and the melt model "
            "needs it.",
            where=Place.of_field(f"material {material.name}", "softening_c"),
            remedy="Enter it, or start from a generic polymer.",
        )
    return material.softening_c
