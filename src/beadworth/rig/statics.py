"""What holds still: beams that bend, screws and worms that hold, preload that keeps contact."""

from __future__ import annotations

import math
from typing import Literal

from beadworth.rig.axes import Beam

Support = Literal["fixed", "simple", "cantilever"]

# Deflection under a load F in the middle (at the end of a cantilever): F·L³ ÷ (n·E·I).
POINT: dict[Support, float] = {"cantilever": 3.0, "simple": 48.0, "fixed": 192.0}
# Under an even load w: w·L⁴ ÷ (n·E·I); the middle of a beam fixed at both ends: 384.
EVEN: dict[Support, float] = {"cantilever": 8.0, "simple": 384.0 / 5.0, "fixed": 384.0}


def second_moment_mm4(beam: Beam) -> float | None:
    """Second moment of area of one beam's section, mm⁴; None where not known.

    Rectangle b·h³/12; tube outer less inner; round π·d⁴/64 (any mechanics handbook).
    """
    if beam.second_moment_mm4 is not None:
        return beam.second_moment_mm4
    h, b, wall = beam.height_mm, beam.width_mm, beam.wall_mm
    if h is not None and beam.section == "round":
        return math.pi / 64.0 * h**4
    if h is not None and b is not None and beam.section == "rectangle":
        return b * h**3 / 12.0
    if h is not None and b is not None and wall is not None and beam.section == "tube":
        t = min(wall, b / 2.0, h / 2.0)
        return (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12.0
    return None


def deflection_mm(
    support: Support,
    span_mm: float,
    modulus_gpa: float,
    moment_mm4: float,
    *,
    load_n: float = 0.0,
    even_n_per_m: float = 0.0,
) -> float:
    """Deflection where it is largest, mm: load in the middle or at the free end, and even load."""
    stiffness = modulus_gpa * 1e3 * moment_mm4  # N·mm²
    point = load_n * span_mm**3 / (POINT[support] * stiffness)
    even = even_n_per_m * 1e-3 * span_mm**4 / (EVEN[support] * stiffness)
    return point + even


def lead_angle_deg(lead_mm: float, pitch_diameter_mm: float) -> float:
    """Lead angle of a screw, degrees: atan(lead ÷ π·d)."""
    return math.degrees(math.atan2(lead_mm, math.pi * pitch_diameter_mm))


def friction_angle_deg(friction: float, thread_half_angle_deg: float = 0.0) -> float:
    """Friction angle of a thread, degrees: atan(μ ÷ cos β), β the thread's half angle."""
    return math.degrees(math.atan(friction / math.cos(math.radians(thread_half_angle_deg))))


def screw_efficiency(lead_deg: float, friction_deg: float) -> float:
    """Share of the work that a screw turns into lift: tan λ ÷ tan(λ + φ)."""
    return math.tan(math.radians(lead_deg)) / math.tan(math.radians(lead_deg + friction_deg))


def lift_off_n(mass_kg: float, acceleration_m_s2: float, arm_mm: float, spacing_mm: float) -> float:
    """Force that an overhanging mass takes off the lighter contact of a guide, N.

    A moment m·a·arm is carried by two contacts ``spacing`` apart: m·a·arm ÷ spacing each.
    """
    return mass_kg * acceleration_m_s2 * arm_mm / spacing_mm
