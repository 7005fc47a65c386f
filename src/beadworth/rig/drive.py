"""Records of what turns: motors, and the drive that pushes the filament."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from beadworth.core import Record
from beadworth.rig.fields import Count, NotNegative, Positive, Ratio


class Motor(Record):
    """A two-phase stepper motor; values per phase as its data sheet gives them."""

    holding_torque_nm: Annotated[float, Field(gt=0, lt=20)] | None = Field(
        None, description="holding torque, both phases at rated current, N·m; 45 N·cm is 0.45"
    )
    rated_current_a: Annotated[float, Field(gt=0, lt=20)] | None = Field(
        None, description="rated current per phase, A"
    )
    rated_current_is: Literal["rms", "peak"] | None = Field(
        None, description="how the rated current is stated; rms where both phases carry it at once"
    )
    phase_inductance_mh: Annotated[float, Field(gt=0, lt=200)] | None = Field(
        None, description="inductance of a phase, mH"
    )
    phase_resistance_ohm: Annotated[float, Field(gt=0, lt=200)] | None = Field(
        None, description="resistance of a phase, Ω"
    )
    rotor_inertia_g_cm2: Annotated[float, Field(gt=0, lt=10_000)] | None = Field(
        None, description="inertia of the rotor, g·cm²"
    )
    detent_torque_nm: Annotated[float, Field(gt=0, lt=5)] | None = Field(
        None, description="torque that holds it without current, N·m"
    )
    supply_v: Annotated[float, Field(gt=0, lt=500)] | None = Field(
        None, description="voltage the driver is fed with, V"
    )
    mass_g: Positive | None = Field(None, description="mass, g")


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
    volumetric_e: bool | None = Field(
        None,
        description="true where E words are mm³ of filament; a file's M200 says so too",
    )
    retract_mm: NotNegative = Field(0.8, description="retraction of a travel move, mm")
    retract_mm_s: Positive = Field(30.0, description="speed of retraction and recovery, mm/s")
    pressure_lag_s: NotNegative = Field(
        0.05, description="time constant of the melt pressure, s; first order"
    )
    gear_ratio: Ratio | None = Field(
        None, description="turns of the motor per turn of the drive wheel"
    )
    effective_diameter_mm: Positive | None = Field(
        None,
        description="effective diameter of the drive wheel, mm; where its teeth bite, so a little "
        "under the outer one",
    )
    drive_wheel_teeth: Count | None = Field(
        None, description="teeth of the drive wheel that bite the filament, counted round it"
    )
    mesh_teeth: Count | None = Field(
        None, description="teeth of the gear on the drive wheel's shaft"
    )
    full_steps: Count | None = Field(None, description="full steps per turn of the motor")
    microsteps: Count | None = Field(None, description="microsteps per full step")
    motor: Motor | None = Field(None, description="motor")
    set_current_a: Positive | None = Field(
        None, description="phase current the driver is set to, A; left out: the rated one, as peak"
    )
    set_current_is: Literal["peak", "rms"] | None = Field(
        None, description="how that current is stated; left out: peak"
    )
    guide_tube_mm: Positive | None = Field(None, description="length of the guide tube, mm")
    mass_g: Positive | None = Field(None, description="mass with its motor, g")
    price: NotNegative | None = Field(None, description="price of the extruder")
    source: str | None = Field(None, description="where the values come from")
