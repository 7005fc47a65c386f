"""A hot end before buying it: ceiling, what limits it, force, power, outlet temperatures."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.material import Material
from beadworth.melt import plain
from beadworth.melt.channel import INLET_C, Channel, channel_of, softening_of
from beadworth.melt.heat import (
    CELLS,
    FOURIER_END,
    ROWS,
    TABLE_START_C,
    TABLE_STEP_C,
    March,
    Properties,
    march,
    march_grid,
    properties_of,
    velocity_share,
)
from beadworth.melt.rheology import fluid_row
from beadworth.melt.scales import (
    BORE_U,
    CONTACT_U,
    GRIP_U,
    LENGTH_U,
    WALL_U_C,
    Scales,
    carried,
    recorded_u,
    unknowns_u,
)
from beadworth.quantity import filament_section_mm2, melt_power_w
from beadworth.rig import Rig

Array = NDArray[np.float64]
Limit = Literal["heat", "force", "temperature"]

# Relative standard uncertainty where a material gives none; assumed, wide on purpose.
VISCOSITY_U = 0.4

DRAWS = 2000
"""One number for every door, so that page, command and library give the same interval."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
NODES, WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


@dataclass(frozen=True)
class Prediction:
    """What the model says of one rig, material and temperature; intervals at 95 %."""

    rig: str
    material: str
    temperature_c: float
    ceiling_mm3_s: float
    low: float
    high: float
    limited_by: Limit
    limited_by_share: float
    """Share of the draws in which that limit came first."""
    force_n: float | None
    """Push force at the ceiling; None where the melt's viscosity is unknown."""
    pressure_mpa: float | None
    power_w: float
    """Heat the polymer takes up at the ceiling, standing losses left out."""
    outlet_core_c: float
    outlet_mean_c: float
    radius_mm: Array
    profile_c: Array
    """Temperature at the outlet over the radius, at the ceiling."""
    notes: tuple[str, ...]
    """What was assumed and what to measure."""

    def to_json(self) -> dict[str, Any]:
        """As plain data, arrays as lists."""
        data = asdict(self)
        data["radius_mm"] = self.radius_mm.tolist()
        data["profile_c"] = self.profile_c.tolist()
        return data


