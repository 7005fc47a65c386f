"""The melt model against published hot-end figures, and how wide its intervals are.

    python benchmarks/melt_published.py           the tables
    python benchmarks/melt_published.py --draw    writes docs/img/melt-*.svg instead

Prints Markdown tables; docs/explanation/melt.md quotes them. Sources stand in
tests/melt/data/hot_end_published.csv and in the docstrings below.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
from machine import machine
from melt_fit import CEILINGS, FORCES, ROUNDED, TRADE, Model, fit, rms

from beadworth.core import LOSS
from beadworth.material.library import GENERIC
from beadworth.melt import (
    MeasuredCeiling,
    Prediction,
    Scales,
    calibrate,
    channel_of,
    grip_of,
    loss_share,
    predict,
    push_of,
)
from beadworth.melt.ceilings import ceiling_mm3_s as slip_mm3_s
from beadworth.melt.heat import Properties, march, properties_of
from beadworth.melt.scales import COMPONENTS, MODEL_PER_HOT_END, MODEL_PER_LN_NOZZLE, own_u
from beadworth.melt.terms import Terms
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
FIRST_FLOW_C = {("PLA", 0.4): 141.8, ("PLA", 0.8): 136.6, ("ABS", 0.4): 166.6, ("ABS", 0.8): 154.4}
"""doi:10.1007/s40192-024-00350-w, Table 4; forces and ceilings of the same paper: melt_fit.py."""
ABS, PLA = GENERIC["ABS"], GENERIC["PLA"]


def exit_k(feed_mm_min: float, zone_mm: float) -> float:
    """Axis temperature at the outlet, K."""
    run = march(properties_of(ABS), wall_c=249.85, inlet_c=24.85, cells=80, rows=320)
    flow = feed_mm_min / 60 * math.pi  # bore 2 mm, mm³/s
    return float(np.interp(math.pi * zone_mm / flow * 1e6, run.xi, run.core)) + 273.15


def rig(zone_mm: float, nozzle_mm: float = 0.4, grip_n: float | None = None, **hot_end: Any) -> Rig:
    """A nozzle behind a melt zone; a drive nobody measured."""
    return Rig(
        name="bench",
        hot_end=HotEnd(melt_zone_mm=zone_mm, bore_mm=2.0, nozzle_mm=nozzle_mm, **hot_end),
        extruder=Extruder(grip_force_n=grip_n),
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
    """Flows that ABS passes at the lowest temperature, with the program's values."""
    made = Model(ROUNDED).published_ceilings()
    print("| °C | published flow mm³/s | model mm³/s | difference |")
    print("| --: | --: | --: | --: |")
    for celsius, flow in CEILINGS.items():
        there = made[celsius]
        print(f"| {celsius:g} | {flow:g} | {there:.1f} | {there / flow - 1:+.0%} |")
    print()


def first_flow() -> None:
    """Fitted temperature of first flow (same paper) beside the generic softening."""
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
    """How push force grows with flow: all sets fitted, and each left out of the fit in turn."""
    everything, out = Model(ROUNDED), []
    print("| polymer | nozzle mm | °C | flow mm³/s | published | model | ÷ published | left out |")
    print("| --- | --: | --: | --: | --: | --: | --: | --: |")
    for one, row in FORCES.items():
        without = Model(fit(*(other for other in FORCES if other != one)))
        out += without.misses(one)
        lowest = min(row)
        apart = without.multiples(one)
        for flow, multiple in sorted(everything.multiples(one).items()):
            wanted = row[flow] / row[lowest]
            print(
                f"| {one[0]} | {one[1]:g} | {one[2]:g} | {flow:g} | {wanted:.1f} | {multiple:.1f} "
                f"| {multiple / wanted:.2f} | {apart[flow] / wanted:.2f} |"
            )
    inside = everything.misses()
    print("\n| | rms of ln | farthest off |")
    print("| --- | --: | --: |")
    for words, misses in (("all sets in the fit", inside), ("each left out in turn", out)):
        print(f"| {words} | {rms(misses):.2f} | × {math.exp(max(map(abs, misses))):.2f} |")
    print()


def left_out_terms() -> None:
    """What each term does, with all values as they are: the misses without it."""
    print("| without | rms of ln multiples | PLA 0.25/0.4/0.8 mm, mm³/s | ABS at 155 and 225 °C |")
    print("| --- | --: | --: | --: |")
    for name in ("", *(f.name for f in fields(Terms))):
        model = Model(ROUNDED, Terms(**{name: False}) if name else Terms())
        ceilings = [model.ceiling("PLA", n, 220.0, 60.0, 20.0) for n in (0.25, 0.4, 0.8)]
        of_abs = model.published_ceilings()
        print(
            f"| {name.replace('_', ' ') or 'nothing'} | {rms(model.misses()):.2f} "
            f"| {' / '.join(f'{q:.1f}' for q in ceilings)} "
            f"| {of_abs[155.0]:.1f} and {of_abs[225.0]:.1f} |"
        )
    print()


