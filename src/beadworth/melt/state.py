"""One state of a hot end: temperatures, what resists, force and power at one flow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from beadworth.core import filament_section_mm2
from beadworth.material import Material, melt_heat_w
from beadworth.melt import numpy_solver
from beadworth.melt.channel import Channel, channel_of, softening_of
from beadworth.melt.heat import properties_of, velocity_share
from beadworth.melt.scales import Scales, carried
from beadworth.melt.squeeze import (
    ROWS,
    TUBES,
    calibrated_way,
    glass_of,
    melt_of,
    rheology_of,
    tables_of,
    way_of,
)
from beadworth.melt.terms import ALL, Terms
from beadworth.rig import Rig

Array = NDArray[np.float64]
PARTS = ("cone", "land", "core", "bore")
"""What resists: shear in cone and land, the core squeezed through the cone, the wetted bore."""
WARM = 1e3
"""Factor on the heat-up that leaves no cold core."""


@dataclass(frozen=True)
class State:
    """Temperatures, pressure, force and power at one flow."""

    flow_mm3_s: float
    core_c: float
    mean_c: float
    radius_mm: Array
    profile_c: Array
    pressure_mpa: float
    force_n: float
    power_w: float
    parts_n: tuple[float, ...]
    """Force by :data:`PARTS`, N."""
    dry_share: float
    """Share of the heated length along which an air gap insulates."""
    depth_mm: Array
    """Places along the melt zone, from its upper end."""
    map_c: Array
    """(depths, radii): temperature in the bore, °C."""


def state_at(
    rig: Rig,
    material: Material,
    temperature_c: float,
    flow_mm3_s: float,
    *,
    scales: Scales | None = None,
    terms: Terms = ALL,
) -> State:
    """What leaves the melt zone at one flow, and what it takes to push and to heat it."""
    channel, _ = channel_of(rig)
    known = carried(scales, rig, material)
    return _state(channel, material, temperature_c, flow_mm3_s, known, terms)


def _state(
    channel: Channel,
    material: Material,
    temperature_c: float,
    flow_mm3_s: float,
    known: Scales,
    terms: Terms = ALL,
) -> State:
    from beadworth.melt import _kernel_push

    properties = properties_of(material)
    melt = melt_of(material, terms)
    way = calibrated_way(channel, temperature_c, known, terms)
    flux = velocity_share(TUBES, 0.0)
    profiles, parts = np.empty((ROWS + 1, TUBES)), np.empty(4)
    slowed = flow_mm3_s / known.flow_factor
    _kernel_push.push_parts(
        way, slowed * 1e-9, *tables_of(properties), flux, melt.by_temperature, melt.ln_rate,
        melt.ln_stress, profiles, parts,
    )  # fmt: skip
    section = filament_section_mm2(channel.filament_mm)
    parts_n = parts * 1e-6 * section
    profile = profiles[-1]
    mean = float(2.0 * profile @ flux)
    heat = melt_heat_w(material, flow_mm3_s, mean)
    assert heat is not None  # properties_of asked for the specific heat
    force = float(parts_n.sum())
    dry = float(_kernel_push.dry_share(way, slowed * 1e-9))
    return State(
        flow_mm3_s, core_of(profile), mean,
        (np.arange(TUBES) + 0.5) / TUBES * channel.bore_mm / 2, profile, force / section, force,
        heat, tuple(float(one) for one in parts_n), dry,
        (np.arange(ROWS + 1) / ROWS) ** 2 * channel.melt_zone_mm, profiles,
    )  # fmt: skip


def core_of(profile: Array) -> float:
    """Temperature on the axis, °C: a parabola with zero slope there."""
    return float((9.0 * profile[0] - profile[1]) / 8.0)


@dataclass(frozen=True)
class InsideState:
    """A state with what it takes to draw it: the melt's way, and when a core counts as stiff."""

    state: State
    bore_mm: float
    cone_mm: float
    land_mm: float
    nozzle_mm: float
    stiff_c: float


def inside_at(
    rig: Rig,
    material: Material,
    temperature_c: float,
    flow_mm3_s: float,
    *,
    scales: Scales | None = None,
) -> InsideState:
    """The inside of a hot end at one flow (see :func:`state_at`)."""
    channel, _ = channel_of(rig)
    slope = math.tan(math.radians(channel.cone_half_angle_deg))
    wide = channel.bore_mm * math.sqrt(channel.channels)
    return InsideState(
        state_at(rig, material, temperature_c, flow_mm3_s, scales=scales),
        wide, (wide - channel.nozzle_mm) / 2 / slope, channel.land_mm, channel.nozzle_mm,
        stiff_c(material),
    )  # fmt: skip


@dataclass(frozen=True)
class Push:
    """What it takes to push one flow through, and how warm its core leaves."""

    force_n: float
    core_c: float
    stiff_share: float
    """Share of the force that a core which is not warm adds."""
    assumed: bool
    """True where nobody measured how the melt resists shear."""


@lru_cache(maxsize=64)
def push_of(channel: Channel, material: Material, temperature_c: float, flow_mm3_s: float) -> Push:
    """Force on the filament at one flow, as :func:`state_at` has it.

    In plain numpy, for a caller that needs one force and not the compiler that
    a thousand are worth: some tens of milliseconds, and nothing to load.
    """
    properties = properties_of(material)
    melt = melt_of(material)
    heat = (properties.celsius, properties.conductivity_w_mk, properties.capacity_j_m3k)
    tables = (melt.ln_rate, melt.ln_stress, melt.by_temperature)
    flux = velocity_share(TUBES, 0.0)
    forces = []
    core = math.nan
    for factor in (1.0, WARM):
        way = way_of(channel, temperature_c, heat_factor=factor)
        parts, profiles = numpy_solver.push_parts(way, flow_mm3_s * 1e-9, heat, flux, tables, ROWS)
        forces.append(float(parts.sum()) * 1e-6 * filament_section_mm2(channel.filament_mm))
        core = core_of(profiles[-1]) if factor == 1.0 else core
    force, warm = forces
    return Push(force, core, max(0.0, 1.0 - warm / force), rheology_of(material)[1])


def stiff_c(material: Material) -> float:
    """Under this a core counts as stiff in a picture: half-way from glass transition to first
    flow, °C.
    """
    return 0.5 * (glass_of(material) + softening_of(material))
