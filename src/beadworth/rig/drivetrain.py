"""From motor to load: steps per mm, torque over speed, force, acceleration, resonance.

The motor is a two-phase synchronous machine fed from a voltage through a current limit. Its
pull-out torque at a speed is the largest torque for which both the phase current stays inside
its limit and the phase voltage inside the supply: two circles in the plane of the current, the
textbook treatment of synchronous machines (from memory, no page). The supply is taken as the
amplitude of a sine, which is a little less than a driver can reach, and iron losses are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import RigValueError
from beadworth.rig.axes import Axis
from beadworth.rig.drive import Motor

BELT_EFFICIENCY = 0.9
"""Share of the motor's work that reaches the load where an axis does not say; assumed."""


def travel_per_turn_mm(axis: Axis) -> float | None:
    """Travel of the load per turn of pulley or screw, mm; None where not known."""
    if axis.drive == "screw":
        return axis.lead_mm
    if axis.pulley_teeth is None or axis.belt_pitch_mm is None:
        return None
    return axis.pulley_teeth * axis.belt_pitch_mm


def ratio_of(axis: Axis) -> float | None:
    """Turns of the motor per turn of pulley or screw: 1 where left out, unknown for a worm."""
    if axis.gear_ratio is not None:
        return axis.gear_ratio
    return None if axis.drive == "worm belt" else 1.0


def steps_per_mm(
    full_steps: int, microsteps: int, gear_ratio: float, travel_mm_per_turn: float
) -> float:
    """Steps per mm: full steps × microsteps × gear ratio ÷ travel per turn.

    200 × 16 ÷ (20 × 2 mm) is 80 (common practice, no source).

    Raises
    ------
    RigValueError
        A value not above 0.
    """
    for name, value in (
        ("full_steps", full_steps),
        ("microsteps", microsteps),
        ("gear_ratio", gear_ratio),
        ("travel_mm_per_turn", travel_mm_per_turn),
    ):
        if not value > 0:
            raise RigValueError(
                f"{value:g} is not above 0.", name, value, "Give the value of the drive train."
            )
    return full_steps * microsteps * gear_ratio / travel_mm_per_turn


@dataclass(frozen=True)
class Windings:
    """What the torque of a motor over speed hangs on; SI units."""

    torque_per_amp_nm_a: float
    resistance_ohm: float
    inductance_h: float
    supply_v: float
    current_a: float
    """Peak phase current the driver allows."""
    pole_pairs: float
    """Electrical cycles per turn: full steps ÷ 4."""


MOTOR_NEEDS = ("holding_torque_nm", "rated_current_a", "phase_inductance_mh",
               "phase_resistance_ohm", "supply_v")  # fmt: skip


def windings(motor: Motor, full_steps: int, set_current_a: float | None) -> Windings | None:
    """Windings from a motor record; None where one of :data:`MOTOR_NEEDS` is not known.

    Holding torque is stated with both phases at rated current I, so a phase gives
    holding ÷ (√2·I) per ampere; with sine currents of that peak the motor makes
    holding ÷ √2.
    """
    if (
        motor.holding_torque_nm is None
        or motor.rated_current_a is None
        or motor.phase_inductance_mh is None
        or motor.phase_resistance_ohm is None
        or motor.supply_v is None
    ):
        return None
    return Windings(
        motor.holding_torque_nm / (math.sqrt(2.0) * motor.rated_current_a),
        motor.phase_resistance_ohm,
        motor.phase_inductance_mh * 1e-3,
        motor.supply_v,
        set_current_a if set_current_a is not None else motor.rated_current_a,
        full_steps / 4.0,
    )


def pull_out_torque_nm(motor: Windings, turns_per_s: float) -> float:
    """Largest torque at a speed, N·m; 0 where the back voltage leaves none.

    With back voltage E = k·ω and impedance Z = R + jω_e·L the phase current I obeys |I| ≤ limit
    and |E + Z·I| ≤ V; torque is k·Re(I). The largest Re(I) lies on one circle's rightmost point
    where that is inside the other, else where the circles cross.
    """
    omega = 2.0 * math.pi * abs(turns_per_s)
    z = complex(motor.resistance_ohm, motor.pole_pairs * omega * motor.inductance_h)
    centre = -motor.torque_per_amp_nm_a * omega / z
    radius, limit = motor.supply_v / abs(z), motor.current_a
    tiny = 1e-12 * (radius + limit)
    if abs(limit - centre) <= radius + tiny:
        best = limit
    elif abs(centre + radius) <= limit + tiny:
        best = (centre + radius).real
    else:
        far = abs(centre)
        if far >= radius + limit:  # the circles do not meet: no current can be driven
            return 0.0
        along = (far * far + limit * limit - radius * radius) / (2.0 * far)
        across = math.sqrt(max(limit * limit - along * along, 0.0))
        unit = centre / far
        best = max((unit * complex(along, side * across)).real for side in (1.0, -1.0))
    return max(motor.torque_per_amp_nm_a * best, 0.0)


