"""The uncertainty budget of loss in figures: the tables of docs/explanation/budget.md.

python benchmarks/loss_budget.py             prints every table
python benchmarks/loss_budget.py --simulate  those that take a minute too
"""

from __future__ import annotations

import math
import sys

import numpy as np
from scipy.optimize import least_squares
from scipy.signal import lfilter

from beadworth.material import Material
from beadworth.rig import BuildVolume, Extruder, HotEnd, Rig
from beadworth.trial import Balance, Spool, TrialSpec, plan
from beadworth.trial.planning.budget import averaging, loss_budget
from beadworth.trial.planning.power import (
    SHARPNESS,
    SHARPNESS_U,
    log_ceiling,
    log_delivered,
    smallest_difference,
)

DENSITY, DIAMETER = 1.24, 1.75
BALANCE = Balance(readability_g=0.01, repeatability_g=0.008, repeatability_dof=9)


def number(value: float) -> str:
    return "∞" if math.isinf(value) else f"{value:.3g}"


def budget(**more: object) -> object:
    given = {
        "balance": BALANCE, "spool": Spool(diameter_u_mm=0.005), "filament_mm": 600.0,
        "diameter_mm": DIAMETER, "density_g_cm3": DENSITY, "replicates": 3, "references": 7,
        "loss": 0.02,
    }  # fmt: skip
    return loss_budget(**given | more)  # type: ignore[arg-type]


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
    """What is left of ±0.02 mm in the mean section of one coupon, correlation length 1 m."""
    rows = ["| coupon mm | part of the variance left | standard u of section % |",
            "| --- | --- | --- |"]  # fmt: skip
    for length in (100, 300, 600, 1000, 2000, 5000):
        left = averaging(length, 1000.0)
        u = 2 * 0.02 / math.sqrt(3) / DIAMETER * math.sqrt(left)
        rows.append(f"| {length} | {left:.3f} | {u * 100:.2f} |")
    return "\n".join(rows)


def size_table() -> str:
    """What 0.5 % costs: one rig, 3 temperatures, 8 flows, for four ways to measure."""
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
        "| balance | diameter | mm per coupon | per setting | references | u of loss % | coupons "
        "| g | hours | difference seen mm³/s |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for step in (0.01, 0.001):
        for measured in (None, 0.005):
            made = plan(
                TrialSpec(
                    question="What does the target cost?",
                    baseline="example",
                    material="PLA",
                    temperatures_c=(210.0, 220.0, 230.0),
                    flows_mm3_s=tuple(float(q) for q in range(8, 23, 2)),
                    reference_flow_mm3_s=4.0,
                    balance=Balance(readability_g=step, repeatability_g=step),
                    spool=Spool(diameter_u_mm=measured),
                ),
                {"example": rig},
                pla,
            )
            how = f"measured to {measured:g} mm" if measured else "±0.02 mm, not measured"
            rows.append(
                f"| {step:g} g | {how} | {made.filament_mm:g} | {made.replicates} "
                f"| {made.references_per_block} | {made.budget.combined_u * 100:.2f} "
                f"| {len(made.coupons)} | {made.total_mass_g:.0f} | {made.duration_s / 3600:.0f} "
                f"| {made.power.difference_mm3_s:.2f} |"
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
        made = budget(spool=Spool(), filament_mm=length, replicates=replicates,
                      references=references, loss=0.0)  # fmt: skip
        only = math.hypot(*(r.contribution for r in made.lines if "spool" in r.source))
        seen = float(np.sqrt((np.array(losses) ** 2).mean()))
        rows.append(f"| {length:.0f} | {total} | {seen / only:.3f} |")
    return "\n".join(rows)


def power_table(trials: int = 2000) -> str:
    """How often two simulated rigs are told apart by plain least squares, at 95 %."""
    flow_plan, noise, loss = [*np.arange(8.0, 23.0, 2.0)] * 3 + [4.0] * 4, 0.006, 0.02
    power = smallest_difference(
        np.arange(8.0, 23.0, 2.0), [220.0], reference_flow_mm3_s=4.0, replicates=3, references=4,
        relative_u=noise, loss=loss,
    )  # fmt: skip
    assert power is not None
    rng = np.random.default_rng(3)
    flow, expected = np.array(flow_plan), math.log(SHARPNESS)

    def fitted(true: float) -> tuple[float, float]:
        log_p = expected + SHARPNESS_U * rng.standard_normal()
        knee = math.log(true) - log_ceiling(0.0, log_p, loss)
        weighed = log_delivered(flow, knee, log_p) + noise * rng.standard_normal(len(flow))

        def residuals(theta: np.ndarray) -> np.ndarray:
            model = theta[0] + log_delivered(flow, theta[1], theta[2])
            return np.append((weighed - model) / noise, (theta[2] - expected) / SHARPNESS_U)

        found = least_squares(residuals, (0.0, knee, expected))
        top = math.exp(log_ceiling(found.x[1], found.x[2], loss))
        step = log_ceiling(found.x[1], found.x[2] + 1e-4, loss) - math.log(top)
        gradient = np.array([0.0, 1.0, step / 1e-4])
        return top, top * math.sqrt(gradient @ np.linalg.inv(found.jac.T @ found.jac) @ gradient)

    rows = ["| true difference mm³/s | told apart |", "| --- | --- |"]
    for part in (0.0, 0.5, 1.0, 1.5):
        distance, seen = part * power.difference_mm3_s, 0
        for _ in range(trials):
            (a, u_a), (b, u_b) = (
                fitted(power.assumed_ceiling_mm3_s + s * distance / 2) for s in (1, -1)
            )
            seen += abs(a - b) > 1.959964 * math.hypot(u_a, u_b)
        rows.append(f"| {distance:.2f} | {seen / trials * 100:.0f} % |")
    return "\n".join(rows)


if __name__ == "__main__":
    tables = [worked_table, averaging_table, size_table]
    if "--simulate" in sys.argv:
        tables += [spool_table, power_table]
    for table in tables:
        print(f"{(table.__doc__ or '').splitlines()[0]}\n\n{table()}\n")
