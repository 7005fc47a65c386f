"""How few coupons will do: next coupons in batches, even ladders, and a design told the ceilings.

Run: python benchmarks/capacity_frugal.py [--trials 64] [--workers 2] [--noise 0.006]

Curves from eight classes (benchmarks/random_curves.py), three temperatures, one rig, references
counted. *Next coupons*: a first look of seven flows from 7 to 19 mm³/s, once each, and a second
coupon at the lowest; then, batch by batch, nine coupons where the tool says and one at the lowest
flow for each temperature. *Even ladder*: as many flows from 7 to 19 mm³/s, once each, and a second
coupon at the lowest. *Told*: the lowest and highest flow and a second coupon at the lowest, the
rest evenly within 10 % of each true ceiling. The fit knows the scatter as a plan's budget would
say it. Beside each mean width stands what the plan would have forecast
(``beadworth.trial.planning.forecast``), for the same ladder. A one-sided answer holds when it is
true.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np
import random_curves
from machine import machine

from beadworth import capacity
from beadworth.trial import Reading
from beadworth.trial.planning.forecast import BATCH, ceiling_width

LOWEST, HIGHEST = 7.0, 19.0
FIRST = 7
BATCHES = 4
LADDERS = (7, 11, 15, 19, 25)
Found = tuple[str, int, list[float | None], list[bool]]
"""Kind of design, coupons, widths of the ceilings in mm³/s, whether each interval holds."""


def even_flows(count: int) -> np.ndarray:
    return np.linspace(LOWEST, HIGHEST, count)


def one_trial(seed: int, noise: float) -> list[Found]:
    """All designs on one curve."""
    found = []
    for kind in ("next coupons", "even ladder", "told"):
        rng = np.random.default_rng([31, seed])
        name = list(random_curves.CLASSES)[seed % len(random_curves.CLASSES)]
        curve = random_curves.curve(name, random_curves.usual_ceilings(rng), rng)
        for readings in DESIGNS[kind](curve, rng, noise):
            widths, held = read(readings, curve, noise)
            found.append((kind, len(readings), widths, held))
    return found


def read(
    readings: list[Reading], curve: random_curves.Curve, noise: float
) -> tuple[list[float | None], list[bool]]:
    widths, held = [], []
    for c in capacity.fit(readings, scatter=noise).ceilings:
        truth = curve.truth(c.temperature_c, LOWEST)
        held.append((c.low or 0.0) <= truth <= (c.high or np.inf))
        widths.append(c.high - c.low if c.bound == "interval" else None)
    return widths, held


def chosen(
    curve: random_curves.Curve, rng: np.random.Generator, noise: float
) -> Iterator[list[Reading]]:
    weigh = partial(random_curves.weigh, curve, replicates=1, rng=rng, noise=noise)
    rows = weigh(even_flows(FIRST)) + weigh([LOWEST])
    yield rows
    for _ in range(BATCHES):
        for c in capacity.next_coupons(rows, 3 * BATCH, scatter=noise).coupons:
            flows = [c.flow_mm3_s] * c.count
            rows = rows + weigh(flows, temperatures=(c.temperature_c,))
        rows = rows + weigh([LOWEST])
        yield rows


def even(
    curve: random_curves.Curve, rng: np.random.Generator, noise: float
) -> Iterator[list[Reading]]:
    weigh = partial(random_curves.weigh, curve, replicates=1, rng=rng, noise=noise)
    for count in LADDERS:
        yield weigh(even_flows(count)) + weigh([LOWEST])


def told(
    curve: random_curves.Curve, rng: np.random.Generator, noise: float
) -> Iterator[list[Reading]]:
    weigh = partial(random_curves.weigh, curve, replicates=1, rng=rng, noise=noise)
    for count in (12, 20):
        rows = weigh([LOWEST, LOWEST, HIGHEST])
        for t in curve.ceiling:
            near = curve.truth(t, LOWEST) * np.linspace(0.9, 1.1, count - 3)
            rows += weigh(near, temperatures=(t,))
        yield rows


DESIGNS = {"next coupons": chosen, "even ladder": even, "told": told}


def forecast(kind: str, coupons: int, noise: float) -> str:
    if kind == "told":
        return "–"
    if kind == "even ladder":
        return f"{ceiling_width(even_flows(coupons // 3 - 1), noise, 0.02):.2f}"
    batches = (coupons - 3 * (FIRST + 1)) // (3 * (BATCH + 1))
    return f"{ceiling_width(even_flows(FIRST), noise, 0.02, batches=batches):.2f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=64)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--noise", type=float, default=0.006)
    args = parser.parse_args()
    with ProcessPoolExecutor(args.workers) as pool:
        runs = list(pool.map(partial(one_trial, noise=args.noise), range(args.trials)))
    table: dict[tuple[str, int], list[tuple[list[float | None], list[bool]]]] = {}
    for run in runs:
        for kind, coupons, widths, held in run:
            table.setdefault((kind, coupons), []).append((widths, held))
    print(f"{args.trials} trials, scatter of a coupon {100 * args.noise:g} %\n")
    print("| design | coupons | mean width mm³/s | forecast | one-sided % | held % |")
    print("|---|---|---|---|---|---|")
    for (kind, coupons), rows in sorted(table.items()):
        widths = np.array([[np.nan if w is None else w for w in row] for row, _ in rows])
        shares = np.array([np.mean(held) for _, held in rows])
        error = 100 * shares.std(ddof=1) / np.sqrt(len(shares))
        print(
            f"| {kind} | {coupons} | {np.nanmean(widths):.2f} "
            f"| {forecast(kind, coupons, args.noise)} | {100 * np.isnan(widths).mean():.1f} "
            f"| {100 * shares.mean():.1f} ± {error:.1f} |"
        )
    print(f"\n{machine('numpy', 'scipy')}")


if __name__ == "__main__":
    main()