def trade_facts() -> None:
    """PLA on 20 mm: the ceiling at which the drive slips, times one free factor."""
    made = Model(ROUNDED).trade()
    off = [made[t] / TRADE[t] for t in TRADE]
    factor = 1.0 / math.sqrt(max(off) * min(off))
    print("| °C | common practice mm³/s | drive slips at | × free factor | difference |")
    print("| --: | --: | --: | --: | --: |")
    for celsius, flow in TRADE.items():
        there = factor * made[celsius]
        print(
            f"| {celsius:g} | {flow:g} | {made[celsius]:.1f} | {there:.1f} "
            f"| {there / flow - 1:+.1%} |"
        )
    print(f"\nFree factor: {factor:.2f}; a loss of 2 % is taken at {loss_share(0.02):.2f} of it.\n")


def directions() -> None:
    """Ceilings over nozzle and temperature, melt zone, grip and channels; PLA."""
    nozzles = (0.25, 0.4, 0.6, 0.8, 1.2)
    print("| °C | " + " | ".join(f"{n:g} mm" for n in nozzles) + " |")
    print("| --: |" + " --: |" * len(nozzles))
    for celsius in (190, 205, 220, 235):
        row = [predict(rig(20.0, n), PLA, celsius, draws=1).ceiling_mm3_s for n in nozzles]
        print(f"| {celsius} | " + " | ".join(f"{q:.1f}" for q in row) + " |")
    print()
    split = {"bore_kind": "channels", "wetted_perimeter_mm": 9.0, "bore_section_mm2": 2.4}
    print("| what, PLA, 0.4 mm, 220 °C | ceiling mm³/s |")
    print("| --- | --: |")
    for words, one in (
        ("melt zone 10 mm", rig(10.0)), ("melt zone 20 mm", rig(20.0)),
        ("melt zone 40 mm", rig(40.0)), ("grip 30 N", rig(20.0, grip_n=30.0)),
        ("grip 60 N", rig(20.0, grip_n=60.0)), ("grip 120 N", rig(20.0, grip_n=120.0)),
        ("several channels, perimeter 9 mm, section 2.4 mm²", rig(20.0, **split)),
    ):  # fmt: skip
        print(f"| {words} | {predict(one, PLA, 220, draws=1).ceiling_mm3_s:.1f} |")
    print()


def shares() -> None:
    """What the interval from the drawing is made of, and what would narrow it."""
    found = predict(rig(20.0), PLA, 220)
    print("| input | share of the variance |")
    print("| --- | --: |")
    for one in found.shares:
        print(f"| {one.of} | {one.share:.0%} |")
    print("\n| measurement | width after it |")
    print("| --- | --: |")
    for done in found.measurements:
        print(f"| {done.name} | {done.width:.0%} |")
    print()


def invented_trial() -> Scales:
    """PLA on the 20 mm melt zone with a 0.4 mm nozzle; u 0.15 mm³/s, invented."""
    points = [MeasuredCeiling(t, q, 0.15) for t, q in ((210, 12.4), (230, 15.2))]
    return calibrate(rig(20.0), PLA, points)


def intervals() -> None:
    """Flow at 2 % loss from the drawing, and after an invented trial."""
    scales = invented_trial()
    print("| polymer | melt zone mm | nozzle mm | °C | from the drawing | 95 % | ± "
          "| after the trial | 95 % | ± |")  # fmt: skip
    print("| --- | --: | --: | --: | --: | --: | --: | --: | --: | --: |")
    for name, zone, nozzle, temperatures in (
        ("PLA", 20.0, 0.4, (190, 220, 240)),
        ("PLA", 20.0, 0.25, (220,)),
        ("PLA", 20.0, 0.6, (220,)),
        ("PLA", 12.5, 0.4, (220,)),
        ("PLA", 30.0, 0.4, (220,)),
        ("ABS", 20.0, 0.4, (250,)),
        ("PETG", 20.0, 0.4, (240,)),
    ):
        for celsius in temperatures:
            a = predict(rig(zone, nozzle), GENERIC[name], celsius)
            b = predict(rig(zone, nozzle), GENERIC[name], celsius, scales=scales)
            print(
                f"| {name} | {zone:g} | {nozzle:g} | {celsius} | {_interval(a)} | {_interval(b)} |"
            )
    print()


def _interval(one: Prediction) -> str:
    half = (one.at_loss_high - one.at_loss_low) / 2 / one.at_loss_mm3_s
    return f"{one.at_loss_mm3_s:.1f} | {one.at_loss_low:.1f} to {one.at_loss_high:.1f} | {half:.0%}"


