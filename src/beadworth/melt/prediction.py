"""A hot end before buying it: ceiling, what limits it, force, power, outlet temperatures."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import ROOM_C, filament_section_mm2
from beadworth.material import Material
from beadworth.melt.channel import Channel, beyond_limits, channel_of, softening_of
from beadworth.melt.heat import (
    FOURIER_END,
    TABLE_START_C,
    TABLE_STEP_C,
    Properties,
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
from beadworth.melt.state import NODES, WEIGHTS, scaled, state_at
from beadworth.rig import Rig

Array = NDArray[np.float64]
Limit = Literal["heat", "force", "temperature"]

# Relative standard uncertainty where a material gives none; assumed, wide on purpose.
VISCOSITY_U = 0.4

DRAWS = 2000
"""One number for page, command and library, so that all give the same interval."""


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
    notes = (*beyond_limits(rig, material, temperature_c), *notes)
    properties = properties_of(material)
    scales = carried(scales, rig, material)
    softening = softening_of(material) + scales.softening_shift_c
    grip = rig.extruder.grip_force_n if rig.extruder.grip_force_n is not None else math.inf
    if material.rheology is None:
        grip = math.inf
        notes = (*notes, f"The melt viscosity of {material.name} is not known: no force is given.")
    properties = scaled(properties, scales.diffusivity)
    middle = np.array(
        [[1.0, 1.0, softening, temperature_c, ROOM_C, channel.contact_m2k_w, 1.0, 1.0, 1.0, grip]]
    )
    heat, force = _ceilings(channel, properties, material, middle, profile_index)
    table = _draw(middle[0], rig, material, scales, draws, np.random.default_rng(seed))
    heats, forces = _ceilings(channel, properties, material, table, profile_index)
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
    xi = march_grid(properties, ROOM_C, float(walls.max()), 60, FOURIER_END)
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
