"""The material record."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from beadworth.core import Record

Positive = Annotated[float, Field(gt=0)]


class Rheology(Record):
    """How the melt resists shear; which fields are needed depends on ``kind``."""

    kind: Literal["power-law", "cross-wlf", "cross-arrhenius"]
    n: Annotated[float, Field(gt=0, le=1)] = Field(description="flow index, 1 is Newtonian")
    consistency_pa_sn: Positive | None = Field(None, description="power law: K, Pa·sⁿ")
    tau_star_pa: Positive | None = Field(None, description="Cross: stress where thinning sets in")
    zero_pa_s: Positive | None = Field(None, description="Cross–Arrhenius: η₀, Pa·s")
    reference_c: float | None = Field(None, description="temperature K or η₀ hold at, °C")
    activation_j_mol: Annotated[float, Field(ge=0)] | None = Field(
        None, description="activation energy of flow, J/mol; left out: no change with temperature"
    )
    d1_pa_s: Positive | None = Field(None, description="Cross–WLF: D1, Pa·s")
    d2_k: Positive | None = Field(None, description="Cross–WLF: D2, K")
    a1: Positive | None = Field(None, description="Cross–WLF: A1")
    a2_k: Positive | None = Field(None, description="Cross–WLF: A2, K")
    source: str | None = Field(None, description="where the values come from")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        needed = {
            "power-law": ("consistency_pa_sn", "reference_c"),
            "cross-wlf": ("tau_star_pa", "d1_pa_s", "d2_k", "a1", "a2_k"),
            "cross-arrhenius": ("tau_star_pa", "zero_pa_s", "reference_c"),
        }[self.kind]
        missing = [name for name in needed if getattr(self, name) is None]
        if missing:
            raise ValueError(f"{self.kind} needs {', '.join(missing)} too. Add them.")
        return self


class Material(Record):
    """One filament material: density, working range, and the source of each."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    density_g_cm3: Annotated[float, Field(gt=0.2, lt=12)] = Field(
        description="density of the solid filament, g/cm³"
    )
    min_temperature_c: Positive = Field(description="lowest nozzle temperature it is used at, °C")
    max_temperature_c: Positive = Field(description="highest nozzle temperature it may see, °C")
    bed_c: Annotated[float, Field(ge=0)] | None = Field(None, description="bed temperature, °C")
    specific_heat_j_gk: Positive | None = Field(
        None,
        description="specific heat, J/(g·K): the mean from room to nozzle temperature, or "
        "the value at 0 °C where specific_heat_slope is given",
    )
    latent_j_g: Annotated[float, Field(ge=0)] | None = Field(
        None, description="heat of melting, J/g"
    )
    conductivity_w_mk: Positive | None = Field(
        None,
        description="thermal conductivity, W/(m·K), or its value at 0 °C where "
        "conductivity_slope is given",
    )
    softening_c: Positive | None = Field(None, description="softening temperature, °C")
    melting_c: Positive | None = Field(
        None, description="peak of the heat of melting, °C; left out: none is taken into account"
    )
    conductivity_slope: float | None = Field(
        None, description="change of conductivity per °C from 0 °C, W/(m·K²)"
    )
    specific_heat_slope: float | None = Field(
        None, description="change of specific heat per °C from 0 °C, J/(g·K²)"
    )
    melt_density_g_cm3: Annotated[float, Field(gt=0.2, lt=12)] | None = Field(
        None, description="density of the melt, g/cm³"
    )
    rheology: Rheology | None = Field(None, description="how the melt resists shear")
    glass_c: float | None = Field(None, description="glass transition temperature, °C")
    yield_mpa: Positive | None = Field(
        None, description="yield stress of the solid at room temperature, MPa"
    )
    yield_hot_mpa: Positive | None = Field(
        None,
        description="stress that deforms it at its glass transition as fast as a nozzle does, MPa",
    )
    softening_u_c: Positive | None = Field(
        None, description="standard uncertainty of the softening temperature, K"
    )
    diffusivity_u: Annotated[float, Field(gt=0, lt=1)] | None = Field(
        None, description="relative standard uncertainty of the thermal diffusivity"
    )
    viscosity_u: Annotated[float, Field(gt=0, lt=3)] | None = Field(
        None, description="relative standard uncertainty of the viscosity"
    )
    fumes_note: str | None = Field(None, description="what to know of its fumes")
    source: str | None = Field(None, description="where the values come from")
    simulated: bool = Field(False, description="true for an invented material of the demo")

    @model_validator(mode="after")
    def _range(self) -> Self:
        if self.min_temperature_c >= self.max_temperature_c:
            raise ValueError(
                f"min_temperature_c {self.min_temperature_c:g} must be below "
                f"max_temperature_c {self.max_temperature_c:g}. Swap or correct them."
            )
        return self
