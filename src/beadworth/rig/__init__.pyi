from .axes import (
    Axes as Axes,
)
from .axes import (
    Axis as Axis,
)
from .axes import (
    AxisLimits as AxisLimits,
)
from .axes import (
    Beam as Beam,
)
from .axes import (
    Guide as Guide,
)
from .axes import (
    Motion as Motion,
)
from .change import (
    OWN as OWN,
)
from .change import (
    changed as changed,
)
from .change import (
    upgrade as upgrade,
)
from .change import (
    without_stale as without_stale,
)
from .drawing import (
    describe_stack as describe_stack,
)
from .drawing import (
    side_view as side_view,
)
from .drive import (
    Extruder as Extruder,
)
from .drive import (
    Motor as Motor,
)
from .drivetrain import (
    BELT_EFFICIENCY as BELT_EFFICIENCY,
)
from .drivetrain import (
    GRAVITY_M_S2 as GRAVITY_M_S2,
)
from .drivetrain import (
    MOTOR_NEEDS as MOTOR_NEEDS,
)
from .drivetrain import (
    Train as Train,
)
from .drivetrain import (
    belt_stiffness_n_m as belt_stiffness_n_m,
)
from .drivetrain import (
    pull_out_torque_nm as pull_out_torque_nm,
)
from .drivetrain import (
    ratio_of as ratio_of,
)
from .drivetrain import (
    resonance_hz as resonance_hz,
)
from .drivetrain import (
    safe_acceleration_m_s2 as safe_acceleration_m_s2,
)
from .drivetrain import (
    steps_per_mm as steps_per_mm,
)
from .drivetrain import (
    travel_per_turn_mm as travel_per_turn_mm,
)
from .drivetrain import (
    windings as windings,
)
from .electrics import (
    Electrics as Electrics,
)
from .electrics import (
    Fan as Fan,
)
from .fields import (
    Currency as Currency,
)
from .heater import (
    SPECIFIC_HEAT_J_GK as SPECIFIC_HEAT_J_GK,
)
from .heater import (
    SPECIFIC_HEAT_U as SPECIFIC_HEAT_U,
)
from .heater import (
    Metal as Metal,
)
from .heater import (
    heater_current_a as heater_current_a,
)
from .heater import (
    heater_power_w as heater_power_w,
)
from .heater import (
    standing_loss_w as standing_loss_w,
)
from .hot_end import (
    HotEnd as HotEnd,
)
from .hot_end import (
    Sensor as Sensor,
)
from .paths import (
    describe as describe,
)
from .paths import (
    descriptions as descriptions,
)
from .paths import (
    look_up as look_up,
)
from .paths import (
    replaced as replaced,
)
from .pattern import (
    match as match,
)
from .record import (
    Known as Known,
)
from .record import (
    Rig as Rig,
)
from .sensors import (
    kelvin_per_count as kelvin_per_count,
)
from .space import (
    BuildVolume as BuildVolume,
)
from .space import (
    Hole as Hole,
)
from .space import (
    Mounting as Mounting,
)
from .space import (
    Pattern as Pattern,
)
from .space import (
    Room as Room,
)
from .space import (
    Slot as Slot,
)
from .space import (
    Toolhead as Toolhead,
)
from .statics import (
    deflection_mm as deflection_mm,
)
from .statics import (
    friction_angle_deg as friction_angle_deg,
)
from .statics import (
    lead_angle_deg as lead_angle_deg,
)
from .statics import (
    lift_off_n as lift_off_n,
)
from .statics import (
    screw_efficiency as screw_efficiency,
)
from .statics import (
    second_moment_mm4 as second_moment_mm4,
)

__all__ = [
    "BELT_EFFICIENCY",
    "GRAVITY_M_S2",
    "MOTOR_NEEDS",
    "OWN",
    "SPECIFIC_HEAT_J_GK",
    "SPECIFIC_HEAT_U",
    "Axes",
    "Axis",
    "AxisLimits",
    "Beam",
    "BuildVolume",
    "Currency",
    "Electrics",
    "Extruder",
    "Fan",
    "Guide",
    "Hole",
    "HotEnd",
    "Known",
    "Metal",
    "Motion",
    "Motor",
    "Mounting",
    "Pattern",
    "Rig",
    "Room",
    "Sensor",
    "Slot",
    "Toolhead",
    "Train",
    "belt_stiffness_n_m",
    "changed",
    "deflection_mm",
    "describe",
    "describe_stack",
    "descriptions",
    "friction_angle_deg",
    "heater_current_a",
    "heater_power_w",
    "kelvin_per_count",
    "lead_angle_deg",
    "lift_off_n",
    "look_up",
    "match",
    "pull_out_torque_nm",
    "ratio_of",
    "replaced",
    "resonance_hz",
    "safe_acceleration_m_s2",
    "screw_efficiency",
    "second_moment_mm4",
    "side_view",
    "standing_loss_w",
    "steps_per_mm",
    "travel_per_turn_mm",
    "upgrade",
    "windings",
    "without_stale",
]
