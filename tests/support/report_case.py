"""A small finished trial with everything a dossier can hold; all of it invented."""

from __future__ import annotations

import dataclasses
from datetime import UTC, date, datetime

import numpy as np
import pytest

from beadworth.capacity import (
    Ceiling,
    Curve,
    Delivery,
    Difference,
    GroupFit,
    Law,
    Residual,
    Sampling,
    Span,
    SpeedRow,
    SpeedSetting,
)
from beadworth.core.quantity import bead_section_mm2
from beadworth.material import Material
from beadworth.report.data import ReadingEntry, ReportData
from beadworth.rig import AxisLimits, HotEnd, Motion, Rig
from beadworth.trial import (
    Amendment,
    Balance,
    Budget,
    BudgetLine,
    Coupon,
    Plan,
    Power,
    Reading,
    TrialSpec,
)

OLD, NEW, STUFF = "Tern, stock hot end", "Tern, long melt zone", "PLA, chalk white"
TEMPERATURES = (210.0, 220.0, 230.0)
FLOWS = (9.0, 11.0, 13.0, 15.0, 17.0, 19.0, 21.0, 23.0)
TRUE = {
    OLD: dict(zip(TEMPERATURES, (11.9, 13.2, 14.4), strict=True)),
    NEW: dict(zip(TEMPERATURES, (16.1, 17.9, 19.6), strict=True)),
}


def difference(temperature, middle, low, high):
    """A row of a comparison; low and high in mm³/s, None where unknown."""
    sizes = Span(middle, low, high)
    resolved = (low is not None and low > 0) or (high is not None and high < 0)
    both = middle is not None and low is not None and high is not None
    return Difference(
        temperature, middle, low, high, sizes.times(1 / 13.0), sizes.times(1 / 0.0814),
        0.999 if both else None, resolved,
        Span(54 / middle, 54 / high, 54 / low) if both and low > 0 else Span(None, None, None),
        "",
    )  # fmt: skip


def speed(rig, temperature, width, layer):
    section = float(bead_section_mm2(width, layer))
    flow = 0.9 * TRUE[rig][temperature]
    middle = flow / section
    return SpeedRow(
        rig, STUFF, temperature, width, layer, section, middle, 0.97 * middle, 1.03 * middle,
        flow / (width * layer),
    )  # fmt: skip


def setting(rig, temperature):
    ceiling = TRUE[rig][temperature]
    watts = 30.0 if rig == OLD else 45.0
    return SpeedSetting(rig, STUFF, temperature, ceiling, "interval", False, 0.9 * ceiling,
                        0.9 * ceiling / 2.405, watts / 3, watts, 1 / 3)  # fmt: skip


def loss_of(rig, temperature, flow):
    k = 9.0
    ratio = np.asarray(flow) / TRUE[rig][temperature]
    return 1 - (1 + (0.98**-k - 1) * ratio**k) ** (-1 / k)


def make_group(rig, rng, temperatures=TEMPERATURES, flows=FLOWS):
    grid = np.linspace(1.0, 23.0, 45)
    curves, deliveries, residuals, entries = [], [], [], []
    for t in temperatures:
        middle = loss_of(rig, t, grid)
        half = 0.003 + 0.02 * middle
        curves.append(Curve(rig, STUFF, t, grid, middle, middle - half, middle + half))
        deliveries.append(Delivery(rig, STUFF, t, 2.94, 0.006, 0.987, 0.004, "references"))
        for reference, flow in [(True, 4.0)] * 3 + [(False, q) for q in flows for _ in range(2)]:
            fitted = float(loss_of(rig, t, flow))
            noise = float(rng.normal(0, 0.005))
            loss = fitted + noise
            order = len(entries) + 1
            reading = Reading(
                rig, STUFF, t, flow, 600.0, round(1.764 * (1 - loss), 2),
                coupon=f"{rig[6].upper()}{order:02d}", replicate=1, reference=reference,
                note="simulated",
            )  # fmt: skip
            entries.append(ReadingEntry(reading, at="2031-04-02 10:15", loss=loss, u_loss=0.006))
            residuals.append(Residual(reading.coupon, t, flow, loss, 0.006, fitted, noise / 0.005))
    law = Law(
        rig, STUFF, 21.4, 0.6, 148.0, 4.0, 0.9, 23.0, 0.41, True,
        "One thermal length and one softening temperature describe all three ceilings (p = 0.41).",
    )  # fmt: skip
    group = GroupFit(
        rig, STUFF, 0.0051, 66.0, 0.37, tuple(residuals), tuple(curves),
        tuple(deliveries), law, ("No outliers stand out.",),
        method="any rising loss", sampling=Sampling(2300, 0.006),
    )  # fmt: skip
    return group, entries


