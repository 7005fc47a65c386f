"""Trials of one coupon per flow: how often a good one is set aside, and an odd one found.

Run: python benchmarks/lone_coupons.py [--trials 400]

Prints a Markdown table over random curves (random_curves.py), three temperatures, references of
4 mm³/s beside the ladder; one coupon, anywhere within 35 % of loss, is that much lighter. 'Found'
where it alone is set aside, 'another' where a good one is. 'Misread' is the share of those trials
whose likeliest ceiling at that temperature lies more than 1 mm³/s from the one of good coupons,
'before' the same where nothing is set aside. Brackets: 95 % of the binomial (Clopper and Pearson).
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
import random_curves
from machine import machine
from scipy import stats

from beadworth.capacity.model.block import scatter_of
from beadworth.capacity.model.curve import curve_model
from beadworth.capacity.model.depth import too_deep
from beadworth.capacity.model.lone import lone_odd
from beadworth.capacity.model.prepare import Group, groups_of
from beadworth.capacity.model.starts import modes
from beadworth.trial import Reading

LOSS = 0.02
REFERENCE = 4.0
DESIGNS = {
    "9 flows, 2 references, 0.6 %": (9, 2, 0.006),
    "6 flows, 2 references, 0.6 %": (6, 2, 0.006),
    "12 flows, 3 references, 0.4 %": (12, 3, 0.004),
    "9 flows, 2 references, 1 %": (9, 2, 0.01),
}
LIGHT = (0.05, 0.10, 0.20)


def made(seed: int, flows: int, references: int, noise: float) -> list[Reading]:
    """The coupons of one trial."""
    rng = np.random.default_rng([1811, seed])
    kinds = sorted(random_curves.CLASSES)
    ceilings = random_curves.usual_ceilings(rng)
    of = random_curves.curve(kinds[seed % len(kinds)], ceilings, rng)
    top = 1.6 * max(ceilings.values())
    ladder = np.linspace(0.6 * min(ceilings.values()), top, flows)
    asked = np.concatenate([np.full(references, REFERENCE), ladder])
    rows = random_curves.weigh(of, asked, 1, rng, noise=noise)
    return [replace(r, reference=r.flow_mm3_s == REFERENCE) for r in rows]


def group_of(rows: list[Reading], noise: float) -> Group:
    (group,), _ = groups_of(rows, None, scatter_of(noise))
    return group


def ceilings(group: Group, weight: np.ndarray) -> np.ndarray:
    row = modes(curve_model(group.blocks(weight), LOSS, group.scatter))[0].row
    return np.exp(row[: len(group.temperatures)])


def share(of: int, trials: int) -> str:
    interval = stats.binomtest(of, trials).proportion_ci()
    return f"{100 * of / trials:.1f} ({100 * interval.low:.1f} to {100 * interval.high:.1f})"


def main() -> None:
    """Draw, spoil, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=400)
    trials = parser.parse_args().trials
    print(f"{machine()}; {trials} trials a row\n")
    print(
        "| design | one coupon lighter by | found % | another set aside % | misread % | before % |"
    )
    print("| --- | --: | --: | --: | --: | --: |")
    for name, (flows, references, noise) in DESIGNS.items():
        false = 0
        seen = {light: np.zeros(4, int) for light in LIGHT}
        for seed in range(trials):
            rows = made(seed, flows, references, noise)
            group = group_of(rows, noise)
            usable = np.where(too_deep(group, LOSS), 0.0, 1.0)
            false += bool(lone_odd(group, LOSS, usable).any())
            clean = ceilings(group, usable)
            rng = np.random.default_rng([7, seed])
            ladder = [i for i in np.flatnonzero(usable) if not group.readings[i].reference]
            at = int(rng.choice(ladder))
            block = group.temperatures.index(group.temperature[at])
            for light in LIGHT:
                odd = group.readings[at]
                wrong = replace(odd, mass_g=odd.mass_g * (1 - light))
                spoilt = group_of([wrong if r is odd else r for r in rows], noise)
                enters = np.where(too_deep(spoilt, LOSS), 0.0, 1.0)
                aside = lone_odd(spoilt, LOSS, enters)
                after = ceilings(spoilt, np.where(aside, 0.0, enters))
                kept = ceilings(spoilt, enters)
                others = aside.copy()
                others[at] = False
                seen[light] += (
                    aside[at] and not others.any(), others.any(),
                    abs(after[block] - clean[block]) > 1.0, abs(kept[block] - clean[block]) > 1.0,
                )  # fmt: skip
        print(f"| {name} | none | – | {share(false, trials)} | – | – |")
        for light in LIGHT:
            cells = " | ".join(share(int(v), trials) for v in seen[light])
            print(f"| {name} | {100 * light:.0f} % | {cells} |", flush=True)


if __name__ == "__main__":
    main()
