from .axes import Axes, Axis, AxisLimits, Beam, Guide, Motion
from .change import OWN, WHOLE, as_planned, changed, upgrade, without_stale
from .drawing import describe_stack, side_view
from .drive import Extruder, Motor
from .drivetrain import (
    BELT_EFFICIENCY,
    MOTOR_NEEDS,
    Train,
    belt_stiffness_n_m,
    diagonal_acceleration_m_s2,
    pull_out_torque_nm,
    ratio_of,
    resonance_hz,
    safe_acceleration_m_s2,
    steps_per_mm,
    travel_per_turn_mm,
    windings,
)
from .durations import Durations
from .electrics import Electrics, Fan
from .fields import Currency
from .heater import (
    EXPANSION_PER_K,
    SPECIFIC_HEAT_J_GK,
    SPECIFIC_HEAT_U,
    Metal,
    heater_current_a,
    heater_power_w,
    standing_loss_w,
)
from .hot_end import HotEnd, Sensor
from .layout import LAYOUTS, RigStart, rig_from_layout, three_numbers, without_typical_marks
from .part import PartCard, PartKind, card_of, with_parts
from .paths import describe, descriptions, look_up, replaced
from .pattern import match
from .plausible import Question, questions
from .record import FittedParts, Known, Rig
from .sensors import kelvin_per_count
from .space import BuildVolume, Hole, Mounting, Pattern, Room, Slot, Toolhead
from .statics import (
    deflection_mm,
    friction_angle_deg,
    lead_angle_deg,
    lift_off_n,
    screw_efficiency,
    second_moment_mm4,
)

__all__ = [
    "BELT_EFFICIENCY",
    "EXPANSION_PER_K",
    "LAYOUTS",
    "MOTOR_NEEDS",
    "OWN",
    "SPECIFIC_HEAT_J_GK",
    "SPECIFIC_HEAT_U",
    "WHOLE",
    "Axes",
    "Axis",
    "AxisLimits",
    "Beam",
    "BuildVolume",
    "Currency",
    "Durations",
    "Electrics",
    "Extruder",
    "Fan",
    "FittedParts",
    "Guide",
    "Hole",
    "HotEnd",
    "Known",
    "Metal",
    "Motion",
    "Motor",
    "Mounting",
    "PartCard",
    "PartKind",
    "Pattern",
    "Question",
    "Rig",
    "RigStart",
    "Room",
    "Sensor",
    "Slot",
    "Toolhead",
    "Train",
    "as_planned",
    "belt_stiffness_n_m",
    "card_of",
    "changed",
    "deflection_mm",
    "describe",
    "describe_stack",
    "descriptions",
    "diagonal_acceleration_m_s2",
    "friction_angle_deg",
    "heater_current_a",
    "heater_power_w",
    "kelvin_per_count",
    "lead_angle_deg",
    "lift_off_n",
    "look_up",
    "match",
    "pull_out_torque_nm",
    "questions",
    "ratio_of",
    "replaced",
    "resonance_hz",
    "rig_from_layout",
    "safe_acceleration_m_s2",
    "screw_efficiency",
    "second_moment_mm4",
    "side_view",
    "standing_loss_w",
    "steps_per_mm",
    "three_numbers",
    "travel_per_turn_mm",
    "upgrade",
    "windings",
    "with_parts",
    "without_stale",
    "without_typical_marks",
]
