"""One state of a hot end: outlet temperatures, pressure, force and power at one flow."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from beadworth.core import ROOM_C, filament_section_mm2
from beadworth.material import Material, melt_heat_w
from beadworth.melt import numpy_solver
from beadworth.melt.channel import Channel, channel_of, softening_of
from beadworth.melt.heat import (
    CELLS,
    FOURIER_END,
    ROWS,
    March,
    Properties,
    march,
    march_grid,
    properties_of,
    velocity_share,
)
from beadworth.melt.rheology import fluid_row
from beadworth.melt.scales import Scales, carried
from beadworth.rig import Rig

Array = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
NODES, WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


@dataclass(frozen=True)
class State:
    """Outlet temperatures, pressure, force and power at one flow."""

    flow_mm3_s: float
    core_c: float
    mean_c: float
    radius_mm: Array
    profile_c: Array
    pressure_mpa: float | None
    force_n: float | None
    power_w: float


def state_at(
    rig: Rig,
    material: Material,
    temperature_c: float,
    flow_mm3_s: float,
    *,
    scales: Scales | None = None,
    profile_index: float = 0.0,
) -> State:
    """What leaves the melt zone at one flow, and what it takes to push and to heat it."""
    channel, _ = channel_of(rig)
    scales = carried(scales, rig, material)
    properties = scaled(properties_of(material), scales.diffusivity)
    run = _march(channel, properties, temperature_c, profile_index)
    end = math.pi * channel.melt_zone_mm / flow_mm3_s * 1e6  # s/m²
    profile = np.array([np.interp(end, run.xi, column) for column in run.profiles.T])
    mean = float(np.interp(end, run.xi, run.bulk))
    cells = profile.size
    pressure = force = None
    if material.rheology is not None:
        from beadworth.melt import _kernel

        pressure = float(
            _kernel.melt_pressure_pa(
                channel.si(), fluid_row(material.rheology), flow_mm3_s * 1e-9, run.bulk, run.xi,
                run.xi.size, softening_of(material) + scales.softening_shift_c, NODES, WEIGHTS,
            )
        ) / 1e6  # fmt: skip
        force = pressure * filament_section_mm2(channel.filament_mm)
    heat = melt_heat_w(material, flow_mm3_s, mean)
    assert heat is not None  # properties_of asked for the specific heat
    return State(
        flow_mm3_s,
        float(np.interp(end, run.xi, run.core)),
        mean,
        (np.arange(cells) + 0.5) / cells * channel.bore_mm / 2,
        profile,
        pressure,
        force,
        heat,
    )


@dataclass(frozen=True)
class Push:
    """What it takes to push one flow through, and how warm its core leaves."""

    force_n: float
    core_c: float
    softening_c: float

    @property
    def core_is_soft(self) -> bool:
        """False beyond the ceiling by heat, where the true force is higher than this one."""
        return self.core_c >= self.softening_c


@lru_cache(maxsize=64)
def push_of(
    channel: Channel, material: Material, temperature_c: float, flow_mm3_s: float
) -> Push | None:
    """Force on the filament at one flow, as :func:`state_at` has it; None without rheology.

    In plain numpy, for a caller that needs one force and not the compiler that
    a thousand are worth: some milliseconds, and nothing to load.
    """
    if material.rheology is None:
        return None
    properties = properties_of(material)
    xi = march_grid(properties, ROOM_C, temperature_c, ROWS, FOURIER_END)
    end = math.pi * channel.melt_zone_mm / flow_mm3_s * 1e6
    xi = xi[: int(np.searchsorted(xi, end)) + 1]  # nothing beyond the outlet is asked for
    _, core, bulk = numpy_solver.march(
        xi,
        velocity_share(CELLS, 0.0),
        ROOM_C,
        temperature_c,
        channel.contact_m2k_w / (channel.bore_mm / 2e3),
        (properties.celsius, properties.conductivity_w_mk, properties.capacity_j_m3k),
    )
    softening = softening_of(material)
    pressure_pa = numpy_solver.melt_pressure_pa(
        channel.si(), fluid_row(material.rheology), flow_mm3_s * 1e-9, bulk, xi, softening,
        (NODES, WEIGHTS),
    )  # fmt: skip
    force = pressure_pa * 1e-6 * filament_section_mm2(channel.filament_mm)
    return Push(force, float(np.interp(end, xi, core)), softening)


def heat_ceiling_mm3_s(
    rig: Rig,
    material: Material,
    temperature_c: float,
    scales: Scales,
    *,
    contact_factor: float = 1.0,
) -> float:
    """Flow at which the core at the outlet just reaches softening; 0 where it never does.

    ``scales`` are taken as they are, whatever rig or material they were learned on.
    """
    from beadworth.melt import _kernel

    channel, _ = channel_of(rig)
    channel = replace(channel, contact_m2k_w=channel.contact_m2k_w * contact_factor)
    run = _march(channel, scaled(properties_of(material), scales.diffusivity), temperature_c, 0.0)
    softening = max(softening_of(material) + scales.softening_shift_c, ROOM_C + 1)
    flow = _kernel.heat_ceiling_m3_s(
        run.xi, run.core, run.xi.size, channel.melt_zone_mm / 1e3, softening
    )
    return float(flow) * 1e9


def scaled(properties: Properties, diffusivity: float) -> Properties:
    """Diffusivity scaled through the conductivity; heat content stays what it is."""
    return Properties(properties.conductivity_w_mk * diffusivity, properties.capacity_j_m3k)


def _march(channel: Channel, properties: Properties, wall_c: float, profile_index: float) -> March:
    return march(
        properties,
        wall_c=wall_c,
        inlet_c=ROOM_C,
        contact_over_radius=channel.contact_m2k_w / (channel.bore_mm / 2e3),
        profile_index=profile_index,
    )