def predict(
    rig: Rig,
    material: Material,
    temperature_c: float,
    *,
    draws: int = DRAWS,
    seed: int = 1,
    scales: Scales | None = None,
    profile_index: float = 0.0,
) -> Prediction:
    """Predict a rig's ceiling with one material at one wall temperature.

    The ceiling is the flow at which the core at the outlet has just reached
    softening, or at which the melt pressure on the filament's section meets the
    drive's grip, whichever comes first. The interval comes from ``draws`` Monte
    Carlo draws of what is uncertain (JCGM 101:2008, equal tails).

    Raises
    ------
    InputError
        What the model needs and the records do not hold, all at once.
    """
    channel, notes = channel_of(rig)
    properties = properties_of(material)
    scales = carried(scales, rig, material)
    softening = softening_of(material) + scales.softening_shift_c
    grip = rig.extruder.grip_force_n if rig.extruder.grip_force_n is not None else math.inf
    if material.rheology is None:
        grip = math.inf
        notes = (*notes, f"The melt viscosity of {material.name} is not known: no force is given.")
    scaled = _scale(properties, scales.diffusivity)
    middle = np.array(
        [[1.0, 1.0, softening, temperature_c, INLET_C, channel.contact_m2k_w, 1.0, 1.0, 1.0, grip]]
    )
    heat, force = _ceilings(channel, scaled, material, middle, profile_index)
    table = _draw(middle[0], rig, material, scales, draws, np.random.default_rng(seed))
    heats, forces = _ceilings(channel, scaled, material, table, profile_index)
    ceilings = np.minimum(heats, forces)
    ceiling = float(min(heat[0], force[0]))
    low, high = np.quantile(ceilings, [0.025, 0.975])
    limited: Limit = "force" if force[0] < heat[0] else "heat"
    share = float(np.mean((forces < heats) == (limited == "force")))
    if ceiling == 0:
        limited = "temperature"
        notes = (*notes, f"{temperature_c:g} °C does not soften the core ({softening:g} °C).")
    state = state_at(rig, material, temperature_c, max(ceiling, 1e-3), scales=scales)
    return Prediction(
        rig.name, material.name, temperature_c, ceiling, float(low), float(high), limited, share,
        state.force_n, state.pressure_mpa, state.power_w if ceiling else 0.0, state.core_c,
        state.mean_c, state.radius_mm, state.profile_c, notes,
    )  # fmt: skip


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
    properties = _scale(properties_of(material), scales.diffusivity)
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
    return State(
        flow_mm3_s,
        float(np.interp(end, run.xi, run.core)),
        mean,
        (np.arange(cells) + 0.5) / cells * channel.bore_mm / 2,
        profile,
        pressure,
        force,
        melt_heat_w(material, flow_mm3_s, mean),
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
    xi = march_grid(properties, INLET_C, temperature_c, ROWS, FOURIER_END)
    end = math.pi * channel.melt_zone_mm / flow_mm3_s * 1e6
    xi = xi[: int(np.searchsorted(xi, end)) + 1]  # nothing beyond the outlet is asked for
    _, core, bulk = plain.march(
        xi,
        velocity_share(CELLS, 0.0),
        INLET_C,
        temperature_c,
        channel.contact_m2k_w / (channel.bore_mm / 2e3),
        (properties.celsius, properties.conductivity_w_mk, properties.capacity_j_m3k),
    )
    softening = softening_of(material)
    pressure_pa = plain.melt_pressure_pa(
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
    run = _march(channel, _scale(properties_of(material), scales.diffusivity), temperature_c, 0.0)
    softening = max(softening_of(material) + scales.softening_shift_c, INLET_C + 1)
    flow = _kernel.heat_ceiling_m3_s(
        run.xi, run.core, run.xi.size, channel.melt_zone_mm / 1e3, softening
    )
    return float(flow) * 1e9


def melt_heat_w(material: Material, flow_mm3_s: float, mean_c: float) -> float:
    """Heat taken up from inlet to the mixed outlet temperature, W; needs the specific heat."""
    assert material.specific_heat_j_gk is not None
    middle = (INLET_C + mean_c) / 2
    heat = material.specific_heat_j_gk + (material.specific_heat_slope or 0.0) * middle
    latent = (material.latent_j_g or 0.0) if mean_c > (material.melting_c or math.inf) else 0.0
    return float(melt_power_w(flow_mm3_s, material.density_g_cm3, heat, mean_c - INLET_C, latent))


def _scale(properties: Properties, diffusivity: float) -> Properties:
    """Diffusivity scaled through the conductivity; heat content stays what it is."""
    return Properties(properties.conductivity_w_mk * diffusivity, properties.capacity_j_m3k)


def _march(channel: Channel, properties: Properties, wall_c: float, profile_index: float) -> March:
    return march(
        properties,
        wall_c=wall_c,
        inlet_c=INLET_C,
        contact_over_radius=channel.contact_m2k_w / (channel.bore_mm / 2e3),
        profile_index=profile_index,
    )


def _draw(
    middle: Array,
    rig: Rig,
    material: Material,
    scales: Scales,
    draws: int,
    rng: np.random.Generator,
) -> Array:
    """Draws of what is uncertain; columns as the kernel takes them.

    Diffusivity and softening are drawn together where a trial has calibrated them; what is
    uncertain of the hot end itself only where that trial was on another one. Length, bore and
    grip take the uncertainty the record gives them, where it gives one.
    """
    table = np.repeat(middle[None, :], draws, axis=0)
    u_alpha, u_soft = unknowns_u(scales, material)
    rho = scales.correlation
    a, b, wall, contact, length, bore, viscosity, grip = rng.standard_normal((8, draws))
    table[:, 0] = np.exp(u_alpha * a)
    table[:, 2] += u_soft * (rho * a + math.sqrt(1 - rho * rho) * b)
    if not scales.hot_end_known:
        table[:, 3] += WALL_U_C * wall
        table[:, 5] *= np.exp(CONTACT_U * contact)
        u_length = recorded_u(rig, "hot_end.melt_zone_mm", LENGTH_U)
        table[:, 6] = np.exp(u_length * length.clip(-3, 3))
        table[:, 7] = np.exp(recorded_u(rig, "hot_end.bore_mm", BORE_U) * bore.clip(-3, 3))
    table[:, 8] = np.exp((material.viscosity_u or VISCOSITY_U) * viscosity)
    table[:, 9] *= np.exp(recorded_u(rig, "extruder.grip_force_n", GRIP_U) * grip)
    return table


def _ceilings(
    channel: Channel, properties: Properties, material: Material, table: Array, profile_index: float
) -> tuple[Array, Array]:
    """Heat and force ceilings of each row of draws, mm³/s, on two threads (the kernels let go)."""
    from beadworth.melt import _kernel

    walls = table[:, 3]
    xi = march_grid(properties, INLET_C, float(walls.max()), 60, FOURIER_END)
    flux = velocity_share(30, profile_index)
    fluid = fluid_row(material.rheology) if material.rheology else np.zeros(8)
    area = filament_section_mm2(channel.filament_mm) * 1e-6
    heat, force = np.empty(len(table)), np.empty(len(table))
    cuts = [0, len(table) // 2, len(table)]

    def share(first: int, last: int) -> None:
        _kernel.draw_ceilings(
            first, last, table, xi, flux, properties.conductivity_w_mk, properties.capacity_j_m3k,
            TABLE_START_C, TABLE_STEP_C, channel.si(), fluid, area, NODES, WEIGHTS, heat, force,
        )  # fmt: skip

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(share, cuts[:-1], cuts[1:]))
    return heat * 1e9, force * 1e9
