"""How a melt resists shear, as a row of eight numbers, and the ISO 1133 die."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadworth.core import GRAVITY_M_S2, ZERO_C_K
from beadworth.material import Rheology

Array = NDArray[np.float64]
GAS_J_MOL_K = 8.314462618
"""Molar gas constant (CODATA 2018, exact)."""

# ISO 1133-1 (dimensions from memory, see the check values): barrel, piston head, die.
BARREL_MM, PISTON_MM, DIE_MM, DIE_LENGTH_MM = 9.550, 9.474, 2.095, 8.000


def fluid_row(rheology: Rheology) -> Array:
    """Eight numbers for a fluid: kind, then its parameters in SI.

    1, K, n, Ea/R, Tref: power law; 2, n, τ*, D1, D2, A1, A2: Cross–WLF;
    3, n, τ*, η0, Ea/R, Tref: Cross–Arrhenius. Temperatures in K.
    """
    reference = (rheology.reference_c or 0.0) + ZERO_C_K
    activation = (rheology.activation_j_mol or 0.0) / GAS_J_MOL_K
    if rheology.kind == "power-law":
        row = [1.0, rheology.consistency_pa_sn, rheology.n, activation, reference]
    elif rheology.kind == "cross-wlf":
        row = [2.0, rheology.n, rheology.tau_star_pa, rheology.d1_pa_s, rheology.d2_k,
               rheology.a1, rheology.a2_k]  # fmt: skip
    else:
        row = [3.0, rheology.n, rheology.tau_star_pa, rheology.zero_pa_s, activation, reference]
    return np.array(row + [0.0] * (8 - len(row)), dtype=np.float64)


def viscosity_pa_s(rheology: Rheology, rate_1_s: float, temperature_c: float) -> float:
    """Shear viscosity at a shear rate and temperature, Pa·s."""
    return shear_stress_pa(fluid_row(rheology), rate_1_s, temperature_c) / rate_1_s


def shear_stress_pa(fluid: Array, rate_1_s: float, temperature_c: float) -> float:
    """Shear stress of a fluid (:func:`fluid_row`) at a shear rate, Pa."""
    kelvin = temperature_c + ZERO_C_K
    if fluid[0] == 1.0:
        shift = math.exp(fluid[3] * (1.0 / kelvin - 1.0 / fluid[4]))
        return float(fluid[1] * shift * rate_1_s ** fluid[2])
    if fluid[0] == 2.0:
        above = max(kelvin - fluid[4], -0.9 * fluid[6])  # the WLF form has a pole at D2 − A2
        zero = fluid[3] * math.exp(-fluid[5] * above / (fluid[6] + above))
    else:
        zero = fluid[3] * math.exp(fluid[4] * (1.0 / kelvin - 1.0 / fluid[5]))
    return float(zero * rate_1_s / (1.0 + (zero * rate_1_s / fluid[2]) ** (1.0 - fluid[1])))


def melt_flow_viscosity(
    mfr_g_10min: float, load_kg: float, melt_density_g_cm3: float
) -> tuple[float, float]:
    """Apparent viscosity from a data sheet's melt-flow rate (ISO 1133-1 die).

    The load acts on the barrel's area; entrance losses are left out, so the true
    viscosity is somewhat lower.

    Returns
    -------
    (viscosity_pa_s, rate_1_s)
        Apparent viscosity and the apparent shear rate it holds at.
    """
    flow_mm3_s = mfr_g_10min / melt_density_g_cm3 * 1000 / 600
    radius = DIE_MM / 2
    rate = 4 * flow_mm3_s / (math.pi * radius**3)
    return wall_stress_kpa(load_kg) * 1000 / rate, rate


def wall_stress_kpa(load_kg: float, piston_mm: float = BARREL_MM) -> float:
    """Wall shear stress in the ISO 1133-1 die under a load, kPa: Δp·R/(2·L)."""
    return piston_pressure_mpa(load_kg, piston_mm) * 1000 * (DIE_MM / 2) / (2 * DIE_LENGTH_MM)


def piston_pressure_mpa(load_kg: float, piston_mm: float = BARREL_MM) -> float:
    """Pressure under the loaded piston of ISO 1133-1, MPa; say which area is used."""
    return load_kg * GRAVITY_M_S2 / (math.pi / 4 * piston_mm**2)
