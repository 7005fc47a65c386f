"""A melt as tables, and the melt's way as the row of numbers the kernels take."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from beadworth.core import ROOM_C, ZERO_C_K, filament_section_mm2
from beadworth.material import Material, Rheology
from beadworth.melt.channel import Channel, softening_of
from beadworth.melt.constants import LN_RATE_START, LN_STEP, LN_STRESS_START
from beadworth.melt.heat import TABLE_START_C, TABLE_STEP_C, Properties
from beadworth.melt.rheology import fluid_row
from beadworth.melt.scales import Scales
from beadworth.melt.terms import ALL, Terms

Array = NDArray[np.float64]

LN_STRESS_END, LN_RATE_END = 40.0, 130.0
TUBES, ROWS = 20, 30
"""The grid of one push: its force within 1 % of one four times as fine (a test)."""

# Where a material does not say; assumed, wide on purpose.
USUAL_YIELD_MPA = 50.0
"""Yield stress at room temperature of filament polymers: 40 to 60 MPa, typical, not verified."""
USUAL_HOT_YIELD_MPA = 18.0
"""What a core bears at its glass transition at the rates of a nozzle; set, together with the air
gap, to the push forces of Read et al. 2024 (see the explanation)."""
TENSION_INDEX = 0.25
"""A melt drawn out thins less than one sheared: Trouton's ratio grows with the rate to this power;
assumed (rheology texts say 'less', grades differ)."""
GLASS_UNDER_SOFTENING_K = 60.0
CRYSTAL_WIDTH_K = 4.0
"""A melt that crystallises stiffens e-fold every so many kelvin under its melting temperature;
assumed."""
USUAL_MELT = {"n": 0.45, "consistency_pa_sn": 9500.0, "activation_j_mol": 97_000.0}
"""A melt nobody measured, at 65 K over its softening temperature: the power law of generic ABS."""
USUAL_MELT_OVER_SOFTENING_K = 65.0


@dataclass(frozen=True)
class Melt:
    """A melt as the kernels take it: rate = G(stress)/a(temperature)."""

    ln_rate: Array
    """ln G against ln stress."""
    ln_stress: Array
    """ln stress against ln(rate·a)."""
    by_temperature: Array
    """(2, temperatures of the property tables): ln a; yield stress, Pa."""


def glass_of(material: Material) -> float:
    """The glass transition, °C: of the record, else well under softening."""
    if material.glass_c is not None:
        return material.glass_c
    return max(softening_of(material) - GLASS_UNDER_SOFTENING_K, ROOM_C + 5.0)


def rheology_of(material: Material) -> tuple[Rheology, bool]:
    """How the melt resists shear, and whether that is assumed."""
    if material.rheology is not None:
        return material.rheology, False
    at = softening_of(material) + USUAL_MELT_OVER_SOFTENING_K
    return Rheology(kind="power-law", reference_c=at, source="assumed", **USUAL_MELT), True


def melt_of(material: Material, terms: Terms = ALL) -> Melt:
    """The tables of a melt.

    Every law of :class:`~beadworth.material.Rheology` has a stress that depends on
    rate × a(temperature) alone; so has its limit by the yield stress not, which is why that
    stands in a table of its own.
    """
    return _melt_of(material.model_dump_json(), terms)


@lru_cache(maxsize=32)
def _melt_of(key: str, terms: Terms) -> Melt:
    material = Material.model_validate_json(key)
    fluid = fluid_row(rheology_of(material)[0])
    celsius = TABLE_START_C + TABLE_STEP_C * np.arange(251, dtype=np.float64)
    kelvin = celsius + ZERO_C_K
    ln_rate = np.arange(LN_RATE_START, LN_RATE_END, LN_STEP)  # ln of rate·a
    if fluid[0] == 1.0:
        n = fluid[2]
        shift = fluid[3] * (1.0 / kelvin - 1.0 / fluid[4]) / n
        ln_stress = math.log(fluid[1]) + n * ln_rate
    else:
        n, onset = fluid[1], math.log(fluid[2])
        if fluid[0] == 2.0:
            above = np.maximum(kelvin - fluid[4], -0.9 * fluid[6])
            shift = math.log(fluid[3]) - fluid[5] * above / (fluid[6] + above)
        else:
            shift = math.log(fluid[3]) + fluid[4] * (1.0 / kelvin - 1.0 / fluid[5])
        ln_stress = ln_rate - np.log1p(np.exp((1.0 - n) * (ln_rate - onset)))
    if material.melting_c is not None and material.latent_j_g:
        shift = shift + np.maximum(material.melting_c - celsius, 0.0) / CRYSTAL_WIDTH_K / n
    grid = np.arange(LN_STRESS_START, LN_STRESS_END, LN_STEP)
    slopes = (ln_rate[1] - ln_rate[0]) / np.diff(ln_stress)[[0, -1]]
    rate = np.interp(grid, ln_stress, ln_rate)
    rate += np.minimum(grid - ln_stress[0], 0.0) * slopes[0]
    rate += np.maximum(grid - ln_stress[-1], 0.0) * slopes[1]
    return Melt(rate, ln_stress, np.array([shift, _yield_pa(material, celsius, terms)]))


def _yield_pa(material: Material, celsius: Array, terms: Terms) -> Array:
    """Yield stress: in a straight line from room temperature to the glass transition, level on."""
    if not terms.yield_limit:
        return np.full(celsius.size, 1e16)
    cold = material.yield_mpa or USUAL_YIELD_MPA
    hot = min(material.yield_hot_mpa or USUAL_HOT_YIELD_MPA, cold)
    glass = glass_of(material)
    share = np.clip((glass - celsius) / (glass - ROOM_C), 0.0, 1.2)
    return np.asarray(1e6 * (hot + (cold - hot) * share))


def way_of(
    channel: Channel,
    wall_c: float,
    *,
    heat_factor: float = 1.0,
    softening_shift_c: float = 0.0,
    viscosity_factor: float = 1.0,
    yield_factor: float = 1.0,
    nozzle_factor: float = 1.0,
    terms: Terms = ALL,
) -> Array:
    """The row of numbers of :mod:`beadworth.melt._kernel_push` for one way and wall temperature."""
    radius, length, land_radius, land_length, slope = channel.si()
    return np.array(
        [
            radius, length, channel.channels, land_radius, land_length, slope,
            filament_section_mm2(channel.filament_mm) * 1e-6, wall_c, ROOM_C,
            channel.contact_m2k_w, channel.gap_m2k_w if terms.air_gap else 0.0,
            channel.wet_speed_mm_s * 1e-3, channel.wet_power, heat_factor, softening_shift_c,
            float(terms.radial_viscosity), float(terms.stiff_core), float(terms.bore),
            TENSION_INDEX if terms.tension else 0.0, math.log(viscosity_factor), nozzle_factor,
            math.log(yield_factor),
        ]
    )  # fmt: skip


def calibrated_way(
    channel: Channel, temperature_c: float, known: Scales, terms: Terms = ALL
) -> Array:
    """The way with what a calibration says of it."""
    return way_of(
        channel, temperature_c + known.wall_shift_c, heat_factor=known.heat_factor,
        softening_shift_c=known.softening_shift_c, viscosity_factor=known.viscosity_factor,
        yield_factor=known.yield_factor, nozzle_factor=known.nozzle_factor, terms=terms,
    )  # fmt: skip


def tables_of(properties: Properties) -> tuple[Array, Array, float, float]:
    """Conductivity, heat capacity, and where and how finely both are tabulated."""
    return (
        properties.conductivity_w_mk, properties.capacity_j_m3k, TABLE_START_C, TABLE_STEP_C,
    )  # fmt: skip
