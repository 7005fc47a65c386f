"""The uncertainty budget of loss in figures: the tables of docs/explanation/budget.md.

python benchmarks/loss_budget.py             prints every table
python benchmarks/loss_budget.py --simulate  those that take a minute too
"""

from __future__ import annotations

import math
import sys

import numpy as np
from scipy.signal import lfilter

from beadworth.material import Material
from beadworth.rig import BuildVolume, Extruder, HotEnd, Rig
from beadworth.trial import Balance, Budget, Spool, TrialSpec, plan
from beadworth.trial.planning.budget import loss_budget, unshared

DENSITY, DIAMETER = 1.24, 1.75
BALANCE = Balance(readability_g=0.01, repeatability_g=0.008, repeatability_dof=9)


def number(value: float) -> str:
    return "∞" if math.isinf(value) else f"{value:.3g}"


def budget(**more: object) -> Budget:
    given = {
        "balance": BALANCE, "spool": Spool(diameter_u_mm=0.005), "filament_mm": 600.0,
        "diameter_mm": DIAMETER, "density_g_cm3": DENSITY, "replicates": 3, "references": 7,
        "loss": 0.02,
    }  # fmt: skip
    return loss_budget(**given | more)


def worked_table() -> str:
    """The worked budget: 600 mm of PLA, three coupons, seven references, diameters measured."""
    made = budget()
    rows = [
        "| source | type | distribution | value | divisor | standard u | sensitivity "
        "| contribution % | degrees of freedom |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    rows += [
        f"| {r.source} | {r.evaluation} | {r.distribution} | {r.half_width:g} {r.unit} "
        f"| {r.divisor:.3f} | {r.standard_u:.5f} {r.unit} | {r.sensitivity:.4f} /{r.unit} "
        f"| {r.contribution * 100:.3f} | {number(r.dof)} |"
        for r in made.lines
    ]
    rows.append(
        f"| **combined** | | | | | | | **{made.combined_u * 100:.3f}** "
        f"| {number(made.effective_dof)} |"
    )
    rows.append(
        f"| **expanded, k = {made.coverage_factor:.2f} (95 %)** | | | | | | "
        f"| **{made.expanded_u * 100:.3f}** | |"
    )
    return "\n".join(rows)


def averaging_table() -> str:
    """What is left of ±0.02 mm in a coupon, alone and against its block of ten, 40 mm purges."""
    rows = [
        "| coupon mm | alike over | part of the variance left, alone | in a block of 10 "
        "| standard u of section then % |",
        "| --- | --- | --- | --- | --- |",
    ]
    for correlation in (1000.0, 10_000.0):
        for length in (100.0, 300.0, 600.0, 1000.0):
            alone = unshared(length, correlation)
            block = unshared(length, correlation, (10, length + 40.0))
            u = 2 * 0.02 / math.sqrt(3) / DIAMETER * math.sqrt(block)
            rows.append(
                f"| {length:.0f} | {correlation / 1000:.0f} m | {alone:.3f} | {block:.3f} "
                f"| {u * 100:.2f} |"
            )
    return "\n".join(rows)


def size_table() -> str:
    """What a question costs: one rig, 3 temperatures, flows from 6 to 22, next coupons included."""
    rig = Rig(
        name="example",
        build_volume=BuildVolume(x_mm=220, y_mm=220, z_mm=240),
        hot_end=HotEnd(temperature_limit_c=280, ptfe_in_melt_zone=False),
        extruder=Extruder(max_acceleration_mm_s2=2000),
    )
    pla = Material(
        name="PLA", density_g_cm3=DENSITY, min_temperature_c=190, max_temperature_c=240, bed_c=55
    )
    rows = [
        "| balance | asked for | mm per coupon | first coupons | first hours | coupons in all "
        "| hours in all | mm³/s then |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    asks: dict[str, dict[str, float]] = {
        "nothing": {}, "2 mm³/s": {"difference_mm3_s": 2.0}, "1 mm³/s": {"difference_mm3_s": 1.0},
        "0.7 mm³/s": {"difference_mm3_s": 0.7}, "4 hours": {"hours": 4.0},
    }  # fmt: skip
    for step in (0.01, 0.001):
        for words, asked in asks.items():
            spec = TrialSpec(
                question="What does the answer cost?",
                baseline="example",
                material="PLA",
                temperatures_c=(210.0, 220.0, 230.0),
                flows_mm3_s=(6.0, 22.0),
                balance=Balance(readability_g=step, repeatability_g=step),
                **asked,
            )
            made = plan(spec, {"example": rig}, pla)
            wanted, hours = asked.get("difference_mm3_s", 0.0), asked.get("hours", 2.0)
            last = next(
                (s for s in made.outlook if s.width_mm3_s <= wanted),
                next((s for s in made.outlook[::-1] if s.hours <= hours), made.outlook[0]),
            )
            first = made.outlook[0]
            rows.append(
                f"| {step:g} g | {words} | {made.filament_mm:g} | {first.coupons} "
                f"| {first.hours:.1f} | {last.coupons} | {last.hours:.1f} "
                f"| {last.width_mm3_s:.2f} |"
            )
    return "\n".join(rows)


def spool_table(trials: int = 3000) -> str:
    """Coupons cut from one simulated spool in shuffled order: spread of loss over the budget's."""
    rng = np.random.default_rng(11)
    purge, step, correlation = 40.0, 20.0, 1000.0
    rows = ["| coupon mm | coupons per block | spread ÷ budget |", "| --- | --- | --- |"]
    for length, flows, replicates, references in (
        (300.0, 5, 2, 3), (600.0, 8, 3, 4), (1000.0, 8, 3, 4), (1000.0, 10, 6, 10),
    ):  # fmt: skip
        total, per = flows * replicates + references, int((length + purge) / step)
        places = np.linspace(0, total - 1, references).round().astype(int)
        others = np.setdiff1d(np.arange(total), places)
        keep = math.exp(-step / correlation)
        losses = []
        for _ in range(trials):
            noise = rng.standard_normal(total * per)
            noise[1:] *= math.sqrt(1 - keep * keep)
            diameter = DIAMETER + 0.02 / math.sqrt(3) * lfilter([1.0], [1.0, -keep], noise)
            section = (diameter**2).reshape(total, per)[:, int(purge / step) :].mean(axis=1)
            shuffled = rng.permutation(others).reshape(flows, replicates)
            losses.append(1 - section[shuffled].mean(axis=1) / section[places].mean())
        made = budget(spool=Spool(correlation_length_mm=correlation), filament_mm=length,
                      replicates=replicates, references=references, loss=0.0,
                      block=(total, length + purge))  # fmt: skip
        only = math.hypot(*(r.contribution for r in made.lines if "spool" in r.source))
        seen = float(np.sqrt((np.array(losses) ** 2).mean()))
        rows.append(f"| {length:.0f} | {total} | {seen / only:.3f} |")
    return "\n".join(rows)


if __name__ == "__main__":
    tables = [worked_table, averaging_table, size_table]
    if "--simulate" in sys.argv:
        tables += [spool_table]
    for table in tables:
        print(f"{(table.__doc__ or '').splitlines()[0]}\n\n{table()}\n")
