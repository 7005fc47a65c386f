"""How long a trial takes and how much filament it feeds, as the coupon programs run it.

The constants are those of the programs; what moves and retractions take is a round figure. The
tests hold the sum against the duration the programs themselves state.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby, pairwise

from beadworth.core import ROOM_C, feed_mm_s
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import duration
from beadworth.trial.programs.layout import purge_mm
from beadworth.trial.programs.moves import (
    BED_RISE_C_S,
    COOL_DOWN_S,
    NOZZLE_FALL_C_S,
    NOZZLE_RISE_C_S,
    PAUSE_S,
    SETTLE_S,
    SOAK_S,
    bed_temperature_c,
)
from beadworth.trial.record import Coupon, Plan

MOVES_S = 5.0
"""Travel, lift, wipe and retractions of one coupon on a plate."""
HANDLING_S = 60.0
"""Take off or bag, label, weigh and type one coupon (assumption, common practice, no source)."""
SESSION_S = 300.0
"""Clear the bed, check, start one program (assumption, common practice, no source)."""


def coupon_s(rig: Rig, filament_mm: float, flow_mm3_s: float, *, catch: bool) -> float:
    """One coupon from settling to weighed: settle, purge and coupon at its flow, hands."""
    feed = feed_mm_s(flow_mm3_s, rig.filament_diameter_mm)
    run = (purge_mm(rig) + filament_mm) / feed
    return SETTLE_S + run + (2 * PAUSE_S if catch else MOVES_S) + HANDLING_S


def heating_s(material: Material, temperatures_c: Sequence[float], *, catch: bool) -> float:
    """Heat, soak at each temperature in turn, and cool at the end: one program, hands included."""
    steps = [ROOM_C, *temperatures_c]
    nozzle = sum(
        max(0.0, b - a) / NOZZLE_RISE_C_S + max(0.0, a - b) / NOZZLE_FALL_C_S
        for a, b in pairwise(steps)
    )
    bed = 0.0 if catch else max(0.0, bed_temperature_c(material) - ROOM_C) / BED_RISE_C_S
    soak = len(temperatures_c) * (SOAK_S - SETTLE_S)
    return bed + nozzle + soak + COOL_DOWN_S + SESSION_S


def run_s(
    coupons: Sequence[Coupon], rigs: Mapping[str, Rig], material: Material, *, catch: bool
) -> float:
    """The whole run sheet, one program per plate (or session), hands included."""
    total = 0.0
    for own in _programs(coupons):
        rig = own[0].rig
        turns = [t for t, _ in groupby(c.temperature_c for c in own)]
        total += heating_s(material, turns, catch=catch)
        total += sum(coupon_s(rigs[rig], c.filament_mm, c.flow_mm3_s, catch=catch) for c in own)
    return total


def _programs(coupons: Sequence[Coupon]) -> list[list[Coupon]]:
    """The coupons of each program, one per plate (or session) and rig."""
    return [list(group) for _, group in groupby(coupons, key=lambda c: (c.rig, c.plate))]


def hands_s(coupons: Sequence[Coupon]) -> float:
    """What a person's hands add to the programs of a run sheet."""
    return HANDLING_S * len(coupons) + SESSION_S * len(_programs(coupons))


def describe_time(plan: Plan) -> str:
    """What a plan's time is made of, so that it can be held against what its programs say."""
    hands, starts = hands_s(plan.coupons), len(_programs(plan.coupons))
    program = "the program runs" if starts == 1 else f"the {starts} programs run"
    coupon, start = HANDLING_S / 60, SESSION_S / 60
    return (
        f"{program} about {duration(plan.duration_s - hands)} (heat, soak, extrude, cool); your "
        f"hands take {duration(hands)}: {coupon:g} min for each of {len(plan.coupons)} coupons "
        f"(take off or bag, label, weigh, type) and {start:g} min before each program (clear the "
        "bed, check)"
    )


def fed_mm(coupons: Sequence[Coupon], rigs: Mapping[str, Rig]) -> float:
    """Filament of all coupons with their purges, mm."""
    return sum(c.filament_mm + purge_mm(rigs[c.rig]) for c in coupons)
