"""Records of the hot end: heater, sensor, melt zone, nozzle, liner."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator
from pydantic_core import PydanticCustomError

from beadworth.core import Record
from beadworth.rig.fields import NotNegative, Positive


class Sensor(Record):
    """What measures the temperature of the block."""

    kind: Literal["platinum", "thermistor", "thermocouple"] | None = Field(
        None, description="kind of sensor"
    )
    ohm_at_0c: Positive | None = Field(
        None, description="platinum: resistance at 0 °C, Ω; 100 or 1000 as a rule"
    )
    ohm_at_25c: Positive | None = Field(
        None, description="thermistor: resistance at 25 °C, Ω; 100000 for 100 kΩ"
    )
    beta_k: Annotated[float, Field(gt=500, lt=10_000)] | None = Field(
        None, description="thermistor: beta, K"
    )
    steinhart_hart: tuple[float, float, float] | None = Field(
        None,
        description="thermistor: A, B, C of 1/T = A + B·ln R + C·(ln R)³ (T in K, R in Ω); "
        "taken before beta where both are given",
    )
    max_c: Positive | None = Field(
        None, description="highest temperature sensor and leads stand, °C"
    )
    pull_up_ohm: Positive | None = Field(
        None, description="resistor in series with the sensor on the board, Ω"
    )
    adc_bits: Annotated[int, Field(ge=8, le=24)] | None = Field(
        None, description="bits of the board's converter; 10 or 12 as a rule"
    )


class HotEnd(Record):
    """Heater, melt zone and nozzle."""

    heater_v: Positive | None = Field(None, description="heater supply, V")
    heater_w: Positive | None = Field(None, description="heater rating at that supply, W")
    heater_cycle_s: Annotated[float, Field(gt=0.2, lt=600)] | None = Field(
        None,
        description="time from one crest of the block's temperature to the next while it prints, s",
    )
    melt_zone_mm: Positive | None = Field(None, description="heated length of the bore, mm")
    bore_mm: Positive | None = Field(None, description="bore of the melt zone, mm")
    bore_kind: Literal["round", "channels", "other"] | None = Field(
        None,
        description="round (left out: round), channels where an insert or the bore itself splits "
        "the melt, other for what is neither",
    )
    wetted_perimeter_mm: Positive | None = Field(
        None, description="channels: length of all walls across one section of the bore, mm"
    )
    bore_section_mm2: Positive | None = Field(
        None, description="channels: open area of one section of the bore, mm²"
    )
    nozzle_mm: Positive = Field(0.4, description="nozzle diameter, mm", validate_default=True)
    land_mm: Positive | None = Field(None, description="straight length at the nozzle's tip, mm")
    cone_half_angle_deg: Annotated[float, Field(gt=5, lt=85)] | None = Field(
        None, description="half angle of the cone before the land, degrees"
    )
    temperature_limit_c: Positive | None = Field(
        None, description="highest temperature its maker allows, °C"
    )
    ptfe_in_melt_zone: bool | None = Field(
        None, description="true where a PTFE liner reaches the melt zone"
    )
    liner_limit_c: Positive | None = Field(
        None, description="highest temperature the liner stands, °C"
    )
    heat_break_mm: Positive | None = Field(
        None, description="length of the heat break between hot and cold side, mm"
    )
    liner_end_mm: NotNegative | None = Field(
        None, description="distance of the liner's end from the hot side, along the break, mm"
    )
    cold_side_c: Positive | None = Field(
        None, description="temperature of the cold side in use, °C"
    )
    sensor: Sensor | None = Field(None, description="temperature sensor")
    block_metal: Literal["aluminium", "brass", "copper", "steel"] | None = Field(
        None, description="metal of the heater block"
    )
    block_mass_g: Positive | None = Field(
        None, description="mass of what is heated: block, nozzle, cartridge and sensor, g"
    )
    standing_loss_w_k: Positive | None = Field(
        None,
        description="heat lost at rest per kelvin over the room, W/K; from a heater log: power "
        "that holds the temperature ÷ rise",
    )
    mass_g: Positive | None = Field(None, description="mass of the whole hot end, g")
    price: NotNegative | None = Field(None, description="price of the hot end")
    source: str | None = Field(None, description="where the values come from")

    @field_validator("nozzle_mm")
    @classmethod
    def _narrower_than_bore(cls, nozzle: float, info: object) -> float:
        bore = getattr(info, "data", {}).get("bore_mm")
        if bore is not None and nozzle >= bore:
            raise PydanticCustomError(
                "beadworth",
                "the nozzle ({nozzle} mm) is not narrower than the bore ({bore} mm).",
                {
                    "nozzle": f"{nozzle:g}",
                    "bore": f"{bore:g}",
                    "remedy": "Check nozzle_mm and bore_mm, both diameters in mm.",
                },
            )
        return nozzle
