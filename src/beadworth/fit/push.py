"""Push: extruder steps, the feed its motor still drives, push force against grip."""

from __future__ import annotations

import math

from beadworth.core import coverage_factor, feed_mm_s
from beadworth.fit.check import HOT, Case, Found, Missing, Rule, UnknownError, Verdict
from beadworth.fit.motion import RESERVE, compare_steps
from beadworth.fit.train import peak_current_a
from beadworth.melt import Push, channel_of, grip_of, push_of
from beadworth.rig import MOTOR_NEEDS, pull_out_torque_nm, steps_per_mm, windings
from beadworth.text import percent

GEAR_EFFICIENCY = 0.9
"""Share of the motor's work that reaches the filament through gears; assumed."""
STIFF = 0.5
"""Share of the push force from a cold core at which it deserves a closer look."""
SURE = 0.5
"""A predicted force under this share of the weakest usual grip fits whatever the drive."""
NOT_SURE = (
    " The melt's viscosity is not recorded; a usual one is assumed, within a factor 2 of the force."
)
TOP_TURNS_S = 50.0
"""Turns of the motor where the search ends: iron losses, left out here, rule beyond; assumed."""


def _steps(case: Case) -> Found:
    full, micro, ratio, diameter = case.need(
        "extruder.full_steps", "extruder.microsteps", "extruder.gear_ratio",
        "extruder.effective_diameter_mm",
    )  # fmt: skip
    value = steps_per_mm(full, micro, ratio, math.pi * diameter)
    return compare_steps(value, case.get("extruder.steps_per_mm"))


def push(case: Case) -> Push:
    """What pushing the wanted flow takes, from the melt prediction.

    Raises
    ------
    UnknownError
        What the prediction needs and the records do not hold.
    """
    case.need("hot_end.melt_zone_mm", "hot_end.bore_mm")
    for name in ("nozzle_mm", "land_mm", "cone_half_angle_deg"):
        case.get(f"hot_end.{name}")
    material = case.polymer()
    found = push_of(channel_of(case.rig)[0], material, case.celsius(), case.flow())
    if not math.isfinite(found.force_n):
        raise UnknownError(of_job=("a push force: the melt does not flow at this temperature",))
    return found


def _push(case: Case) -> Found:
    grip = case.get("extruder.grip_force_n")
    found = push(case)
    doubt = "" if found.stiff_share < STIFF else (
        f" A core that leaves at {found.core_c:.0f} °C makes {percent(found.stiff_share, 0)} of "
        "it: near the ceiling, and the true force may be half as much again, or two thirds."
    )  # fmt: skip
    assumed = NOT_SURE if found.assumed else ""
    why = (
        f"Predicted force that squeezes {case.flow():g} mm³/s out at {case.celsius():g} °C, "
        "against the force at which the drive slips; guide tube and spool drag come on top."
        f"{doubt}{assumed}"
    )
    if grip is not None:
        return Found(
            found.force_n, why, limit=grip, closer=0.3, doubtful=bool(doubt) or found.assumed
        )
    usual, u = grip_of(case.rig)
    low, high = (usual * math.exp(sign * coverage_factor() * u) for sign in (-1, 1))
    verdict: Verdict = "measure this"
    if found.force_n > high:
        verdict = "does not fit"
    elif found.force_n < SURE * low and not found.assumed:
        verdict = "fits"
    return Found(
        found.force_n,
        f"{why} That force is not recorded: {usual:g} N assumed ({low:.0f} to {high:.0f} N, usual "
        f"for its class, no source). Measure {Missing('extruder.grip_force_n')}.",
        limit=usual,
        closer=0.3,
        verdict=verdict,
    )


def _top_feed(case: Case) -> Found:
    case.need(
        "extruder.full_steps", "extruder.gear_ratio", "extruder.effective_diameter_mm",
        *(f"extruder.motor.{name}" for name in MOTOR_NEEDS),
    )  # fmt: skip
    drive = case.rig.extruder
    current = peak_current_a(case, "extruder")
    assert drive.motor  # these three are asked for above
    assert drive.full_steps
    assert drive.effective_diameter_mm
    coil = windings(drive.motor, drive.full_steps, current)
    assert coil is not None
    ratio, radius_m = case.need("extruder.gear_ratio"), drive.effective_diameter_mm / 2e3
    try:
        force, whose = push(case).force_n, "predicted push force"
    except UnknownError:
        force = case.get("extruder.grip_force_n")
        whose = "force at which the drive slips"
        if force is None:
            raise UnknownError(Missing("extruder.grip_force_n")) from None
    torque = force * radius_m / ratio / GEAR_EFFICIENCY

    def enough(turns_s: float) -> bool:
        return bool((1.0 - RESERVE) * pull_out_torque_nm(coil, turns_s) >= torque)

    low, high = 0.0, TOP_TURNS_S
    if enough(high):
        low = high
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if enough(middle) else (low, middle)
    top = low / ratio * 2e3 * math.pi * radius_m
    limit, wanted = None, "No flow was asked for."
    if case.flow_mm3_s is not None:
        limit = feed_mm_s(case.flow_mm3_s, case.rig.filament_diameter_mm)
        wanted = f"{case.flow_mm3_s:g} mm³/s is {limit:.2f} mm/s of filament."
    ends = ""
    if low == 0:
        ends = " The motor stalls before that."
    elif low == TOP_TURNS_S:
        ends = (
            f" At least: the search ends at {TOP_TURNS_S:g} turns of the motor per second, not at "
            "its torque."
        )
    return Found(
        top,
        f"Fastest feed at which half the motor's pull-out torque pushes {force:.0f} N ({whose}). "
        f"{wanted}{ends}",
        limit=limit,
        sense="at least",
        closer=0.3,
        verdict="look closer" if low == 0 and limit is None else None,
    )


RULES = (
    Rule("extruder steps per mm", "1/mm", "Steps per mm", _steps),
    Rule("top feed", "mm/s", "Top feed", _top_feed),
    Rule("push force", "N", "Push force", _push, HOT),
)
