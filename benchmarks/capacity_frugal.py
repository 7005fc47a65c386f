"""How few coupons will do: next coupons in batches, even ladders, and a design told the ceilings.

Run: python benchmarks/capacity_frugal.py [--trials 64] [--workers 2] [--noise 0.006]
    [--only KIND] [--kept FILE]

Curves from eight classes (benchmarks/random_curves.py), three temperatures, one rig, references
counted. *Next coupons*: a first look of seven flows from 7 to 19 mm³/s, once each, and a second
coupon at the lowest (*first look* stops there); then, batch by batch, nine coupons where the tool
says and one at the lowest flow for each temperature. *Even ladder*: as many flows from 7 to
19 mm³/s, once each, and a second coupon at the lowest. *Told*: a third at the lowest flow, the rest
evenly from 0.95 to 1.15 of each true ceiling. The fit knows the scatter as a plan's budget would
say it. Beside each mean width stands what the plan would have forecast
(``beadworth.trial.planning.forecast``), for the same ladder. A one-sided answer holds when it is
true. Designs are kept in a file, a line each, so that a run can be cut and goes on; ``--trials 0``
prints the table alone.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from functools import partial
from pathlib import Path

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


def one_trial(seed: int, kind: str, noise: float) -> list[Found]:
    """One design, every number of coupons, on one curve."""
    rng = np.random.default_rng([31, seed])
    name = list(random_curves.CLASSES)[seed % len(random_curves.CLASSES)]
    curve = random_curves.curve(name, random_curves.usual_ceilings(rng), rng)
    return [
        (kind, len(readings), *read(readings, curve, noise))
        for readings in DESIGNS[kind](curve, rng, noise)
    ]


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


def first_look(
    curve: random_curves.Curve, rng: np.random.Generator, noise: float
) -> Iterator[list[Reading]]:
    yield next(chosen(curve, rng, noise))


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
        low = count // 3
        rows = weigh([LOWEST] * low)
        for t in curve.ceiling:
            near = curve.truth(t, LOWEST) * np.linspace(0.95, 1.15, count - low)
            rows += weigh(near, temperatures=(t,))
        yield rows


DESIGNS = {"first look": first_look, "next coupons": chosen, "even ladder": even, "told": told}


def forecast(kind: str, coupons: int, noise: float) -> str:
    if kind == "told":
        return "–"
    if kind == "even ladder":
        return f"{ceiling_width(even_flows(coupons // 3 - 1), noise, 0.02):.2f}"
    batches = (coupons - 3 * (FIRST + 1)) // (3 * (BATCH + 1))
    return f"{ceiling_width(even_flows(FIRST), noise, 0.02, batches=batches):.2f}"


def run(trials: int, workers: int, noise: float, only: str, file: Path) -> None:
    """Add the designs that a file lacks, trial by trial."""
    file.parent.mkdir(parents=True, exist_ok=True)
    kept = file.read_text("utf-8").splitlines() if file.exists() else []
    done = {(row["seed"], row["kind"]) for row in map(json.loads, kept)}
    with ProcessPoolExecutor(workers) as pool:
        left = {
            pool.submit(one_trial, seed, kind, noise): {"seed": seed, "kind": kind}
            for seed in range(trials)
            for kind in DESIGNS
            if only in kind and (seed, kind) not in done
        }
        for finished in as_completed(left):
            with file.open("a", encoding="utf-8") as out:
                out.write(json.dumps(left[finished] | {"found": finished.result()}) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=64)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--noise", type=float, default=0.006)
    parser.add_argument("--only", default="", help="designs whose name holds this")
    parser.add_argument("--kept", type=Path, default=Path("build/capacity_frugal.jsonl"))
    args = parser.parse_args()
    run(args.trials, args.workers, args.noise, args.only, args.kept)
    table: dict[tuple[str, int], list[tuple[list[float | None], list[bool]]]] = {}
    for row in map(json.loads, args.kept.read_text("utf-8").splitlines()):
        for kind, coupons, widths, held in row["found"]:
            table.setdefault((kind, coupons), []).append((widths, held))
    print(f"Scatter of a coupon {100 * args.noise:g} %\n")
    print("| design | coupons | trials | mean width mm³/s | forecast | one-sided % | held % |")
    print("|---|---|---|---|---|---|---|")
    for (kind, coupons), rows in sorted(table.items()):
        widths = np.array([[np.nan if w is None else w for w in row] for row, _ in rows])
        shares = np.array([np.mean(held) for _, held in rows])
        error = 100 * shares.std(ddof=1) / np.sqrt(len(shares))
        print(
            f"| {kind} | {coupons} | {len(rows)} | {np.nanmean(widths):.2f} "
            f"| {forecast(kind, coupons, args.noise)} | {100 * np.isnan(widths).mean():.1f} "
            f"| {100 * shares.mean():.1f} ± {error:.1f} |"
        )
    print(f"\n{machine('numpy', 'scipy')}")


if __name__ == "__main__":
    main()
