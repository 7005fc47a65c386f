"""The fit check beside calculations by hand, for three invented printers.

python benchmarks/fit_by_hand.py        prints the table of docs/explanation/fit-check.md

Each figure by hand is plain arithmetic on the numbers written here, without a function of the
package; its source stands beside it. Nothing here was measured.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass

import numpy as np

from beadworth.core.records import from_mapping
from beadworth.fit import Check, fit_check
from beadworth.material.library import generic
from beadworth.rig import Rig, upgrade

MOVING_BED = """
name = "Moving bed"
frame = "moving bed"
simulated = true
[hot_end]
heater_v = 24.0
heater_w = 50.0
melt_zone_mm = 14.0
bore_mm = 2.0
heat_break_mm = 10.0
liner_end_mm = 7.0
cold_side_c = 50.0
ptfe_in_melt_zone = false
block_metal = "brass"
block_mass_g = 40.0
standing_loss_w_k = 0.08
mass_g = 70.0
[hot_end.sensor]
kind = "platinum"
ohm_at_0c = 1000.0
pull_up_ohm = 2200.0
adc_bits = 12
max_c = 400.0
[extruder]
drive = "direct"
gear_ratio = 5.0
effective_diameter_mm = 11.0
full_steps = 200
microsteps = 16
grip_force_n = 60.0
mass_g = 150.0
set_current_a = 0.7
set_current_is = "rms"
[extruder.motor]
holding_torque_nm = 0.2
rated_current_a = 1.0
rated_current_is = "rms"
phase_inductance_mh = 2.5
phase_resistance_ohm = 2.2
rotor_inertia_g_cm2 = 12.0
supply_v = 24.0
[build_volume]
x_mm = 230.0
y_mm = 230.0
z_mm = 250.0
[motion.max_speed_mm_s]
x = 250.0
y = 250.0
z = 10.0
[motion.max_acceleration_mm_s2]
x = 4000.0
y = 3000.0
z = 100.0
[toolhead]
nozzle_z_mm = 50.0
probe_z_mm = 52.0
centre_mm = 30.0
mass_g = 90.0
[axes.x]
drive = "belt"
pulley_teeth = 16
belt_pitch_mm = 2.0
full_steps = 200
microsteps = 32
moving_mass_g = 450.0
set_current_a = 1.2
belt_stiffness_n = 10000.0
belt_length_mm = 1000.0
belt_tension_n = 12.0
[axes.x.motor]
holding_torque_nm = 0.4
rated_current_a = 1.4
rated_current_is = "rms"
phase_inductance_mh = 3.0
phase_resistance_ohm = 1.8
rotor_inertia_g_cm2 = 54.0
supply_v = 24.0
[axes.x.guide]
preload_n = 40.0
spacing_mm = 40.0
friction = 0.02
[axes.x.beam]
span_mm = 360.0
support = "simple"
section = "rectangle"
width_mm = 20.0
height_mm = 20.0
modulus_gpa = 69.0
mass_g = 390.0
[axes.y]
drive = "belt"
pulley_teeth = 20
belt_pitch_mm = 2.0
full_steps = 200
microsteps = 16
moving_mass_g = 1100.0
print_mass_g = 400.0
centre_mm = 25.0
set_current_a = 1.3
[axes.y.motor]
holding_torque_nm = 0.4
rated_current_a = 1.4
rated_current_is = "rms"
phase_inductance_mh = 3.0
phase_resistance_ohm = 1.8
rotor_inertia_g_cm2 = 54.0
supply_v = 24.0
[axes.y.guide]
preload_n = 60.0
spacing_mm = 80.0
friction = 0.02
[axes.z]
drive = "screw"
lead_mm = 8.0
screw_diameter_mm = 7.0
thread_half_angle_deg = 15.0
friction = 0.2
full_steps = 200
microsteps = 16
motors = 2
moving_mass_g = 2000.0
carries_tool = true
set_current_a = 0.9
start_mm = -2.0
[axes.z.motor]
holding_torque_nm = 0.4
rated_current_a = 1.4
rated_current_is = "rms"
phase_inductance_mh = 3.0
phase_resistance_ohm = 1.8
rotor_inertia_g_cm2 = 54.0
supply_v = 24.0
[axes.z.guide]
preload_n = 20.0
friction = 0.02
[electrics]
supply_v = 24.0
supply_a = 20.0
heater_output_a = 5.0
bed_heater_w = 240.0
bed_output_a = 15.0
other_w = 12.0
"""

WORM_Z = """
name = "Moving bed, worm-driven z"
[hot_end]
mass_g = 95.0
melt_zone_mm = 21.0
standing_loss_w_k = 0.09
[toolhead]
nozzle_z_mm = 57.0
[axes.z]
drive = "worm belt"
gear_ratio = 20.0
pulley_teeth = 20
belt_pitch_mm = 2.0
worm_lead_angle_deg = 5.0
friction = 0.12
"""

COUPLED = """
name = "Coupled belts"
frame = "gantry"
coupled_belts = true
simulated = true
[motion]
[motion.max_speed_mm_s]
x = 300.0
y = 300.0
z = 10.0
[motion.max_acceleration_mm_s2]
x = 8000.0
y = 6000.0
z = 100.0
[toolhead]
centre_mm = 28.0
[electrics]
supply_v = 24.0
supply_a = 20.0
bed_heater_w = 0.0
[hot_end]
heater_v = 24.0
heater_w = 60.0
"""
_COUPLED_AXIS = """
[axes.{axis}]
drive = "belt"
pulley_teeth = 20
belt_pitch_mm = 2.0
full_steps = 200
microsteps = 16
motors = 2
moving_mass_g = {grams}
set_current_a = 1.5
belt_stiffness_n = 9000.0
belt_length_mm = 1800.0
belt_tension_n = 20.0
[axes.{axis}.motor]
holding_torque_nm = 0.45
rated_current_a = 1.5
rated_current_is = "rms"
phase_inductance_mh = 3.2
phase_resistance_ohm = 1.6
rotor_inertia_g_cm2 = 60.0
supply_v = 24.0
[axes.{axis}.guide]
preload_n = 30.0
spacing_mm = 45.0
friction = 0.01
"""

G = 9.80665  # m/s², 3rd CGPM 1901
TEMPERATURE_C, FLOW_MM3_S = 220.0, 12.0


def rigs() -> dict[str, tuple[Rig, Rig]]:
    """Parent and child of each of the three."""
    bed = from_mapping(Rig, tomllib.loads(MOVING_BED), "moving bed")
    worm = upgrade(bed, tomllib.loads(WORM_Z))
    text = COUPLED + "".join(
        _COUPLED_AXIS.format(axis=axis, grams=grams) for axis, grams in (("x", 380.0), ("y", 950.0))
    )
    coupled = from_mapping(Rig, tomllib.loads(text), "coupled belts")
    return {rig.name: pair for pair in ((bed, bed), (bed, worm), (coupled, coupled))
            for rig in (pair[1],)}  # fmt: skip


def torque(holding: float, rated: float, peak: float, ohm: float, henry: float, volt: float,
           turns_s: float) -> float:  # fmt: skip
    """Pull-out torque: every current up to the peak tried, the best one the supply can drive."""
    k, omega = holding / (math.sqrt(2) * rated), 2 * math.pi * turns_s
    angle = np.linspace(-math.pi / 2, math.pi / 2, 2001)[:, None]
    current = np.linspace(0.0, peak, 501)[None, :] * np.exp(1j * angle)
    volts = np.abs(k * omega + (ohm + 50j * omega * henry) * current)
    return float(k * current.real[volts <= volt].max())


@dataclass(frozen=True)
class Row:
    """One check beside its figure by hand."""

    rig: str
    check: str
    by_hand: float
    source: str


MACHINE = "two-phase machine, textbook (memory); all currents tried"


def moving_bed() -> list[Row]:
    """The moving bed, its screw z."""
    name = "Moving bed"
    motor = (0.4, 1.4)
    coil = (1.8, 3.0e-3, 24.0)
    j = 54e-7  # kg·m²
    fx = 0.9 * torque(*motor, 1.2, *coil, 250 / 32) * 2 * math.pi / 0.032
    ax = (fx / 2 - 0.02 * (40 + 0.45 * G)) / (0.45 + j * (2 * math.pi / 0.032) ** 2)
    fy = 0.9 * torque(*motor, 1.3, *coil, 250 / 40) * 2 * math.pi / 0.040
    ay = (fy / 2 - 0.02 * (60 + 1.5 * G)) / (1.5 + j * (2 * math.pi / 0.040) ** 2)
    lead = math.atan(8 / (math.pi * 7))
    rub = math.atan(0.2 / math.cos(math.radians(15)))
    eta = math.tan(lead) / math.tan(lead + rub)
    fz = 2 * eta * torque(*motor, 0.9, *coil, 10 / 8) * 2 * math.pi / 0.008
    az = (fz / 2 - 2.0 * G - 0.02 * 20) / (2.0 + 2 * j * (2 * math.pi / 0.008) ** 2)
    inertia = 20 * 20**3 / 12
    sag = 0.45 * G * 360**3 / (48 * 69e3 * inertia) + 5 * (0.39 * G / 360) * 360**4 / (
        384 * 69e3 * inertia
    )
    melt = 12 * 1.24e-3 * (0.974 + 5.09e-3 * (25 + 220) / 2) * 195
    ohm = 1000 * (1 + 3.9083e-3 * 220 - 5.775e-7 * 220**2)
    slope = 1000 * (3.9083e-3 - 2 * 5.775e-7 * 220) * 2200 / (ohm + 2200) ** 2
    copper = (1.2**2 + 1.3**2 + 2 * 0.9**2) * 1.8 + 2 * 0.7**2 * 2.2
    return [
        Row(name, "steps per mm of x", 200 * 32 / (16 * 2), "steps × microsteps ÷ travel"),
        Row(name, "safe acceleration of x", 1e3 * ax, MACHINE),
        Row(name, "resonance of x", math.sqrt(4 * 10000 / 1.0 / 0.45) / (2 * math.pi),
            "√(k/m)/2π, two runs of L/2"),
        Row(name, "sag of the x beam", sag, "F·L³/48EI + 5wL⁴/384EI, handbook"),
        Row(name, "preload of the x guide", 0.45 * (4.0 + G) * 30 / 40, "moments of statics"),
        Row(name, "belt tension of x", (0.45 * 4.0 + 0.02 * (40 + 0.45 * G)) / 2,
            "T₁ + T₂ = 2·T₀, T₁ − T₂ = F"),
        Row(name, "safe acceleration of y", 1e3 * ay, MACHINE + "; 400 g of print"),
        Row(name, "preload of the y guide",
            (1.1 * 3.0 * 25 + 0.4 * 3.0 * (25 + 125)) / 80, "moments of statics"),
        Row(name, "safe acceleration of z", 1e3 * az, "tan λ ÷ tan(λ + φ), handbook"),
        Row(name, "z holds unpowered", math.degrees(lead), "atan(lead ÷ π·d), handbook"),
        Row(name, "heater power", melt + 0.08 * 195, "ρ·Q·c·ΔT + k·ΔT"),
        Row(name, "warm-up", 40 * 0.38 / 0.08 * math.log(50 / (50 - 0.08 * 195)),
            "first order: (C/k)·ln(P/(P − k·ΔT))"),
        Row(name, "growth of the hot end",
            10 * 12e-6 * ((220 + 50) / 2 - 25) + 14 * 19e-6 * 195, "α·L·ΔT, α from memory"),
        Row(name, "sensor step", 1 / (slope * 4096), "IEC 60751, derivative of the divider"),
        Row(name, "liner temperature", 220 + (50 - 220) * 7 / 10, "straight line"),
        Row(name, "heater current", 50 / 24, "P ÷ V"),
        Row(name, "bed current", 240 / 24, "P ÷ V"),
        Row(name, "supply current", (50 + 240 + 12 + copper) / 24,
            "sum of powers ÷ V; I²·R of peak I in both phases"),
        Row(name, "current of the x motor", 1.2 / math.sqrt(2), "peak ÷ √2"),
        Row(name, "current of the extruder motor", 0.7, "RMS as stated"),
        Row(name, "extruder steps per mm", 200 * 16 * 5 / (math.pi * 11),
            "steps × microsteps × ratio ÷ π·d"),
    ]  # fmt: skip


def worm_z() -> list[Row]:
    """The same with a longer hot end and z on a worm-driven belt."""
    name = "Moving bed, worm-driven z"
    lead, rub = math.radians(5.0), math.atan(0.12)
    eta = math.tan(lead) / math.tan(lead + rub)
    turn = 0.040 / 20  # m of z per turn of the motor
    force = 2 * eta * torque(0.4, 1.4, 0.9, 1.8, 3.0e-3, 24.0, 10 / 2) * 2 * math.pi / turn
    mass = 2.0 + 0.025
    az = (force / 2 - mass * G - 0.02 * 20) / (mass + 2 * 54e-7 * (2 * math.pi / turn) ** 2)
    belt = math.sqrt(4 * 10000 / 1.0 / 0.475) / (2 * math.pi)
    return [
        Row(name, "nozzle reach to the bed", -2.0 + (50 - 57), "tip 7 mm lower"),
        Row(name, "probe over the nozzle", 52.0 - 57.0, "difference of heights"),
        Row(name, "steps per mm of z", 200 * 16 * 20 / 40, "steps × microsteps × ratio ÷ travel"),
        Row(name, "safe acceleration of z", 1e3 * az, "tan λ ÷ tan(λ + φ), handbook"),
        Row(name, "z holds unpowered", 5.0, "λ < φ = 6.8°"),
        Row(name, "resonance of x", belt, "√(k/m)/2π with 25 g more"),
        Row(name, "heater power", 12 * 1.24e-3 * (0.974 + 5.09e-3 * 122.5) * 195 + 0.09 * 195,
            "ρ·Q·c·ΔT + k·ΔT"),
        Row(name, "added mass", 95 - 70, "difference of masses"),
    ]  # fmt: skip


def coupled_belts() -> list[Row]:
    """Two motors that together move x and y; energies by hand, see rig/drivetrain.py."""
    name = "Coupled belts"
    coil = (0.45, 1.5, 1.5, 1.6, 3.2e-3, 24.0)
    j = 60e-7 * (2 * math.pi / 0.040) ** 2  # kg on each belt

    def belt(mm_s: float) -> float:
        return 0.9 * torque(*coil, mm_s / 40) * 2 * math.pi / 0.040

    rub_x, rub_y = 0.01 * (30 + 0.38 * G), 0.01 * (30 + 0.95 * G)
    x = (belt(300) - rub_x) / (0.38 + 2 * j)
    y = (belt(300) - rub_y) / (0.95 + 2 * j)
    # 300 mm/s of x and y at once: one belt runs at 600 mm/s, the other stands
    path = math.sqrt(2) * (belt(600) - rub_x - rub_y) / (0.38 + 0.95 + 4 * j)
    pull = (0.38 * 8.0 + rub_x + 0.95 * 6.0 + rub_y) / 2
    return [
        Row(name, "safe acceleration of x", 1e3 * x, "half of two belts' force"),
        Row(name, "safe acceleration of y", 1e3 * y, "half of two belts' force"),
        Row(name, "safe acceleration on the diagonal", 1e3 * path, "Lagrange, ẋ ± ẏ, by hand"),
        Row(name, "resonance of x", math.sqrt(2 * 4 * 9000 / 1.8 / 0.38) / (2 * math.pi),
            "√(k/m)/2π, both belts"),
        Row(name, "belt tension of x", pull / 2, "T₁ + T₂ = 2·T₀, both axes at once"),
        Row(name, "supply current", (60 + 2 * 1.5**2 * 1.6) / 24, "two motors, counted once"),
    ]  # fmt: skip


def found() -> list[tuple[Row, Check]]:
    """Every row with the check it belongs to."""
    material = generic("PLA")
    made = {
        name: {c.name: c for c in fit_check(*pair, material, TEMPERATURE_C, FLOW_MM3_S)}
        for name, pair in rigs().items()
    }
    rows = (*moving_bed(), *worm_z(), *coupled_belts())
    return [(row, made[row.rig][row.check]) for row in rows]


def table() -> str:
    """The table of the document."""
    rows = [
        "| rig | check | tool | by hand | unit | ratio | by hand from |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row, check in found():
        value = math.nan if check.value is None else check.value
        rows.append(
            f"| {row.rig} | {check.name} | {value:.4g} | {row.by_hand:.4g} | {check.unit} "
            f"| {value / row.by_hand:.3f} | {row.source} |"
        )
    return "\n".join(rows)


if __name__ == "__main__":
    print(table())
