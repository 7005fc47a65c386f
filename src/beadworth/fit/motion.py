"""Motion: force over speed, resonance, beams, guides, and whether z stays where it is."""

from __future__ import annotations

import math

from beadworth.core import GRAVITY_M_S2
from beadworth.fit.check import MOVING, Case, Found, Rule, UnknownError, field_words
from beadworth.fit.load import moving_mass_g
from beadworth.rig import (
    BELT_EFFICIENCY,
    MOTOR_NEEDS,
    Axis,
    Train,
    belt_stiffness_n_m,
    deflection_mm,
    friction_angle_deg,
    lead_angle_deg,
    lift_off_n,
    ratio_of,
    resonance_hz,
    safe_acceleration_m_s2,
    screw_efficiency,
    second_moment_mm4,
    steps_per_mm,
    travel_per_turn_mm,
    windings,
)
from beadworth.text import signed_percent

RESERVE = 0.5
"""Share of the pull-out force kept back for friction, resonance and wear; common practice."""
SAG_LIMIT_MM = 0.05
"""A quarter of a 0.2 mm layer; assumed."""
CURVE_POINTS = 9


def travel_of(case: Case, axis: str) -> float:
    """Travel per turn of pulley or screw, mm."""
    drive = case.need(f"axes.{axis}.drive")
    if drive == "screw":
        return float(case.need(f"axes.{axis}.lead_mm"))
    teeth, pitch = case.need(f"axes.{axis}.pulley_teeth", f"axes.{axis}.belt_pitch_mm")
    return float(teeth * pitch)


def _ratio(case: Case, axis: str) -> float:
    record: Axis = case.need(f"axes.{axis}")
    ratio = ratio_of(record)
    case.get(f"axes.{axis}.gear_ratio")
    if ratio is None:
        raise UnknownError(field_words(f"axes.{axis}.gear_ratio"))
    return ratio


def train_of(case: Case, axis: str) -> Train:
    """The drive train of an axis, every missing value of it named at once."""
    at = f"axes.{axis}"
    case.need(f"{at}.drive", f"{at}.full_steps", *(f"{at}.motor.{name}" for name in MOTOR_NEEDS))
    record: Axis = case.need(at)
    travel = travel_of(case, axis)
    coil = windings(record.motor, case.need(f"{at}.full_steps"), case.get(f"{at}.set_current_a"))  # type: ignore[arg-type]
    assert coil is not None
    efficiency = case.get(f"{at}.efficiency")
    if efficiency is None and record.drive == "screw":
        lead, friction = _screw_angles(case, axis)
        efficiency = screw_efficiency(lead, friction)
    inertia = case.get(f"{at}.motor.rotor_inertia_g_cm2") or 0.0
    return Train(
        coil,
        record.motors,
        travel * 1e-3 / _ratio(case, axis),
        efficiency if efficiency is not None else BELT_EFFICIENCY,
        inertia * 1e-7,
    )


def _screw_angles(case: Case, axis: str) -> tuple[float, float]:
    """Lead angle and friction angle, degrees."""
    lead, diameter, friction = case.need(
        f"axes.{axis}.lead_mm", f"axes.{axis}.screw_diameter_mm", f"axes.{axis}.friction"
    )
    half = case.get(f"axes.{axis}.thread_half_angle_deg") or 0.0
    return lead_angle_deg(lead, diameter), friction_angle_deg(friction, half)


def _resisting_n(case: Case, axis: str, mass_kg: float) -> float:
    """Guide friction, and weight on z: what the motor must push before anything speeds up."""
    weight = mass_kg * GRAVITY_M_S2
    friction = case.get(f"axes.{axis}.guide.friction") or 0.0
    preload = case.get(f"axes.{axis}.guide.preload_n") or 0.0
    if axis == "z":
        return weight + friction * preload
    return float(friction * (preload + weight))


