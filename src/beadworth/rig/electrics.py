"""Records of the electrics: supply, outputs, fans."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from beadworth.core import Record
from beadworth.rig.fields import NotNegative, Positive


class Electrics(Record):
    """Supply and board outputs, as rated by their makers."""

    supply_v: Annotated[float, Field(gt=0, lt=400)] | None = Field(
        None, description="voltage of the supply, V"
    )
    supply_a: Positive | None = Field(None, description="current the supply is rated for, A")
    heater_output_a: Positive | None = Field(
        None, description="current the hot end's output is rated for, A"
    )
    bed_output_a: Positive | None = Field(
        None, description="current the bed's output and its connector stand, A; the smaller"
    )
    fan_output_a: Positive | None = Field(
        None, description="current the part fan's output is rated for, A"
    )
    fan_output_v: Positive | None = Field(None, description="voltage of the fan output, V")
    bed_heater_w: NotNegative | None = Field(
        None, description="bed heater fed from this supply, W; 0 where it has its own"
    )
    other_w: NotNegative | None = Field(
        None, description="board, lights and whatever else hangs on the supply, W"
    )


class Fan(Record):
    """One fan, or several alike."""

    purpose: Literal["part", "hot end", "board"] = Field("part", description="what it cools")
    volts_v: Positive | None = Field(None, description="voltage it is made for, V")
    current_a: Positive | None = Field(None, description="current of one, A")
    airflow_m3_h: Positive | None = Field(None, description="air that one moves freely, m³/h")
    mass_g: Positive | None = Field(None, description="mass of one, g")
    count: Annotated[int, Field(ge=1, le=12)] = Field(1, description="how many alike")
    price: NotNegative | None = Field(None, description="price of one")
