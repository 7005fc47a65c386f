"""Witness prints in figures: programs, what they separate, how well thresholds hold.

python benchmarks/witness_prints.py             prints the tables of docs/explanation/witness.md
python benchmarks/witness_prints.py --rigs 100 --ladders 500 --graders 2000
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections import Counter

import numpy as np
import witness_graders
from machine import machine
from scipy.stats import beta
from witness_rigs import MATERIAL, RIG, cases

from beadworth.core import LimitError
from beadworth.witness import KINDS, WitnessSpec, make_witness
from beadworth.witness.pair import chance_to_see, judge_pair, walls_of
from beadworth.witness.separate import MOST_SURE, separate
from beadworth.witness.threshold import expected_width


def question(kind: str) -> WitnessSpec:
    return WitnessSpec(kind=kind, temperature_c=215, ceiling_mm3_s=12.0)


def programs() -> None:
    print("| witness | bands | g | min | lines | processor s | drafts |")
    print("| --- | --: | --: | --: | --: | --: | --: |")
    for kind in KINDS:
        spent = []
        for _ in range(3):
            start = time.process_time()
            made = make_witness(question(kind), RIG, MATERIAL)
            spent.append(time.process_time() - start)
        lines = made.text.count("\n")
        print(f"| {kind} | {len(made.bands)} | {made.mass_g:.1f} | {made.minutes:.0f} | {lines} | "
              f"{statistics.median(spent):.2f} | {made.drafts} |")  # fmt: skip


def drawn(rigs: int) -> None:
    made, refused, why, slowest = Counter(), Counter(), Counter(), 0.0
    for _, rig, spec in cases(rigs):
        start = time.process_time()
        try:
            make_witness(spec, rig, MATERIAL)
            made[spec.kind] += 1
        except LimitError as error:
            refused[spec.kind] += 1
            first = error.problems[0]
            field = getattr(first.path, "field", None) if first.path else None
            why[".".join(map(str, field)) if field else "a band misses its claim"] += 1
        slowest = max(slowest, time.process_time() - start)
    print("| witness | made | refused |")
    print("| --- | --: | --: |")
    for kind in KINDS:
        print(f"| {kind} | {made[kind]} | {refused[kind]} |")
    said = ", ".join(f"{name} {count}" for name, count in why.most_common())
    print(f"\nRefused for: {said}. Slowest {slowest:.2f} s of processor time.")


def thresholds(count: int) -> None:
    rng = np.random.default_rng(21)
    start = time.process_time()
    rows = np.array([witness_graders.holds(rng) for _ in range(count)])
    spent = (time.process_time() - start) / count
    holds, uncrossed, apart = rows.T
    print("| ladders | count | hold the truth |")
    print("| --- | --: | --: |")
    for name, chosen in (
        ("all", np.ones(count, bool)), ("never crossed", uncrossed), ("cleanly apart", apart)
    ):  # fmt: skip
        print(f"| {name} | {chosen.sum()} | {100 * holds[chosen].mean():.1f} % |")
    print(f"\n{1e3 * spent:.0f} ms each.")


def designs() -> None:
    print("| bands | graders | looks | width, bands | share of the ladder |")
    print("| --: | --: | --: | --: | --: |")
    for bands, graders, looks in ((12, 1, 1), (12, 1, 2), (12, 3, 1), (12, 6, 1), (24, 3, 1)):
        width = expected_width(bands, graders, looks)
        print(f"| {bands} | {graders} | {looks} | {width:.1f} | {100 * width / bands:.0f} % |")


def separation(count: int) -> None:
    made = make_witness(question("melt or motion"), RIG, MATERIAL)
    flow, speed = (
        np.array([band.settings[n] for band in made.bands]) for n in ("flow_mm3_s", "speed_mm_s")
    )
    rng = np.random.default_rng(8)
    print("| cause | graders | named right | cannot tell | named wrong |")
    print("| --- | --: | --: | --: | --: |")
    above: list[bool] = []
    for cause, runs in (
        ("melt", count // 2), ("motion", count // 2), ("both", count // 4), ("neither", count // 4)
    ):  # fmt: skip
        found = [
            separate({"a": witness_graders.one_grader(rng, cause, flow, speed)})
            for _ in range(runs)
        ]
        said = Counter(one.cause for one in found)
        above += [one.cause != cause for one in found if max(one.probability.values()) >= MOST_SURE]
        wrong = runs - said[cause] - said[None]
        shares = " | ".join(f"{100 * n / runs:.1f} %" for n in (said[cause], said[None], wrong))
        print(f"| {cause} | {runs} | {shares} |")
    most = beta.ppf(0.95, sum(above) + 1, len(above) - sum(above))
    print(
        f"\nNamed with {MOST_SURE:g} or more: {len(above)}, of which wrong {sum(above)}, "
        f"so at most {100 * most:.2f} % (exact one-sided 95 % limit)."
    )


def pair(count: int = 4000) -> None:
    made = make_witness(question("weighed pair"), RIG, MATERIAL)
    walls = walls_of(made)
    slow, fast = sorted(walls, key=lambda code: walls[code].flow_mm3_s)
    share = walls[fast].share
    rng = np.random.default_rng(3)
    print("| loss | said 'melt' | by the formula |")
    print("| --: | --: | --: |")
    for loss in (0.0, 0.02, 0.036, 0.05):
        seen = 0
        for _ in range(count):
            masses = {slow: walls[slow].mass_g, fast: walls[fast].mass_g * (1 - loss * share)}
            masses = {
                c: m * (1 + 0.005 * rng.normal()) + 0.001 * rng.normal() for c, m in masses.items()
            }
            seen += judge_pair(walls, masses).cause == "melt"
        formula = 100 * chance_to_see(loss, share=share)
        print(f"| {100 * loss:.1f} % | {100 * seen / count:.1f} % | {formula:.1f} % |")
    print(f"\n{100 * share:.0f} % of the faster wall is laid at its own flow.")


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--rigs", type=int, default=100)
    asked.add_argument("--ladders", type=int, default=500)
    asked.add_argument("--graders", type=int, default=2000)
    given = asked.parse_args()
    print(machine())
    for title, work in (
        ("Programs", programs),
        ("Drawn rigs", lambda: drawn(given.rigs)),
        ("Thresholds", lambda: thresholds(given.ladders)),
        ("Designs", designs),
        ("Melt or motion, one print and one grader", lambda: separation(given.graders)),
        ("Weighed pair", pair),
    ):
        print(f"\n{title}\n")
        work()


if __name__ == "__main__":
    main()
