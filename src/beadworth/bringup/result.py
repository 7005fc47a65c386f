"""What a bring-up found, as plain records to be stored with the rig."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from beadworth.core import Record


class AxisResult(Record):
    """Measured moves of one axis against commanded ones."""

    axis: Literal["x", "y", "z"] = Field(description="axis")
    scale_error: float = Field(description="measured ÷ commanded − 1, by the slope of the line")
    u_scale: float = Field(description="standard uncertainty of the scale error")
    zero_mm: float = Field(description="zero error: where the line starts, mm")
    u_zero_mm: float = Field(description="standard uncertainty of the zero error, mm")
    scatter_mm: float = Field(description="scatter of the readings about the line, mm")
    readings: int = Field(description="readings taken")
    coverage: float = Field(description="coverage factor for 95 %")
    scale_significant: bool = Field(description="true where the scale error stands out")
    zero_significant: bool = Field(description="true where the zero error stands out")
    steps_now: float = Field(description="steps per mm set while measuring")
    steps_per_mm: float = Field(description="steps per mm to set")
    u_steps_per_mm: float = Field(description="standard uncertainty of steps per mm")
    advice: str = Field(description="what to do, in words")


class FeedResult(Record):
    """Filament delivered per filament commanded, by one method."""

    method: Literal["mark and measure", "mass", "both"] = Field(description="how it was measured")
    factor: float = Field(description="delivered ÷ commanded")
    u: float = Field(description="standard uncertainty of the factor")
    readings: int = Field(description="readings taken")
    dof: float = Field(description="degrees of freedom of u")


class FeedAgreement(Record):
    """Two methods side by side."""

    difference: float = Field(description="factor by marks less factor by mass")
    en: float = Field(description="difference ÷ its expanded uncertainty; agree up to 1")
    agree: bool = Field(description="true where the two methods agree")
    result: FeedResult = Field(description="both together where they agree, else the marks alone")
    steps_now: float = Field(description="extruder steps per mm set while measuring")
    steps_per_mm: float = Field(description="extruder steps per mm to set")
    u_steps_per_mm: float = Field(description="standard uncertainty of steps per mm")
    significant: bool = Field(description="true where the error stands out")
    advice: str = Field(description="what to do, in words")


class SquareResult(Record):
    """How square x and y stand."""

    skew_mm_per_100: float = Field(description="shift of x per 100 mm of y, mm")
    u_mm_per_100: float = Field(description="its standard uncertainty, mm")
    angle_deg: float = Field(description="angle between the axes, degrees")
    significant: bool = Field(description="true where it stands out against the ruler")
    advice: str = Field(description="what to do, in words")


class HeaterResult(Record):
    """A heater as gain, time constant and dead time."""

    gain_k: float = Field(description="rise in the long run at full duty, K")
    u_gain_k: float = Field(description="standard uncertainty of the gain, K")
    time_constant_s: float = Field(description="time constant, s")
    u_time_constant_s: float = Field(description="standard uncertainty of the time constant, s")
    dead_time_s: float = Field(description="dead time, s")
    u_dead_time_s: float = Field(description="standard uncertainty of the dead time, s")
    rate_k_s: float = Field(description="first warming at full duty: gain ÷ time constant, K/s")
    u_rate_k_s: float = Field(description="standard uncertainty of that rate, K/s")
    room_c: float = Field(description="temperature of the room as fitted or given, °C")
    scatter_k: float = Field(description="scatter of the readings about the model, K")
    serial: float = Field(description="serial correlation of the residuals; widens the u above")
    readings: int = Field(description="readings in the log")
    notes: tuple[str, ...] = Field((), description="what to mind")


class LossResult(Record):
    """Heat lost at rest."""

    temperature_c: float = Field(description="temperature held, °C")
    duty: float = Field(description="mean duty while held, 0 to 1")
    power_w: float = Field(description="power while held, W")
    loss_w_k: float = Field(description="loss per kelvin over the room, W/K")
    u_loss_w_k: float = Field(description="its standard uncertainty, W/K")
    seconds: float = Field(description="how long it was held, s")


class HeatUpResult(Record):
    """Warming measured against what watts and mass allow."""

    measured_k_s: float = Field(description="steepest warming at full duty, K/s")
    u_measured_k_s: float = Field(description="its standard uncertainty, K/s")
    expected_k_s: float = Field(description="power less loss ÷ heat capacity, K/s")
    u_expected_k_s: float = Field(description="its standard uncertainty, K/s")
    at_c: float = Field(description="temperature it was measured at, °C")
    share: float = Field(description="measured ÷ expected")
    verdict: Literal["fits", "look closer", "does not fit"] = Field(description="plain verdict")
    advice: str = Field(description="what to do, in words")


class Gains(Record):
    """Starting gains of a controller, textbook form: u = Kc·(e + ∫e/Ti + Td·de/dt)."""

    rule: Literal["Ziegler–Nichols 1942", "SIMC 2003"] = Field(description="rule")
    form: Literal["PI", "PID"] = Field(description="terms used")
    kc_per_k: float = Field(description="gain Kc, duty (0 to 1) per K")
    ti_s: float = Field(description="integral time Ti, s")
    td_s: float = Field(0.0, description="derivative time Td, s")


class BringUpResult(Record):
    """Everything one bring-up found; stored with the rig."""

    rig: Annotated[str, Field(min_length=1)] = Field(description="name of the rig")
    on: str | None = Field(None, description="day it was done, as 2027-03-14")
    axes: tuple[AxisResult, ...] = Field((), description="moves")
    feed: FeedAgreement | None = Field(None, description="extruder feed")
    square: SquareResult | None = Field(None, description="squareness")
    heater: HeaterResult | None = Field(None, description="heater model")
    loss: LossResult | None = Field(None, description="standing loss")
    heat_up: HeatUpResult | None = Field(None, description="warming")
    gains: tuple[Gains, ...] = Field((), description="starting gains")
    note: str | None = Field(None, description="note")