def coverage(worlds: int = 150) -> None:
    """How often the interval carried elsewhere holds the truth, where the model's form is right.

    Worlds are drawn from what is assumed of polymer, hot end, nozzle, drive and model; a trial at
    three temperatures is made on one rig, and another temperature, nozzle, hot end or polymer is
    predicted.
    """
    draw = np.random.default_rng(5)
    held = dict.fromkeys(("another temperature", "another nozzle", "another hot end"), 0)
    for _ in range(worlds):
        truth = {name: draw.standard_normal() for name in COMPONENTS}
        fresh = {name: draw.standard_normal() for name in COMPONENTS}
        first = rig(20.0)
        points = [
            MeasuredCeiling(
                t, _true(first, t, truth) * (1 + 0.012 * e), 0.012 * _true(first, t, truth)
            )
            for t, e in zip((205.0, 220.0, 235.0), draw.standard_normal(3), strict=True)
        ]
        taught = calibrate(first, PLA, points)
        for what, other, celsius, anew in (
            ("another temperature", first, 195.0, ()),
            ("another nozzle", rig(20.0, 0.6), 220.0, ("nozzle_force",)),
            ("another hot end", rig(30.0), 220.0, ("hot_end_heat", "hot_end_wall")),
        ):
            here = truth | {name: fresh[name] for name in anew}
            got = predict(other, PLA, celsius, scales=taught, draws=400)
            true = _true(other, celsius, here)
            apart = {
                "another nozzle": MODEL_PER_LN_NOZZLE * math.log(1.5),
                "another hot end": MODEL_PER_HOT_END,
            }
            true *= math.exp(apart.get(what, 0.0) * fresh["model"])
            held[what] += got.at_loss_low <= true <= got.at_loss_high
    print("| carried to | intervals that hold the truth |")
    print("| --- | --: |")
    for what, count in held.items():
        print(f"| {what} | {count / worlds:.1%} |")
    print(f"\n{worlds} worlds; 95 % ± {196 * math.sqrt(0.95 * 0.05 / worlds):.1f} % is the scatter "
          "of such a count.\n")  # fmt: skip


def _true(one: Rig, celsius: float, normals: dict[str, float]) -> float:
    """Flow at 2 % loss of a rig whose unknowns are these many standard uncertainties off."""
    channel, _ = channel_of(one)
    u = own_u(one, PLA) | {"hot_end_heat": 0.17}
    scales = Scales(tuple(u[name] * normals[name] for name in COMPONENTS))
    return loss_share(LOSS) * slip_mm3_s(channel, PLA, celsius, grip_of(one)[0], scales)


def speed() -> None:
    """Time of one prediction without draws, of 2,000 draws, of a push force and a calibration."""
    bench = rig(20.0)
    matrix = np.random.default_rng(1).random((300, 300))
    predict(bench, PLA, 220, draws=2)
    svd = _best_ms(lambda: np.linalg.svd(matrix))

    def push() -> None:
        push_of.cache_clear()
        push_of(channel_of(bench)[0], PLA, 220.0, 12.0)

    print("| what | ms (best of 5) | ÷ yardstick | bar |")
    print("| --- | --: | --: | --: |")
    print(f"| yardstick: numpy SVD 300 × 300 | {svd:.1f} | 1.0 | |")
    for words, bar, work in (
        ("one prediction, one draw", "20 ms", lambda: predict(bench, PLA, 220, draws=1)),
        ("one prediction, 2,000 draws", "5000 ms", lambda: predict(bench, PLA, 220, draws=2000)),
        ("the push force of a fit check", "100 ms", push),
        ("a calibration with two ceilings", "", invented_trial),
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


def draw() -> None:
    """The pictures of the explanation: PLA at 220 °C, melt zones of 12.5 and 21 mm."""
    from beadworth.melt import flows_up_to, inside_at, over_flow, over_nozzle
    from beadworth.report import force_chart, inside_chart, nozzle_chart, shares_chart
    from beadworth.report.charts.chart import render_svg

    short, long = rig(12.5), rig(21.0)
    rigs = [
        one.model_copy(update={"name": f"{one.hot_end.melt_zone_mm:g} mm"}) for one in (short, long)
    ]
    made = {one.name: predict(one, PLA, 220) for one in rigs}
    tops = {name: found.ceiling_mm3_s for name, found in made.items()}
    flows = flows_up_to(1.2 * max(tops.values()))
    charts = (
        inside_chart(
            {one.name: inside_at(one, PLA, 220, tops[one.name]) for one in rigs}, temperature_c=220
        ),
        force_chart(
            {one.name: over_flow(one, PLA, 220, flows) for one in rigs}, tops,
            {name: found.grip_n for name, found in made.items()}, temperature_c=220,
            assumed=list(made),
        ),
        shares_chart(made[rigs[-1].name]),
        nozzle_chart(
            {one.name: over_nozzle(one, PLA, 220, (0.25, 0.4, 0.6, 0.8, 1.2)) for one in rigs},
            temperature_c=220,
        ),
    )  # fmt: skip
    for chart in charts:
        assert chart is not None
        path = Path(__file__).parents[1] / "docs" / "img" / f"melt-{chart.name}.svg"
        path.write_text(render_svg(chart, width_px=720, title=True))


if __name__ == "__main__":
    if "--draw" in sys.argv:
        draw()
        sys.exit()
    convergence()
    published()
    lowest_temperatures()
    first_flow()
    relative_force()
    left_out_terms()
    trade_facts()
    directions()
    shares()
    intervals()
    coverage()
    speed()
