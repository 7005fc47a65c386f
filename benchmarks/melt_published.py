"""The melt model against published hot-end figures, and how wide its intervals are.

Prints Markdown tables; docs/explanation/melt.md quotes them. Sources stand in
tests/melt/data/hot_end_published.csv and in the docstrings below.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
from machine import machine

from beadworth.material import Material
from beadworth.material.library import GENERIC
from beadworth.melt import MeasuredCeiling, calibrate, predict, state_at
from beadworth.melt.heat import Properties, march, properties_of
from beadworth.melt.scales import CONTACT_U, LENGTH_U, WALL_U_C, Scales
from beadworth.melt.state import heat_ceiling_mm3_s
from beadworth.rig import Extruder, HotEnd, Rig

# Additive Manufacturing 49 (2022) 102502: ABS, bore 2 mm, wall 523 K,
# inlet 298 K; exit temperature on the axis, K, computed by the authors, read off a graph copied in
# a student's report (second-hand, about ± 0.5 K). Feed mm/min by melt zone mm.
EXIT_K = {
    60: {9.4: 521.6, 13.4: 522.8, 17.4: 523.0},
    120: {9.4: 508.3, 13.4: 517.2, 17.4: 520.7},
    180: {9.4: 488.3, 13.4: 505.2, 17.4: 513.5},
    240: {9.4: 466.5, 13.4: 490.0, 17.4: 503.0},
}
# PUBLISHED: doi:10.1007/s40192-024-00350-w, 2024 (open access, read in the paper): measured while
# the block cooled until the drive slipped. ABS, 0.8 mm nozzle: lowest temperature that still passes
# a flow (Table 3); fitted temperature of first flow (Table 4); force at common flows over the
# largest (Table 5). The length of the melt zone is not given.
LOWEST_C = {155.0: 5.0, 167.0: 10.0, 181.0: 15.0, 201.0: 20.0, 225.0: 25.0}
FIRST_FLOW_C = {("PLA", 0.4): 141.8, ("PLA", 0.8): 136.6, ("ABS", 0.4): 166.6, ("ABS", 0.8): 154.4}
RELATIVE = {
    ("PLA", 0.4, 210): {15.0: 0.681, 7.2: 0.092, 4.05: 0.044, 2.25: 0.030},
    ("ABS", 0.4, 255): {11.0: 0.098, 7.2: 0.033, 4.05: 0.013, 2.25: 0.007},
    ("PLA", 0.8, 220): {18.0: 0.244, 12.6: 0.074, 9.0: 0.026},
    ("ABS", 0.8, 265): {18.0: 0.142, 12.6: 0.044, 9.0: 0.018},
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


def convergence() -> None:
    """Mean temperature left at Fourier number 0.2 against the exact series, grid by grid."""
    exact = {"parabolic": 0.395298781, "plug": 0.21785245}  # check values, 30-digit series
    at = {"parabolic": (1.0, 0.2), "plug": (0.0, 0.2)}
    unit = Properties(np.ones(251), np.ones(251))
    print("| cells × rows | parabolic: error | order | plug: error | order |")
    print("| --- | --: | --: | --: | --: |")
    before: dict[str, float] = {}
    for cells in (20, 40, 80, 160):
        row = f"| {cells} × {2 * cells} "
        for profile, (index, fourier) in at.items():
            run = march(
                unit, wall_c=0.0, inlet_c=1.0, profile_index=index, cells=cells, rows=2 * cells,
                fourier_end=fourier,
            )  # fmt: skip
            error = abs(run.bulk[-1] - exact[profile])
            order = f"{math.log2(before[profile] / error):.2f}" if profile in before else "–"
            before[profile] = error
            row += f"| {error:.1e} | {order} "
        print(f"{row}|")
    print()


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


def lowest_temperatures() -> None:
    """Lowest temperature that passes a flow (PUBLISHED), with two unknowns fitted."""
    from scipy.optimize import least_squares

    celsius, flow = (np.array(row) for row in zip(*LOWEST_C.items(), strict=True))

    def model(x: np.ndarray) -> np.ndarray:
        scales = Scales(math.exp(x[0]), x[1])
        made = [heat_ceiling_mm3_s(rig(20.0, 0.8), GENERIC["ABS"], t, scales) for t in celsius]
        return np.array(made)

    start = [0.0, -20.0]
    fit = least_squares(lambda x: model(x) - flow, start, diff_step=1e-4, x_scale=[0.1, 5.0])
    print("| °C | published flow mm³/s | model mm³/s | difference |")
    print("| --: | --: | --: | --: |")
    for t, q, m in zip(celsius, flow, model(fit.x), strict=True):
        print(f"| {t:g} | {q:g} | {m:.1f} | {m - q:+.1f} |")
    softening = GENERIC["ABS"].softening_c + fit.x[1]
    print(f"\nFitted: as a melt zone of {20 * math.exp(fit.x[0]):.1f} mm with softening at "
          f"{softening:.0f} °C.\n")  # fmt: skip


def first_flow() -> None:
    """Fitted temperature of first flow (PUBLISHED) beside the generic softening."""
    print("| polymer | nozzle mm | first flow °C | softening °C (u) | difference |")
    print("| --- | --: | --: | --: | --: |")
    for (name, nozzle), value in FIRST_FLOW_C.items():
        own = GENERIC[name]
        print(
            f"| {name} | {nozzle} | {value} | {own.softening_c:g} ({own.softening_u_c:g}) "
            f"| {own.softening_c - value:+.0f} |"
        )
    print()


def relative_force() -> None:
    """How force grows with flow (PUBLISHED, relative pressure), for two melt zones."""
    print("| polymer | nozzle mm | °C | flow mm³/s | published | model, 10 mm | model, 20 mm |")
    print("| --- | --: | --: | --: | --: | --: | --: |")
    for (name, nozzle, celsius), row in RELATIVE.items():
        low = min(row)
        for flow, pressure in row.items():
            told = [
                state_at(rig(zone, nozzle), GENERIC[name], celsius, flow).force_n
                / state_at(rig(zone, nozzle), GENERIC[name], celsius, low).force_n
                for zone in (10.0, 20.0)
            ]
            print(
                f"| {name} | {nozzle} | {celsius} | {flow} | {pressure / row[low]:.1f} "
                f"| {told[0]:.1f} | {told[1]:.1f} |"
            )
    print()


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
    """Time of one prediction without draws, of 2,000 draws, and of a calibration."""
    pla, bench = GENERIC["PLA"], rig(20.0)
    matrix = np.random.default_rng(1).random((300, 300))
    points = [MeasuredCeiling(t, q, 0.15) for t, q in ((210, 12.4), (230, 15.2))]
    predict(bench, pla, 220, draws=2)
    svd = _best_ms(lambda: np.linalg.svd(matrix))
    print("| what | ms (best of 5) | ÷ yardstick | bar |")
    print("| --- | --: | --: | --: |")
    print(f"| yardstick: numpy SVD 300 × 300 | {svd:.1f} | 1.0 | |")
    for words, bar, work in (
        ("one prediction, one draw", "20 ms", lambda: predict(bench, pla, 220, draws=1)),
        ("one prediction, 2,000 draws", "5000 ms", lambda: predict(bench, pla, 220)),
        ("a calibration with two ceilings", "", lambda: calibrate(bench, pla, points)),
    ):
        spent = _best_ms(work)
        print(f"| {words} | {spent:.1f} | {spent / svd:.1f} | {bar} |")
    print(f"\n{machine('numpy')}")


def _best_ms(work: Callable[[], object]) -> float:
    best = math.inf
    for _ in range(5):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best * 1e3


if __name__ == "__main__":
    convergence()
    published()
    lowest_temperatures()
    first_flow()
    relative_force()
    intervals()
    coverage()
    speed()
