"""The melt model against published hot-end figures, and how wide its intervals are.

Prints Markdown tables; docs/explanation/melt.md quotes them. Sources stand in
tests/melt/data/hot_end_published.csv and in the docstrings below.
"""

from __future__ import annotations

import math
import time

import numpy as np

from beadworth.material import Material
from beadworth.material.library import GENERIC
from beadworth.melt import MeasuredCeiling, calibrate, predict
from beadworth.melt.heat import march, properties_of
from beadworth.rig import Extruder, HotEnd, Rig

# Ufodike and Nzebuka, Additive Manufacturing 49 (2022) 102502: ABS, bore 2 mm, wall 523 K,
# inlet 298 K; exit temperature on the axis, K, computed by the authors, read off a graph copied in
# a student's report (second-hand, about ± 0.5 K). Feed mm/min by melt zone mm.
EXIT_K = {
    60: {9.4: 521.6, 13.4: 522.8, 17.4: 523.0},
    120: {9.4: 508.3, 13.4: 517.2, 17.4: 520.7},
    180: {9.4: 488.3, 13.4: 505.2, 17.4: 513.5},
    240: {9.4: 466.5, 13.4: 490.0, 17.4: 503.0},
}
# The paper's specific heats at 298 and 523 K as a straight line; k from α = 1.37e-7 m²/s, which is
# inferred from its Péclet number, at the mean specific heat and 1050 kg/m³.
ABS = Material(
    name="ABS of the paper",
    density_g_cm3=1.05,
    min_temperature_c=220.0,
    max_temperature_c=270.0,
    conductivity_w_mk=1.37e-7 * 1050 * 1449.8,
    specific_heat_j_gk=1.2101 - 25 * 1.936e-3,
    specific_heat_slope=1.936e-3,
)


def exit_k(feed_mm_min: float, zone_mm: float) -> float:
    """Axis temperature at the outlet, K."""
    run = march(properties_of(ABS), wall_c=249.85, inlet_c=24.85, cells=80, rows=320)
    flow = feed_mm_min / 60 * math.pi  # bore 2 mm, mm³/s
    return float(np.interp(math.pi * zone_mm / flow * 1e6, run.xi, run.core)) + 273.15


def rig(zone_mm: float) -> Rig:
    """A 0.4 mm nozzle behind a melt zone."""
    return Rig(
        name="bench",
        hot_end=HotEnd(melt_zone_mm=zone_mm, bore_mm=2.0, nozzle_mm=0.4),
        extruder=Extruder(grip_force_n=60.0),
    )


def published() -> None:
    """Exit temperatures beside the published ones."""
    print("| feed mm/min | melt zone mm | published K | model K | difference |")
    print("| --: | --: | --: | --: | --: |")
    worst = 0.0
    for feed, row in EXIT_K.items():
        for zone, value in row.items():
            got = exit_k(feed, zone)
            worst = max(worst, abs(got - value))
            print(f"| {feed} | {zone} | {value} | {got:.1f} | {got - value:+.1f} |")
    print(f"\nLargest difference: {worst:.1f} K\n")


def intervals() -> None:
    """Predicted ceilings of generic PLA, before and after calibration by a trial."""
    pla = GENERIC["PLA"]
    scales = calibrate(
        rig(20.0), pla, [MeasuredCeiling(t, q, 0.15) for t, q in ((210, 12.4), (230, 15.2))]
    )
    print("| melt zone mm | °C | from the drawing | 95 % | after a trial on 20 mm | 95 % |")
    print("| --: | --: | --: | --: | --: | --: |")
    for zone in (12.5, 20.0, 30.0):
        for celsius in (210, 220, 230):
            a = predict(rig(zone), pla, celsius)
            b = predict(rig(zone), pla, celsius, scales=scales)
            print(
                f"| {zone:g} | {celsius} | {a.ceiling_mm3_s:.1f} | {a.low:.1f} to {a.high:.1f} "
                f"| {b.ceiling_mm3_s:.1f} | {b.low:.1f} to {b.high:.1f} |"
            )


def speed() -> None:
    """Time of one prediction without draws, and of 2,000 draws."""
    pla, bench = GENERIC["PLA"], rig(20.0)
    predict(bench, pla, 220, draws=2)
    for draws in (1, 2000):
        best = math.inf
        for _ in range(5):
            start = time.perf_counter()
            predict(bench, pla, 220, draws=draws)
            best = min(best, time.perf_counter() - start)
        print(f"\n{draws} draws: {best * 1000:.1f} ms (best of 5)")


if __name__ == "__main__":
    published()
    intervals()
    speed()
