"""The material record."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from beadworth.records import Record

Positive = Annotated[float, Field(gt=0)]


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
        None, description="mean specific heat from room to nozzle temperature, J/(g·K)"
    )
    latent_j_g: Annotated[float, Field(ge=0)] | None = Field(
        None, description="heat of melting, J/g"
    )
    conductivity_w_mk: Positive | None = Field(None, description="thermal conductivity, W/(m·K)")
    softening_c: Positive | None = Field(None, description="softening temperature, °C")
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
