"""The rig record: small, everything optional that can be, easy to extend."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from beadworth.records import Record

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


class HotEnd(Record):
    """Heater, melt zone and nozzle."""

    heater_v: Positive | None = Field(None, description="heater supply, V")
    heater_w: Positive | None = Field(None, description="heater rating at that supply, W")
    melt_zone_mm: Positive | None = Field(None, description="heated length of the bore, mm")
    bore_mm: Positive | None = Field(None, description="bore of the melt zone, mm")
    nozzle_mm: Positive = Field(0.4, description="nozzle diameter, mm")
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


class Extruder(Record):
    """What pushes the filament."""

    drive: Literal["direct", "bowden"] | None = Field(
        None, description="direct drive, or bowden with a guide tube"
    )
    steps_per_mm: Positive | None = Field(None, description="motor steps per mm of filament")
    max_feed_mm_s: Positive | None = Field(None, description="fastest filament feed, mm/s")
    max_acceleration_mm_s2: Positive | None = Field(
        None, description="extruder acceleration limit, mm/s²"
    )
    grip_force_n: Positive | None = Field(
        None, description="push force at which the drive slips, N"
    )
    retract_mm: NotNegative = Field(0.8, description="retraction of a travel move, mm")
    retract_mm_s: Positive = Field(30.0, description="speed of retraction and recovery, mm/s")
    pressure_lag_s: NotNegative = Field(
        0.05, description="time constant of the melt pressure, s (first order)"
    )


class BuildVolume(Record):
    """What the nozzle can reach, from the origin."""

    x_mm: Positive
    y_mm: Positive
    z_mm: Positive


class AxisLimits(Record):
    """One value per axis."""

    x: Positive
    y: Positive
    z: Positive


class Motion(Record):
    """Speed, acceleration and corner limits, as the controller is set."""

    max_speed_mm_s: AxisLimits | None = Field(None, description="top speed per axis, mm/s")
    max_acceleration_mm_s2: AxisLimits | None = Field(
        None, description="acceleration limit per axis, mm/s²"
    )
    print_acceleration_mm_s2: Positive | None = None
    travel_acceleration_mm_s2: Positive | None = None
    retract_acceleration_mm_s2: Positive | None = None
    junction_deviation_mm: Positive | None = Field(
        None, description="corner rule by centripetal deviation, mm"
    )
    corner_step_mm_s: AxisLimits | None = Field(
        None, description="corner rule by the largest speed step per axis, mm/s"
    )
    extruder_corner_step_mm_s: Positive | None = None
    look_ahead_moves: Annotated[int, Field(ge=2)] | None = Field(
        None, description="moves the controller looks ahead; unlimited where left out"
    )
    e_follows_g90: bool = Field(
        False, description="true where G90 and G91 set the E mode too (else only M82/M83)"
    )


class Toolhead(Record):
    """The room a toolhead needs beside the nozzle, for laying coupons one at a time."""

    radius_mm: Positive = Field(45.0, description="farthest part from the nozzle axis, mm")
    height_mm: Positive = Field(
        25.0, description="height above the nozzle tip of the lowest part outside the nozzle, mm"
    )


class Rig(Record):
    """A printer in one state; an upgrade makes a child rig that names its parent."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    parent: str | None = Field(None, description="name of the rig this one was upgraded from")
    frame: str | None = Field(None, description="frame type in the trade's words, e.g. moving bed")
    filament_diameter_mm: Annotated[float, Field(gt=0.5, lt=5)] = 1.75
    hot_end: HotEnd = HotEnd()
    extruder: Extruder = Extruder()
    build_volume: BuildVolume | None = None
    motion: Motion = Motion()
    toolhead: Toolhead = Toolhead()
    price: NotNegative | None = Field(
        None, description="price of the parts that differ from the parent rig"
    )
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")] | None = Field(
        None, description="ISO 4217 code of the price"
    )
    mass_g: NotNegative | None = Field(
        None, description="moving mass of the parts that differ from the parent rig, g"
    )
    supplied_by: str | None = Field(
        None, description="who supplied the hardware, for the disclosure line"
    )
    simulated: bool = Field(False, description="true for an invented rig of the demo")
    note: str | None = None
