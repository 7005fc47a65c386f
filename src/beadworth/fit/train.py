"""The drive train of an axis as the checks see it: travel, ratio, efficiency, what resists it."""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.core import GRAVITY_M_S2
from beadworth.fit.check import Case, Missing, UnknownError
from beadworth.fit.load import belts_coupled
from beadworth.rig import (
    BELT_EFFICIENCY,
    MOTOR_NEEDS,
    Axis,
    Train,
    friction_angle_deg,
    lead_angle_deg,
    ratio_of,
    screw_efficiency,
    windings,
)
from beadworth.text import number

ROTOR_G_CM2_PER_NM = 200.0
"""Rotor inertia assumed where it is not recorded, per N·m of holding torque: on the safe side of
what data sheets of desktop motors give (from memory, no source)."""
GUIDE_FRICTION, GUIDE_PRELOAD_N = 0.1, 40.0
"""Assumed where not recorded: a sliding guide, well preloaded; rolling ones resist less."""
HOLDS_AT_MOST = 0.5
"""Largest efficiency of a worm or screw that holds without power (any handbook of machine
elements: λ ≤ φ gives tan λ ÷ tan(λ + φ) ≤ ½)."""
STATED_OVER = 1.1
"""A stated efficiency this many times what angle and friction give is doubted; assumed."""


@dataclass(frozen=True)
class Efficiency:
    """Share of the motor's work that reaches the load, and what speaks against it."""

    share: float
    doubt: str = ""


def travel_of(case: Case, axis: str) -> float:
    """Travel per turn of pulley or screw, mm."""
    drive = case.need(f"axes.{axis}.drive")
    if drive == "screw":
        return float(case.need(f"axes.{axis}.lead_mm"))
    teeth, pitch = case.need(f"axes.{axis}.pulley_teeth", f"axes.{axis}.belt_pitch_mm")
    return float(teeth * pitch)


def gear_ratio_of(case: Case, axis: str) -> float:
    """Turns of the motor per turn of pulley or screw."""
    record: Axis = case.need(f"axes.{axis}")
    ratio = ratio_of(record)
    case.get(f"axes.{axis}.gear_ratio")
    if ratio is None:
        raise UnknownError(Missing(f"axes.{axis}.gear_ratio"))
    return ratio


def motors_of(case: Case, axis: str) -> int:
    """Motors that share an axis; of coupled belts all that move x and y, two at least."""
    if axis in "xy" and belts_coupled(case):
        pair = (case.rig.axes.x, case.rig.axes.y)
        return max([2, *(record.motors for record in pair if record is not None)])
    return int(case.need(f"axes.{axis}").motors)


def thread_angles(case: Case, axis: str) -> tuple[float, float]:
    """Lead angle and friction angle of a screw or a worm, degrees."""
    at = f"axes.{axis}"
    if case.need(f"{at}.drive") == "worm belt":
        lead, friction = case.need(f"{at}.worm_lead_angle_deg", f"{at}.friction")
        return float(lead), friction_angle_deg(friction)
    lead, diameter, friction = case.need(
        f"{at}.lead_mm", f"{at}.screw_diameter_mm", f"{at}.friction"
    )
    half = case.get(f"{at}.thread_half_angle_deg") or 0.0
    return lead_angle_deg(lead, diameter), friction_angle_deg(friction, half)


def efficiency_of(case: Case, axis: str) -> Efficiency:
    """Efficiency of an axis: as stated, a thread's tan λ ÷ tan(λ + φ), a belt's assumed one.

    Raises
    ------
    UnknownError
        What a screw or worm without a stated efficiency needs.
    """
    stated = case.get(f"axes.{axis}.efficiency")
    drive = case.need(f"axes.{axis}.drive")
    if drive == "belt":
        return Efficiency(BELT_EFFICIENCY if stated is None else stated)
    try:
        lead, friction = thread_angles(case, axis)
    except UnknownError:
        if stated is None:
            raise
        over = drive == "worm belt" and stated > HOLDS_AT_MOST
        doubt = (
            f" {_stated(stated)}, more than the half that a worm which holds lets through at most."
        )
        return Efficiency(stated, doubt if over else "")
    own = screw_efficiency(lead, friction)
    if stated is None:
        return Efficiency(own)
    over = stated > STATED_OVER * own
    doubt = (
        f" {_stated(stated)}, but a lead angle of {lead:.1f}° and a friction angle of "
        f"{friction:.1f}° give {own:.2f}."
    )
    return Efficiency(stated, doubt if over else "")