def make_ceilings(rig, half=0.3):
    return [
        Ceiling(rig, STUFF, t, 0.02, TRUE[rig][t], TRUE[rig][t] - half, TRUE[rig][t] + half,
                "interval")
        for t in TEMPERATURES
    ]  # fmt: skip


def make_law(rig):
    slope = (TRUE[rig][230.0] - TRUE[rig][210.0]) / 20.0
    out = []
    for t in np.arange(200.0, 241.0, 2.5):
        middle = TRUE[rig][220.0] + slope * (t - 220.0)
        beyond = t < 210.0 or t > 230.0
        half = 0.25 + 0.03 * max(0.0, abs(t - 220.0) - 10.0)
        out.append(
            Ceiling(rig, STUFF, float(t), 0.02, middle, middle - half, middle + half, "interval",
                    extrapolated=bool(beyond), basis="law")
        )  # fmt: skip
    return out


BUDGET = Budget(
    lines=(
        BudgetLine("readability of gross", "B", "rectangular", 0.005, 3**0.5, "g", 0.0029, 0.57,
                   0.00164, float("inf")),
        BudgetLine("readability of tare", "B", "rectangular", 0.005, 3**0.5, "g", 0.0029, 0.57,
                   0.00164, float("inf")),
        BudgetLine("repeatability", "A", "normal", 0.008, 1.0, "g", 0.008, 0.57, 0.0045, 9.0),
        BudgetLine("filament diameter along the spool", "B", "rectangular", 0.02, 3**0.5, "mm",
                   0.0115, 1.14, 0.0062, float("inf")),
    ),
    combined_u=0.0080, effective_dof=90.0, coverage_factor=1.99, expanded_u=0.0159,
)  # fmt: skip


