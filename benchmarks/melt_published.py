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
from beadworth.melt.predict import heat_ceiling_mm3_s
from beadworth.melt.scales import CONTACT_U, LENGTH_U, WALL_U_C, Scales
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


def rig(zone_mm: float, nozzle_mm: float = 0.4) -> Rig:
    """A nozzle behind a melt zone."""
    return Rig(
        name="bench",
        hot_end=HotEnd(melt_zone_mm=zone_mm, bore_mm=2.0, nozzle_mm=nozzle_mm),
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
    """Predicted ceilings from the drawing, and after a trial of PLA on the 20 mm melt zone."""
    scales = calibrate(
        rig(20.0),
        GENERIC["PLA"],
        [MeasuredCeiling(t, q, 0.15) for t, q in ((210, 12.4), (230, 15.2))],
    )
    print("| polymer | melt zone mm | nozzle mm | °C | from the drawing | 95 % | after the trial |"
          " 95 % | width |")  # fmt: skip
    print("| --- | --: | --: | --: | --: | --: | --: | --: | --: |")
    for name, zone, nozzle, temperatures in (
        ("PLA", 20.0, 0.4, (190, 210, 220, 230, 240)),
        ("PLA", 20.0, 0.25, (220,)),
        ("PLA", 12.5, 0.4, (220,)),
        ("PLA", 30.0, 0.4, (220,)),
        ("ABS", 20.0, 0.4, (250,)),
        ("PETG", 20.0, 0.4, (240,)),
        ("PETG", 30.0, 0.4, (240,)),
    ):
        for celsius in temperatures:
            a = predict(rig(zone, nozzle), GENERIC[name], celsius)
            b = predict(rig(zone, nozzle), GENERIC[name], celsius, scales=scales)
            print(
                f"| {name} | {zone:g} | {nozzle:g} | {celsius} | {a.ceiling_mm3_s:.1f} "
                f"| {a.low:.1f} to {a.high:.1f} | {b.ceiling_mm3_s:.1f} | {b.low:.1f} to "
                f"{b.high:.1f} | {(b.high - b.low) / b.ceiling_mm3_s:.0%} |"
            )
    print()


def coverage(worlds: int = 400) -> None:
    """How often the 95 % interval carried to another hot end, or polymer, holds the truth.

    Worlds are drawn from what is assumed of polymer and hot end; a trial at three temperatures is
    made on one hot end, and another temperature, hot end or polymer is predicted.
    """
    draw = np.random.default_rng(5)
    pla, petg = GENERIC["PLA"], GENERIC["PETG"]
    held = {"another temperature": 0, "another hot end": 0, "another polymer": 0}
    for _ in range(worlds):
        softer, other = (
            Scales(math.exp(m.diffusivity_u * a), m.softening_u_c * b)  # type: ignore[operator]
            for m, (a, b) in zip((pla, petg), draw.standard_normal((2, 2)), strict=True)
        )
        first, second = (
            (1 + LENGTH_U * a, math.exp(CONTACT_U * b), WALL_U_C * c)
            for a, b, c in draw.standard_normal((2, 3))
        )
        taught = calibrate(
            rig(20.0),
            pla,
            [
                MeasuredCeiling(t, _true(20.0, pla, t, softer, first) + 0.15 * e, 0.15)
                for t, e in zip((205.0, 220.0, 235.0), draw.standard_normal(3), strict=True)
            ],
        )
        for what, zone, polymer, celsius, own, part in (
            ("another temperature", 20.0, pla, 195.0, softer, first),
            ("another hot end", 30.0, pla, 220.0, softer, second),
            ("another polymer", 20.0, petg, 240.0, other, first),
        ):
            got = predict(rig(zone), polymer, celsius, scales=taught, draws=400)
            held[what] += got.low <= _true(zone, polymer, celsius, own, part) <= got.high
    print("| carried to | intervals that hold the truth |")
    print("| --- | --: |")
    for what, count in held.items():
        print(f"| {what} | {count / worlds:.1%} |")
    print(f"\n{worlds} worlds; 95 % ± {196 * math.sqrt(0.95 * 0.05 / worlds):.1f} % is the scatter "
          "of such a count.\n")  # fmt: skip


def _true(
    zone: float, polymer: Material, celsius: float, own: Scales, part: tuple[float, float, float]
) -> float:
    """The ceiling of a hot end whose length, contact and wall are not what its record says."""
    length, contact, wall = part
    return heat_ceiling_mm3_s(
        rig(zone * length), polymer, celsius + wall, own, contact_factor=contact
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
    coverage()
    speed()
