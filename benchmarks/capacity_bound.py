"""How narrow an honest interval could be: read by one who knows the classes curves come from.

Run: python benchmarks/capacity_bound.py [--trials 64] [--curves 4000] [--kept FILE]

Curves are drawn from the eight classes of ``random_curves.py``, and so is a bank of others. The
reader who knows the classes weighs every curve of the bank by how well it explains the coupons, all
ceilings within 1.5 mm³/s of the true one and the widths of the temperatures (6 %) summed out, the
scatter known: the posterior under the very law that truths are drawn from. Averaged over that law
its 95 % intervals hold in 95 of 100, and no reader who knows less can do with much shorter ones
(J. W. Pratt, J. Am. Stat. Assoc. 56 (1961) 549; from memory). Beside it stands what
``capacity.fit`` says of the same coupons.

Designs: the even ladder of the bar, and coupons laid by one who was told every ceiling: a third at
the lowest flow, the rest evenly from 0.95 to 1.15 of it. Trials are kept in a file, a line each, so
that a run can be cut and goes on; ``--trials 0`` prints the table alone.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import random_curves
from machine import machine
from numpy.typing import NDArray

from beadworth import capacity
from beadworth.trial import Reading

Array = NDArray[np.float64]

SCATTER = 0.006
LOWEST = 7.0
REACH, STEP = 1.5, 0.08
"""mm³/s about the true ceiling that the reader looks in, and how finely."""
PLACES: Array = np.linspace(-1.4, 1.1, 1251)
"""ln(flow ÷ ceiling) of the bank's tables."""
WIDTH = np.exp(0.06 * np.array([-1.8, -0.9, 0.0, 0.9, 1.8]))
WIDTH_SHARE = np.exp(-0.5 * np.array([1.8, 0.9, 0.0, 0.9, 1.8]) ** 2)
LOSSES: Array = random_curves.STATED + np.linspace(0.0, 0.2, 401)
"""−ln f above the ceiling's own, where a lowest flow has lost something already."""
FINE: Array = np.arange(5.0, 25.0, 0.01)

# coupons at the lowest flow, others, from and to times the ceiling; None: the bar's ladder
DESIGNS: dict[str, tuple[int, int, float, float] | None] = {
    "even ladder, 72": None,
    "told, 36": (4, 8, 0.95, 1.15),
    "told, 60": (7, 13, 0.95, 1.15),
}


def bank(count: int) -> tuple[Array, Array]:
    """−ln f at :data:`PLACES`, and the places of :data:`LOSSES`, a row for each curve."""
    rng = np.random.default_rng(9)
    names = list(random_curves.CLASSES)
    tables = np.empty((count, PLACES.size))
    places = np.empty((count, LOSSES.size))
    for i in range(count):
        table = random_curves.curve(names[i % len(names)], {1.0: 1.0}, rng).table
        tables[i] = np.interp(PLACES, random_curves.GRID, table)
        places[i] = np.interp(LOSSES, table, random_curves.GRID)
    return tables, places


def coupons(
    design: tuple[int, int, float, float] | None, seed: int
) -> tuple[list[Reading], dict[float, float]]:
    """A trial, and the true ceilings."""
    rng = np.random.default_rng([71, seed])
    name = list(random_curves.CLASSES)[seed % len(random_curves.CLASSES)]
    curve = random_curves.curve(name, random_curves.usual_ceilings(rng), rng)
    truth = {t: curve.truth(t, LOWEST) for t in curve.ceiling}
    if design is None:
        ladder = np.linspace(LOWEST, 19.0, 8)
        return random_curves.weigh(curve, ladder, 3, rng, noise=SCATTER), truth
    low, others, start, end = design
    rows = random_curves.weigh(curve, np.full(1, LOWEST), low, rng, noise=SCATTER)
    for t, ceiling in truth.items():
        flows = ceiling * np.linspace(start, end, others)
        rows += random_curves.weigh(curve, flows, 1, rng, noise=SCATTER, temperatures=(t,))
    return rows, truth


