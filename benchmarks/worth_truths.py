"""How often the interval of the hours saved holds the truth.

Trials of two rigs are simulated from the demo's stated truth, fitted, and the demo's solid
bracket is replayed under what was fitted and under the true ceilings. Printed: the share of
trials whose 95 % interval of the hours saved a year held the true hours.

Then break-even, on 4000 cases drawn at random: a true saving a year, a reading of it with its
uncertainty, a cost. Printed: how often a middle is told where the cost never comes back within 20
years, and how often the interval told holds the truth; as the draws have it, and as it is told.
Then how often one more option turns the order of two others, on either kind of scale.
Usage: python benchmarks/worth_truths.py [TRIALS] (0: without the trials)
"""

import sys
import time
from dataclasses import replace

import numpy as np
from machine import machine

from beadworth import capacity, demo
from beadworth.demo.worth import demo_prints
from beadworth.trial import plan
from beadworth.worth.buys import what_it_buys
from beadworth.worth.case import case_from_mapping
from beadworth.worth.describe import MOST_MONTHS, bounded
from beadworth.worth.estimate import Estimate, Money
from beadworth.worth.model import PrintTimes, WorthRequest
from beadworth.worth.monte_carlo import result_of
from beadworth.worth.options import Criterion, Effect, Option, compare_options
from beadworth.worth.times import times_on

RIGS = {rig.name: rig for rig in (demo.STOCK, demo.LONG_ZONE)}
CASE = {
    "name": "truth", "baseline": demo.STOCK.name, "candidate": demo.LONG_ZONE.name,
    "currency": "EUR", "prints": [{"file": "bracket.gcode", "per_year": 200}],
}  # fmt: skip


def fitted(seed):
    """A trial simulated from the demo's truth, and its fit."""
    spec = demo.FINISHED.model_copy(update={"seed": seed})
    rng = np.random.default_rng(seed)
    sheet = plan(spec, RIGS, demo.PLA).coupons
    readings = [demo.simulated_reading(coupon, demo.PLA.name, rng) for coupon in sheet]
    return capacity.fit(readings, rigs=RIGS, materials={demo.PLA.name: demo.PLA})


def true(fit):
    """The same fit with the ceilings the readings were drawn from, known exactly."""
    made = []
    for c in fit.ceilings:
        flow = demo.TRUE_CEILING_MM3_S[c.rig, c.temperature_c]
        made.append(replace(c, flow_mm3_s=flow, low=flow, high=flow, bound="interval"))
    return replace(fit, ceilings=tuple(made))


def hours(fit, text, feeds):
    """Hours saved a year under a fit."""
    case = case_from_mapping({**CASE, "feeds": feeds}, "truth")
    sides = [times_on(text, rig, fit, feeds, fit_rig=rig.name) for rig in RIGS.values()]
    asked = WorthRequest(case, (PrintTimes("bracket.gcode", *sides),), Estimate(value=0.0), "EUR")
    return what_it_buys(asked, most_batches=4).hours_saved_per_year


def break_even_cases(cases=4000, seed=1):
    """Rows of the table: by how the saving stands to its uncertainty."""
    rng = np.random.default_rng(seed)
    rows = {}
    for _ in range(cases):
        u = float(np.exp(rng.uniform(np.log(1.0), np.log(60.0))))
        true = u * rng.uniform(-1.0, 6.0)
        read, cost = rng.normal(true, u), float(rng.uniform(50.0, 600.0))
        saved = rng.normal(read, u, 4000)
        raw = result_of(np.where(saved > 0, 12 * cost / np.where(saved > 0, saved, 1.0), np.inf))
        back = 12 * cost / true if true > 0 else np.inf
        kind = "never, or not within 20 years" if back > MOST_MONTHS else (
            "under 2 u" if true < 2 * u else "2 u and more"
        )  # fmt: skip
        row = rows.setdefault(kind, np.zeros(5))
        row[0] += 1
        for n, told in ((1, raw), (3, bounded(raw, MOST_MONTHS))):
            row[n] += told.value is not None
            low = told.low is None or told.low <= min(back, MOST_MONTHS)
            row[n + 1] += low and (told.high is None or back <= told.high)
    return rows


def turned_orders(cases=2000, seed=2):
    """Tables of random options with one more listed: how often it turns the order of two others."""
    rng = np.random.default_rng(seed)
    rows = []
    for count in (2, 3, 5):
        turned = np.zeros(2)
        for _ in range(cases):
            values = rng.uniform(0.0, 1.0, (count + 1, 3)) * np.append(np.ones(count), 4.0)[:, None]
            low, high = values[:-1].min(axis=0), values[:-1].max(axis=0)
            all_low, all_high = values.min(axis=0), values.max(axis=0)
            before = ((values[:-1] - low) / (high - low)).mean(axis=1)
            after = ((values[:-1] - all_low) / (all_high - all_low)).mean(axis=1)
            turned[0] += np.any(np.argsort(before) != np.argsort(after))
            tables = [scored(values[:n]) for n in (count, count + 1)]
            orders = [[r.name for r in t.rows if r.name != f"o{count}"] for t in tables]
            turned[1] += orders[0] != orders[1] and not any(t.no_score for t in tables)
        rows.append((count, *(100 * turned / cases)))
    return rows


def scored(values):
    """A table of options with three effects, on scales from 0 to 4."""
    criteria = [Criterion(name=name, worst=0.0, best=4.0) for name in "abc"]
    criteria.append(Criterion(name="cost", better="less", worst=1.0, best=0.0))
    options = [
        Option(name=f"o{n}", cost=Money(value=0.0), effects={
            name: Effect(value=float(v), evidence="claimed")
            for name, v in zip("abc", row, strict=True)
        })
        for n, row in enumerate(values)
    ]  # fmt: skip
    return compare_options(options, criteria, {}, np.random.default_rng(1), draws=2)


def print_orders():
    print("| options | order turned, scale of those listed | order turned, stated scale |")
    print("| --: | --: | --: |")
    for count, listed, stated in turned_orders():
        print(f"| {count} and one more | {listed:.1f} % | {stated:.1f} % |")
    print()


def print_break_even():
    print(
        "| true saving | cases | draws: a middle | draws: holds the truth | told: a middle | "
        "told: holds the truth |\n| --- | --: | --: | --: | --: | --: |"
    )
    for kind, (count, *cells) in sorted(break_even_cases().items()):
        shares = " | ".join(f"{100 * cell / count:.1f} %" for cell in cells)
        print(f"| {kind} | {count:.0f} | {shares} |")
    print()


def main():
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    print(f"{machine('numpy')}\n")
    print_break_even()
    print_orders()
    if trials == 0:
        return
    text = demo_prints()["solid bracket"].encode()
    held = {"as written": 0, "raised": 0}
    width, truths = {name: [] for name in held}, {}
    start = time.perf_counter()
    for seed in range(1, trials + 1):
        fit = fitted(seed)
        for feeds in held:
            truths.setdefault(feeds, hours(true(fit), text, feeds).value)
            found = hours(fit, text, feeds)
            held[feeds] += found.low <= truths[feeds] <= found.high
            width[feeds].append((found.high - found.low) / truths[feeds])
    print("| feeds | true hours a year | mean width of the interval | held the truth |")
    print("| --- | --: | --: | --: |")
    for feeds, count in held.items():
        mean = float(np.mean(width[feeds]))
        print(f"| {feeds} | {truths[feeds]:.1f} | {mean:.1%} | {count} of {trials} |")
    print(f"\n{time.perf_counter() - start:.0f} s in all")


if __name__ == "__main__":
    main()