def _stated(efficiency: float) -> str:
    return f"An efficiency of {number(efficiency)} is stated"


def rotor_g_cm2_of(case: Case, axis: str) -> tuple[float, bool]:
    """Rotor inertia of an axis' motor, g·cm², and whether it is assumed."""
    rotor = case.get(f"axes.{axis}.motor.rotor_inertia_g_cm2")
    if rotor is not None:
        return float(rotor), False
    return ROTOR_G_CM2_PER_NM * float(case.need(f"axes.{axis}.motor.holding_torque_nm")), True


@dataclass(frozen=True)
class Resisting:
    """What an axis must push before anything speeds up, N, as preload and per kilogram moved."""

    fixed_n: float
    per_kg_n: float
    assumed: str
    """What was assumed, the rotor's inertia too, as a sentence; empty where all is recorded."""

    def force_n(self, mass_kg: float) -> float:
        """Force at a moved mass."""
        return self.fixed_n + self.per_kg_n * mass_kg


def resisting_of(case: Case, axis: str) -> Resisting:
    """Guide friction, and weight on z; what is not recorded is assumed on the safe side."""
    assumed = []
    rotor, unknown = rotor_g_cm2_of(case, axis)
    if unknown:
        assumed.append(f"rotor inertia, {number(rotor, 3)} g·cm² assumed")
    if case.get(f"axes.{axis}.set_current_a") is None:
        rated = case.need(f"axes.{axis}.motor.rated_current_a")
        assumed.append(f"the driver's current, {rated:g} A peak assumed, as rated")
    friction, preload = (case.get(f"axes.{axis}.guide.{n}") for n in ("friction", "preload_n"))
    if friction is None:
        friction = GUIDE_FRICTION
        assumed.append(f"guide friction, {GUIDE_FRICTION:g} assumed")
    if preload is None:
        preload = GUIDE_PRELOAD_N
        assumed.append(f"guide preload, {GUIDE_PRELOAD_N:g} N assumed")
    words = f" Not recorded: {'; '.join(assumed)}." if assumed else ""
    per_kg = GRAVITY_M_S2 * (1.0 if axis == "z" else friction)
    return Resisting(float(friction * preload), float(per_kg), words)


def train_of(case: Case, axis: str) -> tuple[Train, str]:
    """The drive train of an axis with all its motors, and what speaks against its efficiency.

    Raises
    ------
    UnknownError
        Every missing value of motor and steps, all at once.
    """
    at = f"axes.{axis}"
    case.need(f"{at}.drive", f"{at}.full_steps", *(f"{at}.motor.{name}" for name in MOTOR_NEEDS))
    record: Axis = case.need(at)
    travel = travel_of(case, axis)
    assert record.motor  # asked for above
    coil = windings(record.motor, case.need(f"{at}.full_steps"), peak_current_a(case, at))
    assert coil is not None
    efficiency, motors = efficiency_of(case, axis), motors_of(case, axis)
    rotor = rotor_g_cm2_of(case, axis)[0] * 1e-7
    turn_m = travel * 1e-3 / gear_ratio_of(case, axis)
    return Train(coil, motors, turn_m, efficiency.share, rotor), efficiency.doubt


def peak_current_a(case: Case, at: str) -> float | None:
    """Peak phase current the driver at ``axes.x`` or ``extruder`` is set to, A; None: not known."""
    current = case.get(f"{at}.set_current_a")
    rms = case.get(f"{at}.set_current_is") == "rms"
    return None if current is None else float(current * (2.0**0.5 if rms else 1.0))