@pytest.fixture(scope="session")
def report_data():
    """A finished comparison of two rigs at three temperatures."""
    rng = np.random.default_rng(20)
    old, old_entries = make_group(OLD, rng)
    new, new_entries = make_group(NEW, rng)
    entries = [
        dataclasses.replace(entry, order=i) for i, entry in enumerate(old_entries + new_entries, 1)
    ]
    lost = entries[9]
    entries[9] = dataclasses.replace(
        lost, state="voided", reason="strand touched the fan shroud", loss=(lost.loss or 0) + 0.06
    )
    typed = entries[30]
    entries.append(
        dataclasses.replace(
            typed, state="superseded", reason="typed 1.27 for 1.72", loss=0.09, order=typed.order
        )
    )
    zone = HotEnd(heater_v=24.0, heater_w=40.0, melt_zone_mm=12.5, bore_mm=2.0, nozzle_mm=0.4,
                  temperature_limit_c=260.0, ptfe_in_melt_zone=False)  # fmt: skip
    stock = Rig(
        name=OLD, frame="moving bed", hot_end=zone, simulated=True,
        motion=Motion(max_speed_mm_s=AxisLimits(x=300.0, y=300.0, z=12.0)),
    )  # fmt: skip
    long = stock.model_copy(
        update={
            "name": NEW,
            "parent": OLD,
            "price": 54.0,
            "currency": "EUR",
            "mass_g": 11.0,
            "supplied_by": "bought by the workshop at full price",
            "hot_end": zone.model_copy(update={"melt_zone_mm": 20.0, "heater_w": 60.0}),
        }
    )
    pla = Material(
        name=STUFF, density_g_cm3=1.24, min_temperature_c=190.0, max_temperature_c=245.0,
        fumes_note="Ventilate the room.", source="invented for the demo", simulated=True,
    )  # fmt: skip
    spec = TrialSpec(
        question="Does the long melt zone deliver more than the stock hot end, same nozzle, "
        "same PLA?",
        baseline=OLD, candidate=NEW, material=STUFF, temperatures_c=TEMPERATURES,
        flows_mm3_s=FLOWS, reference_flow_mm3_s=4.0, replicates=2, references_per_block=3,
        balance=Balance(readability_g=0.01, repeatability_g=0.008, repeatability_dof=9), seed=20,
    )  # fmt: skip
    coupons = tuple(
        Coupon(e.reading.coupon or "", e.reading.rig, e.reading.temperature_c,
               e.reading.flow_mm3_s, 600.0, 1, e.reading.reference, i, 1 + (i - 1) // 19,
               1 + (i - 1) // 19)
        for i, e in enumerate(entries[:-1], 1)
    )  # fmt: skip
    plan = Plan(
        spec=spec, coupons=coupons, budget=BUDGET, power=Power(0.42, 220.0, 15.0),
        filament_mm=600.0, replicates=2, references_per_block=3,
        total_filament_mm=600.0 * len(coupons), total_mass_g=204.0, duration_s=5.2 * 3600,
        plates=6, notes=("The filament diameter dominates: measure it per coupon to do better.",),
        digest="3f9a" * 16,
    )  # fmt: skip
    layers, widths = (0.12, 0.2, 0.28), (0.4, 0.44, 0.5, 0.6)
    speeds = tuple(
        speed(rig, t, w, h)
        for rig in (OLD, NEW) for t in TEMPERATURES for w in widths for h in layers
    )  # fmt: skip
    return ReportData(
        question=spec.question,
        rigs=(stock, long),
        candidate=NEW,
        material=pla,
        generated_at=date(2031, 4, 3),
        spec=spec,
        plan=plan,
        entries=tuple(entries),
        groups=(old, new),
        ceilings=tuple(make_ceilings(OLD) + make_ceilings(NEW, 0.5)),
        law_ceilings=tuple(make_law(OLD) + make_law(NEW)),
        differences=tuple(
            difference(
                t,
                TRUE[NEW][t] - TRUE[OLD][t],
                TRUE[NEW][t] - TRUE[OLD][t] - 0.58,
                TRUE[NEW][t] - TRUE[OLD][t] + 0.58,
            )
            for t in TEMPERATURES
        ),
        speeds=speeds,
        speed_settings=tuple(setting(rig, t) for rig in (OLD, NEW) for t in TEMPERATURES),
        amendments=(
            Amendment(
                datetime(2031, 4, 2, 12, 40, tzinfo=UTC),
                "Two coupons added at 220 °C, 14.2 mm³/s.",
                "to narrow the interval of the stock hot end",
            ),
        ),
        versions={"beadworth": "0.1.0", "numpy": "2.4.6"},
        simulated=True,
    )


def with_prediction(data, **known):
    """The trial with what the melt model says of its rigs; ``known`` goes into the polymer."""
    from few_draws import few_draws

    from beadworth.material import generic
    from beadworth.workflow.predicted import predicted_rigs

    polymer = generic("PLA").model_copy(update={"name": STUFF, **known})
    with few_draws():
        found = predicted_rigs(data.rigs, polymer, data.ceilings, 0.02)
    return dataclasses.replace(data, section_data={"predicted": (found,)})
