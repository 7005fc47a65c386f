"""From a data sheet's melt-flow rate (ISO 1133-1) to a fluid the melt model can use."""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import InputError, Problem
from beadworth.material import Material, Rheology
from beadworth.melt.rheology import melt_flow_viscosity, viscosity_pa_s, wall_stress_kpa

USUAL_INDEX = 0.4
"""Flow index assumed where none is known; common practice for filament polymers, no source."""


@dataclass(frozen=True)
class MeltFlowEstimate:
    """What a melt-flow rate says of a melt, and a power law through it."""

    temperature_c: float
    wall_stress_kpa: float
    rate_1_s: float
    """Apparent shear rate at the die's wall, 4·Q/(π·R³)."""
    viscosity_pa_s: float
    """Apparent viscosity there; entrance losses are left out, so the true one is lower."""
    rheology: Rheology


def melt_flow_estimate(
    mfr_g_10min: float,
    load_kg: float,
    temperature_c: float,
    melt_density_g_cm3: float,
    *,
    flow_index: float = USUAL_INDEX,
    activation_j_mol: float | None = None,
) -> MeltFlowEstimate:
    """One point of viscosity from a melt-flow rate, and the power law of that index through it.

    The power law takes the wall's true rate, the apparent one times (3n + 1)/(4n)
    (Rabinowitsch), so that it gives the measured stress back.

    Raises
    ------
    InputError
        Values that must be above 0 and are not, or an index outside 0 to 1; all at once.
    """
    problems = [
        Problem(f"{value:g} is not above 0.", name, value, "Take it from the data sheet.")
        for name, value in (
            ("melt-flow rate, g/10 min", mfr_g_10min),
            ("load, kg", load_kg),
            ("temperature, °C", temperature_c),
            ("melt density, g/cm³", melt_density_g_cm3),
        )
        if not (math.isfinite(value) and value > 0)
    ]
    if not 0.05 <= flow_index <= 1:
        problems.append(
            Problem(
                f"a flow index of {flow_index:g} is outside 0.05 to 1.",
                "flow index",
                flow_index,
                f"1 is Newtonian; filament polymers lie near {USUAL_INDEX:g}.",
            )
        )
    if problems:
        raise InputError(problems)
    viscosity, rate = melt_flow_viscosity(mfr_g_10min, load_kg, melt_density_g_cm3)
    stress_kpa = wall_stress_kpa(load_kg)
    true_rate = rate * (3 * flow_index + 1) / (4 * flow_index)
    fluid = Rheology(
        kind="power-law",
        n=flow_index,
        consistency_pa_sn=stress_kpa * 1e3 / true_rate**flow_index,
        reference_c=temperature_c,
        activation_j_mol=activation_j_mol,
        source=f"melt-flow rate {mfr_g_10min:g} g/10 min at {temperature_c:g} °C, {load_kg:g} kg; "
        f"flow index {flow_index:g} assumed",
    )
    return MeltFlowEstimate(temperature_c, stress_kpa, rate, viscosity, fluid)


def against_material(estimate: MeltFlowEstimate, material: Material) -> float | None:
    """Viscosity of the estimate ÷ that of a material, at the die's true rate and temperature."""
    if material.rheology is None:
        return None
    n = estimate.rheology.n
    rate = estimate.rate_1_s * (3 * n + 1) / (4 * n)
    own = viscosity_pa_s(estimate.rheology, rate, estimate.temperature_c)
    return own / viscosity_pa_s(material.rheology, rate, estimate.temperature_c)