@dataclass(frozen=True)
class Train:
    """A drive train as seen by the load; SI units."""

    motor: Windings
    motors: int
    travel_m_per_turn: float
    """Travel of the load per turn of the *motor*."""
    efficiency: float
    rotor_kg_m2: float

    def force_n(self, speed_m_s: float) -> float:
        """Pull-out force on the load at a speed, N: torque × 2π ÷ travel × efficiency."""
        turn = self.travel_m_per_turn
        torque = pull_out_torque_nm(self.motor, speed_m_s / turn)
        return self.motors * torque * 2.0 * math.pi / turn * self.efficiency

    def rotor_as_mass_kg(self) -> float:
        """Rotor inertia as a mass that moves with the load, kg: J·(2π/travel)²."""
        per_m = 2.0 * math.pi / self.travel_m_per_turn
        return self.motors * self.rotor_kg_m2 * per_m * per_m


def safe_acceleration_m_s2(
    train: Train, mass_kg: float, speed_m_s: float, resisting_n: float, reserve: float
) -> float:
    """Highest acceleration at a speed, m/s²: (share of pull-out force − friction, weight) ÷ mass.

    Parameters
    ----------
    train : Train
    mass_kg : float, > 0
    speed_m_s : float, ≥ 0
    resisting_n : float
        Friction, and weight where the axis lifts.
    reserve : float, 0 to 1
        Share of the pull-out force kept back.

    Returns
    -------
    float
        At or below 0 where the force does not even move the load.
    """
    force = (1.0 - reserve) * train.force_n(speed_m_s) - resisting_n
    return force / (mass_kg + train.rotor_as_mass_kg())


def diagonal_acceleration_m_s2(
    belt: Train,
    mass_x_kg: float,
    mass_y_kg: float,
    speed_m_s: float,
    resisting_n: tuple[float, float],
    reserve: float,
) -> float:
    """Highest acceleration along the diagonal where two belts together move x and y, m/s².

    One belt runs with x + y, the other with x − y: along the diagonal one stands still and the
    other runs √2 times as fast as the carriage and pushes both masses. With the belts' forces
    f and g, friction F and motors that weigh j on each belt,

        f + g − F_x = (m_x + 2j)·a_x,   f − g − F_y = (m_y + 2j)·a_y,   a_x = a_y = a/√2,

    half the sum gives f: a = √2·(2·f − F_x − F_y) ÷ (m_x + m_y + 4j). Lagrange's equations of
    ½m_x·ẋ² + ½m_y·ẏ² + ½j·(ẋ + ẏ)² + ½j·(ẋ − ẏ)², done by hand.

    Parameters
    ----------
    belt : Train
        One belt with the motors that drive it.
    mass_x_kg, mass_y_kg : float, > 0
        What x moves, and what y moves (with what x moves on it).
    speed_m_s : float, ≥ 0
        Of the carriage along the diagonal.
    resisting_n : (x, y)
        Friction of either axis.
    reserve : float, 0 to 1
        Share of the pull-out force kept back.
    """
    push = 2.0 * (1.0 - reserve) * belt.force_n(math.sqrt(2.0) * speed_m_s) - sum(resisting_n)
    return math.sqrt(2.0) * push / (mass_x_kg + mass_y_kg + 4.0 * belt.rotor_as_mass_kg())


def belt_stiffness_n_m(stiffness_n: float, length_m: float) -> float:
    """Stiffness of a loop of belt driven from one end where it is softest, N/m: 4·c/L.

    The motor holds the loop at its pulley; the carriage hangs between a run of d straight to it
    and one of L − d round the idler, springs of c/d and c/(L − d): k = c·L ÷ (d·(L − d)), c being
    force per unit strain. Both are L/2 at the idler's end of the travel, the softest place; in
    the middle of the travel, d = L/4, it is a third stiffer.
    """
    return 4.0 * stiffness_n / length_m


def resonance_hz(stiffness_n_m: float, mass_kg: float) -> float:
    """Lowest resonance of a mass on a spring, Hz: √(k/m)/2π."""
    return math.sqrt(stiffness_n_m / mass_kg) / (2.0 * math.pi)
