"""The demo scenario: an invented workshop, its rigs, and simulated readings with a stated truth.

Nothing here was measured. The Saltmarsh shed, its printer Tern and both hot ends
are invented; every record says ``simulated``. The truth the readings were drawn
from stands in :data:`TRUE_CEILING_MM3_S` and :func:`true_loss`, so that anyone can
hold what the fit says against it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from beadworth.core import filament_mass_g
from beadworth.demo.cause import seed_cause
from beadworth.demo.rigs import CARDS, LONG_ZONE, STOCK, seed_bring_up
from beadworth.demo.wear import seed_wear
from beadworth.demo.worth import seed_worth
from beadworth.material import generic
from beadworth.trial import Balance, Coupon, Reading, Spool, TrialSpec, plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from beadworth.store import Bench

PLA = generic("PLA").model_copy(
    update={
        "name": "PLA, chalk white",
        "max_temperature_c": 245.0,
        "bed_c": 55.0,
        "fumes_note": "Ventilate the room; little is known about any one filament's additives.",
        "source": "invented for the demo; heat and flow as of the generic PLA",
        "simulated": True,
    }
)

TRUE_CEILING_MM3_S = {
    (STOCK.name, 210.0): 11.9,
    (STOCK.name, 220.0): 13.2,
    (STOCK.name, 230.0): 14.4,
    (LONG_ZONE.name, 210.0): 17.6,
    (LONG_ZONE.name, 220.0): 19.6,
    (LONG_ZONE.name, 230.0): 21.3,
}
"""The flow at 2 % loss the simulated readings were drawn with."""
TRUE_SHARPNESS = 11.0
TRUE_DELIVERY = {STOCK.name: 0.987, LONG_ZONE.name: 0.992}
COUPON_SCATTER = 0.004
"""Relative standard deviation of one coupon, filament diameter left out."""
SPOOL_SD_MM = 0.008
MICROMETER_U_MM = 0.005

FINISHED = TrialSpec(
    question="Does the long melt zone deliver more than the stock hot end, same nozzle, same PLA?",
    baseline=STOCK.name,
    candidate=LONG_ZONE.name,
    material=PLA.name,
    temperatures_c=(210.0, 220.0, 230.0),
    flows_mm3_s=(9.0, 11.0, 12.5, 14.0, 15.5, 17.5, 19.5, 21.5, 23.5),
    reference_flow_mm3_s=4.0,
    filament_mm=180.0,
    replicates=1,
    references_per_block=2,
    balance=Balance(readability_g=0.001, repeatability_g=0.001),
    spool=Spool(diameter_tolerance_mm=0.02, diameter_u_mm=MICROMETER_U_MM),
    seed=20,
)
STARTED = FINISHED.model_copy(
    update={
        "question": "How far does the stock hot end go between the coupons already made?",
        "candidate": None,
        "temperatures_c": (210.0, 220.0),
        "flows_mm3_s": (10.0, 11.5, 13.0, 14.5),
        "filament_mm": 800.0,
        "replicates": 3,
        "references_per_block": 5,
        "balance": Balance(readability_g=0.01, repeatability_g=0.005),
        "collect": "catch",
        "seed": 21,
    }
)
STARTED_READINGS = 9


def true_loss(rig: str, temperature_c: float, flow_mm3_s: float) -> float:
    """The loss the simulated readings were drawn with: a soft knee, 2 % at the true ceiling."""
    return knee_loss(TRUE_CEILING_MM3_S[rig, temperature_c], flow_mm3_s)


def knee_loss(ceiling_mm3_s: float, flow_mm3_s: float) -> float:
    """Loss of a soft knee that reaches 2 % at a ceiling."""
    at_ceiling = (1 - 0.02) ** -TRUE_SHARPNESS - 1
    ratio = flow_mm3_s / ceiling_mm3_s
    return float(1 - (1 + at_ceiling * ratio**TRUE_SHARPNESS) ** (-1 / TRUE_SHARPNESS))


def simulated_reading(
    coupon: Coupon, material: str, rng: np.random.Generator, decimals: int = 3
) -> Reading:
    """What balance and micrometer would show for a coupon, to their smallest steps.

    ``decimals``: of the balance's display, g.
    """
    diameter = STOCK.filament_diameter_mm + SPOOL_SD_MM * rng.standard_normal()
    fed_g = filament_mass_g(coupon.filament_mm, diameter, PLA.density_g_cm3)
    delivered = TRUE_DELIVERY[coupon.rig] * (
        1 - true_loss(coupon.rig, coupon.temperature_c, coupon.flow_mm3_s)
    )
    return Reading(
        rig=coupon.rig,
        material=material,
        temperature_c=coupon.temperature_c,
        flow_mm3_s=coupon.flow_mm3_s,
        filament_mm=coupon.filament_mm,
        mass_g=round(fed_g * delivered * (1 + COUPON_SCATTER * rng.standard_normal()), decimals),
        coupon=coupon.coupon,
        replicate=coupon.replicate,
        diameter_mm=round(diameter + MICROMETER_U_MM * rng.standard_normal(), 3),
        reference=coupon.reference,
        note="simulated",
    )


def seed(bench: Bench, tell: Callable[[str], None] | None = None) -> None:
    """Put the demo on a bench, once.

    ``tell`` hears what is being laid out.

    Rigs, a bring-up, a material, two trials, months of wear, a journal, photos of a wall, and what
    upgrades are worth. Each part is stored whole or not at all, so a seeding that was cut short is
    taken up again where it stopped.
    """
    from beadworth.workflow import compile_kernels, import_readings

    say = tell or (lambda what: None)
    say("what it calculates with")
    compile_kernels()  # once per install, and a page would wait for it without a word
    say("rigs and material")
    rigs = {rig.name: rig for rig in (STOCK, LONG_ZONE)}
    for rig in rigs.values():
        bench.save_rig(rig)
    for card in CARDS:
        bench.save_part(card)
    bench.save_material(PLA)
    there = {trial.question: trial for trial in bench.trials()}
    for number, (spec, count) in enumerate(((STARTED, STARTED_READINGS), (FINISHED, None)), 1):
        say(f"trial {number} of 2")
        trial = there.get(spec.question) or bench.create_trial(spec, plan(spec, rigs, PLA))
        there[spec.question] = trial
        if trial.locked_at is None:
            rng = np.random.default_rng(spec.seed)
            sheet = bench.coupons(trial.id)[:count]
            decimals = round(-math.log10(spec.balance.readability_g))
            weighed = [simulated_reading(c, PLA.name, rng, decimals) for c in sheet]
            import_readings(bench, weighed, "simulated", trial=trial.id)
    say("bring-up and wear")
    seed_bring_up(bench)
    seed_wear(bench, LONG_ZONE.name)
    say("what the upgrades are worth")
    seed_worth(bench, STOCK, LONG_ZONE, there[FINISHED.question].id)
    seed_cause(bench, LONG_ZONE.name)