def _acceleration(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        mass, _ = moving_mass_g(case, axis)
        train = train_of(case, axis)
        speed, wanted = case.need(
            f"motion.max_speed_mm_s.{axis}", f"motion.max_acceleration_mm_s2.{axis}"
        )
        against = _resisting_n(case, axis, mass * 1e-3)

        def at(mm_s: float) -> float:
            return 1e3 * safe_acceleration_m_s2(train, mass * 1e-3, mm_s * 1e-3, against, RESERVE)

        speeds = [speed * n / (CURVE_POINTS - 1) for n in range(CURVE_POINTS)]
        curve = tuple((v, max(at(v), 0.0)) for v in speeds)
        value = max(at(speed), 0.0)
        first = next((v for v, a in curve if a < wanted), None)
        enough = "" if first is None else f" Enough up to about {_before(speeds, first):.0f} mm/s."
        force = train.force_n(speed * 1e-3)
        return Found(
            value,
            f"{mass:.0f} g at {speed:g} mm/s: pull-out force {force:.0f} N, half of it kept back, "
            f"{against:.1f} N against it; at rest {curve[0][1]:.0f} mm/s².{enough}",
            limit=wanted,
            sense="at least",
            curve=curve,
        )

    return Rule(f"safe acceleration of {axis}", "mm/s²", "Force and acceleration", find, MOVING)


def _before(speeds: list[float], first: float) -> float:
    return max([v for v in speeds if v < first], default=0.0)


def _resonance(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        after, before = moving_mass_g(case, axis)
        measured = case.before(f"axes.{axis}.resonance_hz")
        if measured is not None and before is not None:
            value = measured * (before / after) ** 0.5
            how = f"{measured:g} Hz measured with {before:.0f} g; now {after:.0f} g"
        else:
            stiffness, length = case.need(
                f"axes.{axis}.belt_stiffness_n", f"axes.{axis}.belt_length_mm"
            )
            k = belt_stiffness_n_m(stiffness, length * 1e-3)
            value = resonance_hz(k, after * 1e-3)
            measured = resonance_hz(k, before * 1e-3) if before else None
            how = f"belt of {k / 1e3:.1f} N/mm at the middle, the softest place; {after:.0f} g"
        if measured is None:
            return Found(value, f"{how}.")
        shift = value / measured - 1.0
        return Found(
            value,
            f"{how}: {signed_percent(shift)}."
            + (" Tune the vibration settings anew." if abs(shift) > 0.05 else ""),
            limit=measured,
            sense="at least",
            verdict="fits" if shift > -0.1 else "look closer",
        )

    return Rule(f"resonance of {axis}", "Hz", "Resonance", find)


def _beam(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        at = f"axes.{axis}.beam"
        beam = case.get(at)
        if beam is None:
            return None
        span, support, modulus = case.need(f"{at}.span_mm", f"{at}.support", f"{at}.modulus_gpa")
        for name in ("height_mm", "width_mm", "wall_mm", "second_moment_mm4", "mass_g"):
            case.get(f"{at}.{name}")
        inertia = second_moment_mm4(beam)
        if inertia is None:
            raise UnknownError(f"the section of {at} (section with its sizes, or second moment)")
        mass, before = moving_mass_g(case, axis)
        own = (beam.mass_g or 0.0) * 1e-3 * GRAVITY_M_S2 / (span * 1e-3)

        def sag(grams: float) -> float:
            load = grams * 1e-3 * GRAVITY_M_S2 / beam.count
            return deflection_mm(support, span, modulus, inertia, load_n=load, even_n_per_m=own)

        was = f" (before: {sag(before):.4f} mm)" if before else ""
        return Found(
            sag(mass),
            f"{mass:.0f} g in the worst place of a {span:g} mm beam, {support}{was}. The limit, a "
            "quarter of a 0.2 mm layer, is assumed.",
            limit=SAG_LIMIT_MM,
            closer=0.3,
        )

    return Rule(f"sag of the {axis} beam", "mm", "Beam deflection", find)


def _guide(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        at = f"axes.{axis}.guide"
        if case.get(at) is None:
            return None
        preload, spacing, arm = case.need(
            f"{at}.preload_n", f"{at}.spacing_mm", "toolhead.centre_mm"
        )
        wanted = case.need(f"motion.max_acceleration_mm_s2.{axis}")
        mass, _ = moving_mass_g(case, axis)
        pull = max(wanted * 1e-3, GRAVITY_M_S2)
        return Found(
            lift_off_n(mass * 1e-3, pull, arm, spacing),
            f"{mass:.0f} g at {arm:g} mm from the guide, {pull:.1f} m/s², contacts {spacing:g} mm "
            "apart; above the preload a contact lifts and the nozzle nods.",
            limit=preload,
            closer=0.3,
        )

    return Rule(f"preload of the {axis} guide", "N", "Guide preload", find)


def _z_holds(case: Case) -> Found:
    drive = case.need("axes.z.drive")
    if drive == "screw":
        lead, friction = _screw_angles(case, "z")
        return Found(
            lead,
            "Lead angle against friction angle, degrees: a screw holds while its lead angle is "
            "the smaller; vibration and grease lower friction.",
            limit=friction,
            closer=0.25,
        )
    if drive == "worm belt":
        lead, friction = case.get("axes.z.worm_lead_angle_deg"), case.get("axes.z.friction")
        if lead is None or friction is None:
            return Found(
                None,
                "A worm-driven belt stays where it is without power (common practice, no "
                "source); worm lead angle and friction would tell for this one.",
                verdict="fits",
            )
        return Found(
            lead,
            "Lead angle of the worm against friction angle, degrees.",
            limit=friction_angle_deg(friction),
            closer=0.25,
        )
    return _belt_holds(case)


def _belt_holds(case: Case) -> Found:
    detent = case.get("axes.z.motor.detent_torque_nm")
    record: Axis = case.need("axes.z")
    travel = travel_per_turn_mm(record)
    if detent is None or travel is None or record.moving_mass_g is None:
        return Found(
            None,
            "A plain belt does not hold z without power: it drops (common practice, no source). "
            "Detent torque, pulley and moving mass would put a number to it.",
            verdict="does not fit",
        )
    mass, _ = moving_mass_g(case, "z")
    ratio = _ratio(case, "z")
    holds = record.motors * detent * ratio * 2e3 * math.pi / travel
    return Found(
        mass * 1e-3 * GRAVITY_M_S2,
        "Weight on the belt against what the motors' detent torque holds, N; friction left out.",
        limit=holds,
        closer=0.5,
        unit="N",
    )


def _steps(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        at = f"axes.{axis}"
        full, micro = case.need(f"{at}.full_steps", f"{at}.microsteps")
        value = steps_per_mm(full, micro, _ratio(case, axis), travel_of(case, axis))
        return compare_steps(value, case.get(f"{at}.steps_per_mm"))

    return Rule(f"steps per mm of {axis}", "1/mm", "Steps per mm", find)


def compare_steps(value: float, set_to: float | None) -> Found:
    """Steps from the mechanics against what the controller is set to."""
    if set_to is None:
        return Found(value, f"Set the controller to {value:.4f}, then check by measured moves.",
                     verdict="look closer")  # fmt: skip
    off = set_to / value - 1.0
    ok = abs(off) < 0.005
    return Found(
        value,
        f"The controller is set to {set_to:g}, {signed_percent(off, 2)} from the mechanics."
        + ("" if ok else " A tooth, a gear or a microstep setting is not what is recorded."),
        limit=set_to,
        verdict="fits" if ok else "look closer" if abs(off) < 0.03 else "does not fit",
    )


def rules_for(case: Case) -> tuple[Rule, ...]:
    """The motion rules: for an axis of which nothing is recorded just one, that says so."""
    rules: list[Rule] = []
    for axis in "xyz":
        if getattr(case.rig.axes, axis) is None:
            rules.append(_acceleration(axis))
            continue
        rules += [_steps(axis), _acceleration(axis)]
        if axis != "z":  # z hardly moves while printing
            rules += [_resonance(axis), _beam(axis), _guide(axis)]
    return (*rules, Rule("z holds unpowered", "°", "Does z hold", _z_holds, MOVING))
