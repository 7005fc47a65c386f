"""Generic polymers to start from: typical values with wide uncertainties, never a maker's grade.

Where a value comes from stands in each record's ``source``. 'Typical, not verified' means just
that: typical values remembered from polymer handbooks, not looked up, and rounded.
Softening is where a polymer first flows through a nozzle: published for PLA and ABS (Read et al.,
Integrating Materials and Manufacturing Innovation 13, 2024, 541, Table 4: 137 to 142 and 154 to
167 °C); for the others it is assumed from melting or glass transition, with a wide uncertainty.
Viscosities of PLA and ABS are set, within ranges of their sources, to that paper's push forces
(docs/explanation/melt.md says how).
"""

from __future__ import annotations

from beadworth.core import NotFoundError
from beadworth.material.record import Material, Rheology

_MEMORY = "typical, not verified (handbook range from memory)"
_PLA_HEAT = (
    "specific heat 974 + 5.09·T J/(kg·K): finite-element test input of a general-purpose library; "
    f"conductivity: {_MEMORY}; softening: first flow of a 2024 paper; glass transition and yield: "
    f"{_MEMORY}; viscosity: see there"
)

GENERIC: dict[str, Material] = {
    material.name: material
    for material in (
        Material(
            name="PLA",
            density_g_cm3=1.24,
            min_temperature_c=190.0,
            max_temperature_c=240.0,
            bed_c=55.0,
            melt_density_g_cm3=1.08,
            conductivity_w_mk=0.163,
            specific_heat_j_gk=0.974,
            specific_heat_slope=5.09e-3,
            softening_c=140.0,
            softening_u_c=5.0,
            glass_c=58.0,
            yield_mpa=60.0,
            diffusivity_u=0.12,
            viscosity_u=0.5,
            rheology=Rheology(
                kind="cross-wlf",
                n=0.35,
                tau_star_pa=1.0e5,
                d1_pa_s=1.8e9,
                d2_k=373.15,
                a1=20.2,
                a2_k=51.6,
                source="Cross–WLF; index from a review (Materials 16(24), 2023, 7664, Table 1: "
                "0.29 to 0.37), temperatures typical, not verified (one grade, from memory, "
                "rounded), level set to published push forces",
            ),
            fumes_note="Ventilate; additives differ from filament to filament.",
            source=_PLA_HEAT,
        ),
        Material(
            name="PETG",
            density_g_cm3=1.27,
            min_temperature_c=220.0,
            max_temperature_c=260.0,
            bed_c=75.0,
            melt_density_g_cm3=1.13,
            conductivity_w_mk=0.20,
            specific_heat_j_gk=1.6,
            softening_c=170.0,
            softening_u_c=15.0,
            diffusivity_u=0.2,
            fumes_note="Ventilate the room.",
            source=f"{_MEMORY}; softening assumed; no trustworthy melt viscosity was found: enter "
            "a measured melt-flow rate",
        ),
        Material(
            name="ABS",
            density_g_cm3=1.05,
            min_temperature_c=225.0,
            max_temperature_c=270.0,
            bed_c=100.0,
            melt_density_g_cm3=0.95,
            conductivity_w_mk=0.21,
            specific_heat_j_gk=1.157,
            specific_heat_slope=1.94e-3,
            softening_c=160.0,
            softening_u_c=8.0,
            glass_c=105.0,
            yield_mpa=45.0,
            diffusivity_u=0.15,
            viscosity_u=0.6,
            rheology=Rheology(
                kind="power-law",
                n=0.45,
                consistency_pa_sn=9500.0,
                reference_c=230.0,
                activation_j_mol=97000.0,
                source="within the range of a review (Materials 16(24), 2023, 7664, Table 1: "
                "n 0.42 to 0.49, K 6678 to 12189 Pa·sⁿ), its temperature assumed; level and "
                "activation energy set to published push forces and ceilings",
            ),
            fumes_note="Gives off styrene: extract to outdoors, do not breathe it.",
            source="specific heat: straight line through 1210.1 J/(kg·K) at 298 K and 1645.6 at "
            "523 K (second-hand quotation of a 2022 paper); conductivity: from the diffusivity its "
            f"Péclet number implies; softening: first flow of a 2024 paper; the rest: {_MEMORY}",
        ),
        Material(
            name="TPU",
            density_g_cm3=1.21,
            min_temperature_c=210.0,
            max_temperature_c=240.0,
            bed_c=45.0,
            melt_density_g_cm3=1.10,
            conductivity_w_mk=0.20,
            specific_heat_j_gk=1.9,
            softening_c=185.0,
            softening_u_c=15.0,
            diffusivity_u=0.2,
            fumes_note="Ventilate the room; dry it first, steam spoils coupons.",
            source=f"{_MEMORY}; softening assumed; no trustworthy melt viscosity was found",
        ),
        Material(
            name="PA",
            density_g_cm3=1.13,
            min_temperature_c=240.0,
            max_temperature_c=290.0,
            bed_c=90.0,
            melt_density_g_cm3=0.97,
            conductivity_w_mk=0.24,
            specific_heat_j_gk=2.2,
            latent_j_g=60.0,
            melting_c=220.0,
            softening_c=222.0,
            softening_u_c=12.0,
            diffusivity_u=0.2,
            fumes_note="Ventilate the room; dry it first, steam spoils coupons.",
            source=f"{_MEMORY}; softening assumed at melting",
        ),
        Material(
            name="PC",
            density_g_cm3=1.20,
            min_temperature_c=260.0,
            max_temperature_c=310.0,
            bed_c=110.0,
            melt_density_g_cm3=1.05,
            conductivity_w_mk=0.20,
            specific_heat_j_gk=1.7,
            softening_c=205.0,
            softening_u_c=15.0,
            diffusivity_u=0.2,
            fumes_note="Ventilate the room well.",
            source=f"{_MEMORY}; softening assumed",
        ),
    )
}


def generic(name: str) -> Material:
    """A generic polymer by its short name; neither case nor blanks around it matter.

    Raises
    ------
    NotFoundError
        No such polymer; the message lists those there are.
    """
    for known, material in GENERIC.items():
        if known.lower() == name.strip().lower():
            return material
    raise NotFoundError(
        f"there is no generic polymer {name!r}.",
        where="material",
        value=name,
        remedy=f"Known: {', '.join(GENERIC)}; or enter a material of your own.",
    )