def explained(
    rows: list[Reading], ceiling: float, known: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Log likelihood of one temperature's coupons, and the ceiling: (curves, nodes) each."""
    tables, places = known
    flow = np.array([r.flow_mm3_s for r in rows])
    y = np.log([r.mass_g / r.filament_mm for r in rows])
    flows, cell = np.unique(flow, return_inverse=True)
    count = np.bincount(cell)
    mean = np.bincount(cell, y - y.mean()) / count
    log_c = np.log(ceiling + np.arange(-REACH, REACH + STEP / 2, STEP))
    log_c, width = (a.ravel() for a in np.meshgrid(log_c, WIDTH, indexing="ij"))
    s0, s1, s2, lowest = 0.0, 0.0, 0.0, np.empty(0)
    for q, z, n in zip(flows, mean, count, strict=True):
        at = ((np.log(q) - log_c) * width - PLACES[0]) / (PLACES[1] - PLACES[0])
        at = np.clip(at, 0.0, PLACES.size - 1.001)
        j = at.astype(np.intp)
        h = tables[:, j] + (at - j) * (tables[:, j + 1] - tables[:, j])
        lowest = h if lowest.size == 0 else lowest
        s0, s1, s2 = s0 + n, s1 + n * (z + h), s2 + n * (z + h) ** 2
    j = np.clip(lowest / (LOSSES[1] - LOSSES[0]), 0, LOSSES.size - 1).round().astype(np.intp)
    place = np.take_along_axis(places, j, axis=1)
    share = np.log(np.tile(WIDTH_SHARE, log_c.size // WIDTH.size))
    return -0.5 * (s2 - s1**2 / s0) / SCATTER**2 + share, np.exp(log_c + place / width)


def least(
    rows: list[Reading], truth: dict[float, float], known: tuple[Array, Array]
) -> tuple[list[float], list[bool], float]:
    """Widths of the reader who knows the classes, whether they hold, and how many curves count."""
    parts = []
    for t, ceiling in truth.items():
        log_l, found = explained([r for r in rows if r.temperature_c == t], ceiling, known)
        parts.append((np.exp(log_l - log_l.max()), found))
    each = np.array([weight.sum(axis=1) for weight, _ in parts])
    each /= each.max(axis=1, keepdims=True)
    widths, held = [], []
    for b, ((weight, found), ceiling) in enumerate(zip(parts, truth.values(), strict=True)):
        others = np.delete(each, b, axis=0).prod(axis=0)
        share, _ = np.histogram(found, FINE, weights=weight * others[:, None])
        low, high = np.interp([0.025, 0.975], np.cumsum(share) / share.sum(), FINE[1:])
        widths.append(float(high - low))
        held.append(bool(low <= ceiling <= high))
    joint = each.prod(axis=0)
    return widths, held, float(joint.sum() ** 2 / (joint**2).sum())


def one_trial(seed: int, name: str, known: tuple[Array, Array]) -> dict[str, object]:
    rows, truth = coupons(DESIGNS[name], seed)
    widths, held, curves = least(rows, truth, known)
    ceilings = capacity.fit(rows, scatter=None if DESIGNS[name] is None else SCATTER).ceilings
    own = [c.high - c.low if c.bound == "interval" else None for c in ceilings]
    right = [(c.low or 0.0) <= truth[c.temperature_c] <= (c.high or np.inf) for c in ceilings]
    return {
        "design": name, "seed": seed, "least": widths, "least_held": held, "curves": curves,
        "fit": own, "fit_held": list(right),
    }  # fmt: skip


def table(rows: list[dict]) -> None:
    print("| design | trials | least width mm³/s | held % | width of the fit mm³/s | held % |")
    print("|---|---|---|---|---|---|")
    for name in DESIGNS:
        mine = [r for r in rows if r["design"] == name]
        if len(mine) < 2:
            continue
        widths = np.array([np.mean(r["least"]) for r in mine])
        both = [w for r in mine for w in r["fit"] if w is not None]
        error = widths.std(ddof=1) / np.sqrt(len(widths))
        print(
            f"| {name} | {len(mine)} | {widths.mean():.2f} ± {error:.2f} "
            f"| {100 * np.mean([r['least_held'] for r in mine]):.1f} | {np.mean(both):.2f} "
            f"| {100 * np.mean([h for r in mine for h in r['fit_held']]):.1f} |"
        )
    few = np.quantile([r["curves"] for r in rows], 0.1)
    print(f"\nCurves of the bank that count in a trial: more than {few:.0f} in nine of ten.")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=64)
    parser.add_argument("--curves", type=int, default=4000)
    parser.add_argument("--kept", type=Path, default=Path("build/capacity_bound.jsonl"))
    args = parser.parse_args()
    args.kept.parent.mkdir(parents=True, exist_ok=True)
    kept = args.kept.read_text("utf-8").splitlines() if args.kept.exists() else []
    done = {(r["design"], r["seed"]) for r in map(json.loads, kept)}
    known = bank(args.curves) if args.trials else (np.empty(0), np.empty(0))
    for seed in range(args.trials):
        for name in DESIGNS:
            if (name, seed) not in done:
                with args.kept.open("a", encoding="utf-8") as out:
                    out.write(json.dumps(one_trial(seed, name, known)) + "\n")
    table([json.loads(line) for line in args.kept.read_text("utf-8").splitlines()])
    print(f"\n{machine('numpy', 'scipy')}")


if __name__ == "__main__":
    main()
