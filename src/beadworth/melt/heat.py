"""Heat into a moving core: the march down a heated tube, made ready for one polymer."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from beadworth.core import InputError, Place, Problem
from beadworth.material import Material

Array = NDArray[np.float64]
TABLE_START_C, TABLE_STEP_C = 0.0, 2.0
MELTING_WIDTH_K = 15.0
"""Heat of melting is spread over ± this about the melting temperature (a smooth peak)."""
CELLS, ROWS = 40, 120
"""The grid of one state: the core within 0.7 K, the mean within 0.3 K of one four times as fine."""
FOURIER_END = 3.0
"""Fourier number the march ends at; the axis is within 0.01 % of the wall there."""


@dataclass(frozen=True)
class Properties:
    """Conductivity and volumetric heat capacity against temperature, evenly tabulated from 0 °C."""

    conductivity_w_mk: Array
    capacity_j_m3k: Array

    @property
    def celsius(self) -> Array:
        """The temperatures the tables stand at."""
        count = self.conductivity_w_mk.size
        return TABLE_START_C + TABLE_STEP_C * np.arange(count, dtype=np.float64)

    @property
    def diffusivity_m2_s(self) -> Array:
        """Thermal diffusivity at each table temperature."""
        return self.conductivity_w_mk / self.capacity_j_m3k


def properties_of(material: Material) -> Properties:
    """Tables from a material record.

    Density is that of the solid throughout: what is fed is metered as solid, and
    mass flux, not volume, is what is the same along the tube.

    Raises
    ------
    InputError
        Conductivity or specific heat unknown, both named at once.
    """
    missing = [
        name
        for name in ("conductivity_w_mk", "specific_heat_j_gk")
        if getattr(material, name) is None
    ]
    if missing:
        raise InputError(
            [
                Problem(
                    f"{name} of {material.name} is not known, and the melt model needs it.",
                    where=Place.of_field(f"material {material.name}", name),
                    remedy="Enter it from a data sheet, or start from a generic polymer.",
                )
                for name in missing
            ]
        )
    assert material.conductivity_w_mk is not None
    assert material.specific_heat_j_gk is not None
    return _tables(
        material.conductivity_w_mk, material.conductivity_slope or 0.0,
        material.specific_heat_j_gk, material.specific_heat_slope or 0.0,
        material.latent_j_g or 0.0, material.melting_c or 0.0, material.density_g_cm3,
    )  # fmt: skip


@lru_cache(maxsize=32)
def _tables(
    conductivity_w_mk: float, conductivity_slope: float, specific_heat_j_gk: float,
    specific_heat_slope: float, latent_j_g: float, melting_c: float, density_g_cm3: float,
) -> Properties:  # fmt: skip
    """The same for the values that the tables hang on; worked out once, read only."""
    celsius = TABLE_START_C + TABLE_STEP_C * np.arange(251, dtype=np.float64)
    conductivity = conductivity_w_mk + conductivity_slope * celsius
    heat = specific_heat_j_gk + specific_heat_slope * celsius
    if latent_j_g and melting_c:
        away = (celsius - melting_c) / MELTING_WIDTH_K
        peak = np.where(np.abs(away) < 1, (1 + np.cos(np.pi * away)) / 2, 0.0)
        heat = heat + latent_j_g * peak / MELTING_WIDTH_K
    return Properties(conductivity, heat * density_g_cm3 * 1e6)


@lru_cache(maxsize=32)
def velocity_share(cells: int, profile_index: float) -> Array:
    """Flow share ∫φ·r̂·dr̂ of each radial cell, summing to 1/2; worked out once, read only.

    Parameters
    ----------
    cells : int
        Equal-width cells from axis to wall.
    profile_index : float, 0 to 1
        Flow index n of a power-law profile φ = (3n+1)/(n+1)·(1 − r̂^(1+1/n));
        1 is parabolic, 0 is a plug (a solid core sliding).
    """
    edge = np.linspace(0.0, 1.0, cells + 1)
    if profile_index == 0:
        return np.diff(edge**2 / 2)
    power = 1 + 1 / profile_index
    peak = (3 * profile_index + 1) / (profile_index + 1)
    return np.diff(peak * (edge**2 / 2 - edge ** (power + 2) / (power + 2)))


@dataclass(frozen=True)
class March:
    """Temperatures down the tube against ξ = π·z/Q (s/m²), whatever the flow."""

    xi: Array
    profiles: Array
    """(rows, cells), °C, from the axis outwards."""
    core: Array
    bulk: Array
    """Mixed (flow-weighted) temperature per row."""


def march(
    properties: Properties,
    *,
    wall_c: float,
    inlet_c: float,
    contact_over_radius: float = 0.0,
    profile_index: float = 0.0,
    cells: int = CELLS,
    rows: int = ROWS,
    fourier_end: float = FOURIER_END,
) -> March:
    """March the temperature down a tube of constant wall temperature.

    Second order in both directions: halving cells and steps quarters the error
    (shown in the tests against the series for plug and parabolic flow).

    Parameters
    ----------
    contact_over_radius : float
        Wall contact resistance (m²·K/W) over the bore radius (m).
    fourier_end : float
        Where to stop, as α·ξ with the slowest diffusivity of the table in range.
    """
    from beadworth.melt import _kernel

    xi = march_grid(properties, inlet_c, wall_c, rows, fourier_end)
    flux = velocity_share(cells, profile_index)
    profiles = np.empty((xi.size, cells))
    core, bulk = np.empty(xi.size), np.empty(xi.size)
    _kernel.solve_one(
        xi, flux, float(inlet_c), float(wall_c), float(contact_over_radius),
        properties.conductivity_w_mk, properties.capacity_j_m3k, TABLE_START_C, TABLE_STEP_C,
        profiles, core, bulk,
    )  # fmt: skip
    return March(xi, profiles, core, bulk)


def march_grid(
    properties: Properties, inlet_c: float, wall_c: float, rows: int, fourier_end: float
) -> Array:
    """Marching stations: cubic, so that the steep start at the inlet is resolved."""
    celsius = properties.celsius
    low, high = sorted((inlet_c, wall_c))
    within = (celsius >= low - TABLE_STEP_C) & (celsius <= high + TABLE_STEP_C)
    slowest = float(properties.diffusivity_m2_s[within].min())
    return fourier_end / slowest * (np.arange(rows + 1) / rows) ** 3
