"""Values that no desktop printer has as a rule: most often another unit than the field's.

Every range is wide and from memory, no source: it questions a value, it refuses none.
"""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.rig.paths import look_up
from beadworth.rig.record import Rig

RANGES: dict[str, tuple[float, float]] = {
    # masses, g
    "hot_end.mass_g": (10, 1000),
    "hot_end.block_mass_g": (2, 500),
    "extruder.mass_g": (20, 2000),
    "toolhead.mass_g": (5, 3000),
    "axes.*.moving_mass_g": (30, 30_000),
    "axes.*.print_mass_g": (5, 20_000),
    "axes.*.beam.mass_g": (5, 10_000),
    "fans.*.mass_g": (2, 500),
    # lengths, mm
    "build_volume.*_mm": (20, 3000),
    "hot_end.melt_zone_mm": (2, 200),
    "hot_end.bore_mm": (0.8, 6),
    "hot_end.nozzle_mm": (0.1, 3),
    "hot_end.heat_break_mm": (1, 80),
    "hot_end.liner_end_mm": (0.1, 80),
    "extruder.effective_diameter_mm": (3, 50),
    "extruder.guide_tube_mm": (20, 4000),
    "toolhead.nozzle_z_mm": (3, 300),
    "toolhead.probe_z_mm": (3, 300),
    "toolhead.centre_mm": (1, 500),
    "toolhead.envelope.*_mm": (1, 500),
    "room.*_mm": (1, 3000),
    "axes.*.belt_pitch_mm": (1, 15),
    "axes.*.belt_length_mm": (50, 20_000),
    "axes.*.lead_mm": (0.3, 80),
    "axes.*.screw_diameter_mm": (2, 60),
    "axes.*.travel_mm": (20, 4000),
    "axes.*.centre_mm": (1, 500),
    "axes.*.beam.span_mm": (30, 4000),
    "axes.*.beam.width_mm": (2, 200),
    "axes.*.beam.height_mm": (2, 200),
    "axes.*.beam.wall_mm": (0.2, 50),
    "axes.*.guide.spacing_mm": (3, 1000),
    "mounting.screw_mm": (1, 12),
    # motors
    "*.motor.holding_torque_nm": (0.02, 15),
    "*.motor.rated_current_a": (0.1, 10),
    "*.motor.phase_inductance_mh": (0.1, 60),
    "*.motor.phase_resistance_ohm": (0.1, 100),
    "*.motor.rotor_inertia_g_cm2": (1, 5000),
    "*.motor.detent_torque_nm": (0.0005, 1),
    "*.motor.supply_v": (5, 120),
    "axes.*.set_current_a": (0.05, 14),
    "extruder.set_current_a": (0.05, 14),
    # speed and acceleration
    "motion.max_speed_mm_s.*": (2, 3000),
    "motion.max_acceleration_mm_s2.*": (8, 200_000),
    "motion.*_acceleration_mm_s2": (50, 200_000),
    "motion.max_jerk_mm_s3": (500, 1e9),
    "extruder.max_feed_mm_s": (1, 500),
    "extruder.max_acceleration_mm_s2": (50, 200_000),
    # forces and springs
    "extruder.grip_force_n": (5, 500),
    "axes.*.guide.preload_n": (0.2, 2000),
    "axes.*.belt_stiffness_n": (300, 500_000),
    "axes.*.belt_tension_n": (0.5, 500),
    "axes.*.resonance_hz": (3, 1000),
    # durations
    "durations.*_s": (2, 1800),
    # heat and electrics
    "hot_end.heater_v": (5, 250),
    "hot_end.heater_w": (5, 500),
    "hot_end.standing_loss_w_k": (0.005, 1),
    "hot_end.temperature_limit_c": (150, 500),
    "hot_end.liner_limit_c": (100, 400),
    "hot_end.cold_side_c": (5, 120),
    "hot_end.sensor.max_c": (100, 1300),
    "hot_end.sensor.ohm_at_0c": (10, 10_000),
    "hot_end.sensor.ohm_at_25c": (500, 10_000_000),
    "hot_end.sensor.pull_up_ohm": (50, 1_000_000),
    "electrics.supply_v": (5, 250),
    "electrics.supply_a": (0.5, 200),
    "electrics.heater_output_a": (0.3, 50),
    "electrics.bed_output_a": (0.3, 100),
    "electrics.fan_output_a": (0.03, 20),
    "electrics.fan_output_v": (3, 60),
    "electrics.bed_heater_w": (10, 4000),
    "fans.*.volts_v": (3, 60),
    "fans.*.current_a": (0.005, 6),
    "fans.*.airflow_m3_h": (0.2, 300),
}
"""From and to by path; ``*`` stands for an axis, a place in a list, a side or a way of moving."""

_SMALL = {"g": "kg for g", "mm": "m for mm", "mh": "H for mH", "mm_s": "m/s for mm/s",
          "mm_s2": "m/s² for mm/s²", "mm_s3": "m/s³ for mm/s³", "ohm": "kΩ for Ω",
          "25c": "kΩ for Ω", "w": "kW for W", "n": "kN for N", "g_cm2": "kg·m² for g·cm²",
          "nm": "kN·m for N·m"}  # fmt: skip
_LARGE = {"a": "mA for A", "g": "mg for g", "mm": "µm for mm", "w_k": "mW/K for W/K",
          "c": "°F for °C", "nm": "N·mm or N·cm for N·m", "mh": "µH for mH",
          "v": "mV for V"}  # fmt: skip


@dataclass(frozen=True)
class Question:
    """One value outside its plausible range."""

    path: str
    value: float
    low: float
    high: float
    slip: str
    """The unit it was probably given in; empty where none comes to mind."""

    def __str__(self) -> str:
        """As part of a sentence: path, value, range, probable slip."""
        slip = f", {self.slip}?" if self.slip else ""
        return f"{self.path} {self.value:g} (as a rule {self.low:g} to {self.high:g}{slip})"


def questions(rig: Rig) -> tuple[Question, ...]:
    """Every value of a rig outside its plausible range; a value of 0 says 'none' and is not."""
    found = []
    for pattern, (low, high) in RANGES.items():
        for path in _paths(rig, pattern):
            value = look_up(rig, path)
            if value is not None and value != 0 and not low <= value <= high:
                found.append(Question(path, value, low, high, _slip(path, value < low)))
    return tuple(found)


def _slip(path: str, small: bool) -> str:
    name = path.rpartition(".")[2]
    if name in "xyz":
        name = path.split(".")[-2]
    ends = [unit for unit in (_SMALL if small else _LARGE) if name.endswith(f"_{unit}")]
    return (_SMALL if small else _LARGE)[max(ends, key=len)] if ends else ""


def _paths(rig: Rig, pattern: str) -> list[str]:
    if pattern.startswith("fans."):
        return [pattern.replace("*", str(n)) for n in range(len(rig.fans))]
    if pattern.startswith("*.motor"):
        return [pattern.replace("*", part) for part in (*(f"axes.{a}" for a in "xyz"), "extruder")]
    ways: tuple[str, ...] = ("x", "y", "z")
    if pattern.startswith(("room", "toolhead.envelope")):
        ways = ("left", "right", "front", "back", "above")
    elif pattern.startswith("motion.*"):
        ways = ("print", "travel", "retract")
    return [pattern.replace("*", way) for way in ways] if "*" in pattern else [pattern]
