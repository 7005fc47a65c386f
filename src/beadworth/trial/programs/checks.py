"""What a coupon program refuses before a line of it is written: all of it at once."""

from __future__ import annotations

import math
from collections.abc import Sequence

from beadworth.core import PTFE_LIMIT_C, Place, Problem, feed_mm_s
from beadworth.gcode import unknown_limits
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import percent
from beadworth.trial.programs.coil import Coil, path_acceleration_mm_s2
from beadworth.trial.record import Coupon

UNSTEADY_SHARE = 0.02
"""Largest share of a coupon that may be laid while the feed is still rising or falling."""
SEGMENTS_PER_TURN = 72
SHORTEST_SEGMENT_MM = 0.3


def heat_problems(rig: Rig, material: Material, temperatures_c: Sequence[float]) -> list[Problem]:
    """Temperatures above the hot end, the material, or a PTFE liner; one problem each."""
    problems = []
    hot, where = rig.hot_end, f"rig {rig.name}"
    for temperature in sorted(set(temperatures_c)):
        top = hot.temperature_limit_c
        if top is not None and temperature > top:
            problems.append(
                Problem(
                    f"{temperature:g} °C is above the hot end's limit of {top:g} °C.",
                    Place.of_field(where, "hot_end.temperature_limit_c"),
                    temperature,
                    f"Plan temperatures up to {top:g} °C.",
                )
            )
        if temperature > material.max_temperature_c:
            problems.append(
                Problem(
                    f"{temperature:g} °C is above what {material.name} may see, "
                    f"{material.max_temperature_c:g} °C.",
                    Place.of_field(f"material {material.name}", "max_temperature_c"),
                    temperature,
                    f"Plan temperatures up to {material.max_temperature_c:g} °C.",
                )
            )
        if temperature > PTFE_LIMIT_C and hot.ptfe_in_melt_zone is not False:
            state = (
                "a PTFE liner reaches the melt zone"
                if hot.ptfe_in_melt_zone
                else "it is not recorded whether a PTFE liner reaches the melt zone"
            )
            problems.append(
                Problem(
                    f"{temperature:g} °C is above {PTFE_LIMIT_C:g} °C and {state}: PTFE breaks "
                    "down there and its fumes harm (common practice, no source).",
                    Place.of_field(where, "hot_end.ptfe_in_melt_zone"),
                    temperature,
                    f"Plan temperatures up to {PTFE_LIMIT_C:g} °C, or fit a hot end without a "
                    "liner there and record it (ptfe_in_melt_zone = false).",
                )
            )
    return problems


def flow_problems(rig: Rig, coupons: Sequence[Coupon], coil: Coil | None) -> list[Problem]:
    """Flows the extruder cannot turn, or cannot hold steady for a coupon; one problem each."""
    problems: list[Problem] = []
    extruder = rig.extruder
    for flow in sorted({c.flow_mm3_s for c in coupons}):
        feed = feed_mm_s(flow, rig.filament_diameter_mm)
        if extruder.max_feed_mm_s is not None and feed > extruder.max_feed_mm_s:
            problems.append(
                Problem(
                    f"{flow:g} mm³/s feeds filament at {feed:.2f} mm/s; the extruder turns "
                    f"{extruder.max_feed_mm_s:g} mm/s at most.",
                    Place.of_field(f"rig {rig.name}", "extruder.max_feed_mm_s"),
                    flow,
                    "Leave this flow out of the plan.",
                )
            )
        shortest = min(c.filament_mm for c in coupons if c.flow_mm3_s == flow)
        share = unsteady_mm(rig, feed, coil) / shortest
        if share > UNSTEADY_SHARE:
            problems.append(
                Problem(
                    f"at {flow:g} mm³/s the feed needs {percent(share, 1)} of a coupon of "
                    f"{shortest:g} mm to rise and fall; at most {percent(UNSTEADY_SHARE, 0)} may "
                    "be unsteady.",
                    Place.of_field(f"rig {rig.name}", "extruder.max_acceleration_mm_s2"),
                    flow,
                    "Plan longer coupons, lower the flow, or raise the acceleration if the "
                    "machine allows it.",
                )
            )
    return problems


def unsteady_mm(rig: Rig, feed: float, coil: Coil | None) -> float:
    """Filament fed while the feed rises and falls, mm: feed² ÷ acceleration for both together.

    In a coil the path accelerates, and the extruder with it; in the air the extruder alone.
    """
    top = rig.extruder.max_acceleration_mm_s2 or math.inf
    if coil is not None:
        path, _ = path_acceleration_mm_s2(rig)
        top = min(top, path * coil.filament_mm / coil.strand_length_mm)
    return feed * feed / top


def record_problems(rigs: Sequence[Rig]) -> list[Problem]:
    """Limits no program can do without, for every rig."""
    return [problem for rig in rigs for problem in unknown_limits(rig)]


def segments_per_turn(rig: Rig, coil: Coil, speed_mm_s: float) -> int:
    """Straight pieces per turn, so many that no joint slows the nozzle.

    At a joint of two pieces the direction turns by 2π/n: the speed step is 2·v·sin(π/n), held
    against the rig's corner step; under a corner rule by centripetal deviation δ the joint is
    passed at √(a·δ·s/(1−s)) with s = cos(π/n). Where the rig records neither, 72.
    """
    motion = rig.motion
    acceleration, _ = path_acceleration_mm_s2(rig)
    most = max(SEGMENTS_PER_TURN, int(2 * math.pi * coil.radius_mm / SHORTEST_SEGMENT_MM))
    for n in range(SEGMENTS_PER_TURN, most + 1):
        step = 2 * speed_mm_s * math.sin(math.pi / n)
        corner = motion.corner_step_mm_s
        if corner and step > min(corner.x, corner.y):
            continue
        if motion.corner_deviation_mm:
            s = math.cos(math.pi / n)
            top = math.sqrt(acceleration * motion.corner_deviation_mm * s / (1 - s))
            if speed_mm_s > top:
                continue
        return n
    return 0


def joint_problems(rig: Rig, coil: Coil, speed_mm_s: float) -> list[Problem]:
    """A circle so fast that the controller would brake at every joint."""
    if segments_per_turn(rig, coil, speed_mm_s):
        return []
    return [
        Problem(
            f"a circle of {coil.radius_mm:g} mm radius at {speed_mm_s:.0f} mm/s would be braked at "
            f"every joint, even of pieces {SHORTEST_SEGMENT_MM:g} mm long.",
            f"rig {rig.name}, field motion.corner_step_mm_s or motion.corner_deviation_mm",
            round(speed_mm_s, 3),
            "Lower the highest flow, or collect by catch.",
            Place.of_field(f"rig {rig.name}", "motion.corner_step_mm_s"),
        )
    ]
