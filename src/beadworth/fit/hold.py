"""What holds still: beams that sag, guides that keep contact, z without power."""

from __future__ import annotations

import math

from beadworth.core import GRAVITY_M_S2
from beadworth.fit.check import Case, Found, Rule, UnknownError
from beadworth.fit.load import belts_coupled, moving_mass_g, print_mass_g
from beadworth.fit.train import HOLDS_AT_MOST, gear_ratio_of, resisting_of, thread_angles
from beadworth.rig import (
    Axis,
    deflection_mm,
    lift_off_n,
    second_moment_mm4,
    travel_per_turn_mm,
)

SAG_LIMIT_MM = 0.05
"""A quarter of a 0.2 mm layer; assumed."""


def beam(axis: str) -> Rule:
    """How far the beam of an axis sags under what runs on it."""

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


def guide(axis: str) -> Rule:
    """Whether the moments of what hangs on a guide lift a contact off its preload."""

    def find(case: Case) -> Found | None:
        at = f"axes.{axis}.guide"
        if case.get(at) is None:
            return None
        arm_path = f"axes.{axis}.centre_mm"
        if axis == "x" and case.get(arm_path) is None:
            arm_path = "toolhead.centre_mm"
        preload, spacing, arm, wanted = case.need(
            f"{at}.preload_n", f"{at}.spacing_mm", arm_path, f"motion.max_acceleration_mm_s2.{axis}"
        )
        mass, _ = moving_mass_g(case, axis)
        speeding = wanted * 1e-3
        weight = GRAVITY_M_S2 if axis == "x" else 0.0
        lift = lift_off_n(mass * 1e-3, speeding + weight, arm, spacing)
        carried, top = print_mass_g(case, axis), case.get("build_volume.z_mm")
        print_too = ""
        if carried and top is not None:
            lift += lift_off_n(carried * 1e-3, speeding, arm + top / 2.0, spacing)
            print_too = f", and a print of {carried:.0f} g as tall as the build volume"
        how = "speeding up and weight together" if weight else "speeding up; the weight presses on"
        return Found(
            lift,
            f"{mass:.0f} g at {arm:g} mm from the guide{print_too}: {how}, {speeding:.1f} m/s², "
            f"contacts {spacing:g} mm apart; above the preload a contact lifts, the nozzle nods.",
            limit=preload,
            closer=0.3,
        )

    return Rule(f"preload of the {axis} guide", "N", "Guide preload", find)


def tension(axis: str) -> Rule:
    """Whether the slack run of a belt stays taut at the acceleration set."""

    def find(case: Case) -> Found | None:
        at_rest = case.get(f"axes.{axis}.belt_tension_n")
        if at_rest is None or case.need(f"axes.{axis}.drive") == "screw":
            return None
        coupled = axis in "xy" and belts_coupled(case)
        force = 0.0
        for each in "xy" if coupled else axis:
            mass = (moving_mass_g(case, each)[0] + (print_mass_g(case, each) or 0.0)) * 1e-3
            wanted = case.need(f"motion.max_acceleration_mm_s2.{each}") * 1e-3
            force += mass * wanted + resisting_of(case, each).force_n(mass)
        force /= 2.0 if coupled else 1.0
        return Found(
            force / 2.0,
            f"Half of the {force:.1f} N a belt passes on at the acceleration set: with less "
            f"tension its slack run hangs loose{' (both axes at once)' if coupled else ''}.",
            limit=at_rest,
            closer=0.2,
        )

    return Rule(f"belt tension of {axis}", "N", "Belt tension", find)


def racking(axis: str) -> Rule:
    """Whether a drive beside the load jams its guide, as a drawer pulled at one side does."""

    def find(case: Case) -> Found | None:
        offset = case.get(f"axes.{axis}.drive_offset_mm")
        if offset is None:
            return None
        friction, length = case.need(f"axes.{axis}.guide.friction", f"axes.{axis}.guide.spacing_mm")
        return Found(
            2.0 * friction * offset,
            f"Twice friction times {offset:g} mm, by which the drive pulls beside the load, "
            f"against contacts {length:g} mm apart: beyond that the guide jams under any force.",
            limit=length,
            closer=0.5,
        )

    return Rule(f"racking of {axis}", "mm", "Racking", find)


def z_holds(case: Case) -> Found:
    """Whether z stays where it is when the power goes."""
    drive = case.need("axes.z.drive")
    if drive == "belt":
        return _belt_holds(case)
    if drive == "worm belt" and None in (
        case.get("axes.z.worm_lead_angle_deg"), case.get("axes.z.friction")
    ):  # fmt: skip
        stated = case.get("axes.z.efficiency")
        over = stated is not None and stated > HOLDS_AT_MOST
        return Found(
            None,
            "A worm-driven belt stays where it is without power (common practice, no source); "
            "record its lead angle and friction to check this one."
            + (f" The efficiency stated, {stated:g}, is one of a worm that does not hold."
               if over else ""),
            verdict="look closer" if over else "fits",
        )  # fmt: skip
    lead, friction = thread_angles(case, "z")
    return Found(
        lead,
        f"Lead angle against friction angle, degrees: a {'screw' if drive == 'screw' else 'worm'} "
        "holds while its lead angle is the smaller; vibration and grease lower friction.",
        limit=friction,
        closer=0.25,
    )


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
    ratio = gear_ratio_of(case, "z")
    holds = record.motors * detent * ratio * 2e3 * math.pi / travel
    return Found(
        mass * 1e-3 * GRAVITY_M_S2,
        "Weight on the belt against what the motors' detent torque holds, N; friction left out.",
        limit=holds,
        closer=0.5,
        unit="N",
    )
