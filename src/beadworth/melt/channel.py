"""The way of the melt through a rig, and what has to be assumed where a record does not say."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from beadworth.core import PTFE_LIMIT_C, InputError, Place, Problem
from beadworth.material import Material
from beadworth.rig import Rig

# Assumed where a rig does not say; common practice, no source.
LAND_DIAMETERS = 1.0
CONE_HALF_ANGLE_DEG = 30.0
# Heat at the wall. Assumed; set within wide ranges to the push forces of Read et al. 2024 together
# with ceilings that are common practice (docs/explanation/melt.md says how).
CONTACT_M2K_W = 2.5e-4
LEAST_GAP_MM = 0.02
AIR_W_MK = 0.038
"""Conductivity of air near 175 °C; typical, not verified."""
GAP_FACTOR = 1.65
"""Resistance of the gap over that of still air as thick as half of bore less filament."""
WET_SPEED_MM_S, WET_POWER = 0.75, 0.7
"""Feed at which half the wall is wetted, and how fast that share falls with the feed."""


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
    channels: float = 1.0
    """How many round channels heat and resist as this bore does; ``bore_mm`` is that of one."""
    gap_mm: float = 0.125
    """Thickness of the air round a filament that does not touch the wall."""
    wet_speed_mm_s: float = WET_SPEED_MM_S
    wet_power: float = WET_POWER

    @property
    def gap_m2k_w(self) -> float:
        """Resistance of the air gap."""
        return GAP_FACTOR * self.gap_mm * 1e-3 / AIR_W_MK

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
    problems += _bore_problems(rig)
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
    channel = Channel(
        hot_end.bore_mm, hot_end.melt_zone_mm, hot_end.nozzle_mm, land, angle,
        rig.filament_diameter_mm,
        gap_mm=max(hot_end.bore_mm - rig.filament_diameter_mm, LEAST_GAP_MM) / 2,
    )  # fmt: skip
    return _split(channel, rig), tuple(notes)


def _bore_problems(rig: Rig) -> list[Problem]:
    """What of a bore that is not round cannot be modelled."""
    hot_end = rig.hot_end
    if hot_end.bore_kind == "other":
        return [
            Problem(
                "a bore of this kind is not modelled.",
                where=Place.of_field(f"rig {rig.name}", "hot_end.bore_kind"),
                value=hot_end.bore_kind,
                remedy="Weigh coupons to find its ceiling; nothing is predicted for it.",
            )
        ]
    if hot_end.bore_kind != "channels":
        return []
    return [
        Problem(
            f"{name} is not known, and a bore of several channels needs it.",
            where=Place.of_field(f"rig {rig.name}", f"hot_end.{name}"),
            remedy="Add up all channels across one section of the bore.",
        )
        for name in ("wetted_perimeter_mm", "bore_section_mm2")
        if getattr(hot_end, name) is None
    ]


def _split(channel: Channel, rig: Rig) -> Channel:
    """The channel with the perimeter and section a rig states for a bore that is not round.

    N round channels of radius r have the perimeter 2·π·r·N and the section π·r²·N: r and N follow
    from both. Heat reaches the core of each, and the flow is shared, so a ceiling by heat grows
    with N = perimeter²/(4·π·section). The air gap above the channels is kept.
    """
    perimeter, section = rig.hot_end.wetted_perimeter_mm, rig.hot_end.bore_section_mm2
    if rig.hot_end.bore_kind != "channels" or perimeter is None or section is None:
        return channel
    count = max(perimeter**2 / (4 * math.pi * section), 1.0)
    return replace(channel, bore_mm=4 * section / perimeter, channels=count)


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
