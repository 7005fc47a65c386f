"""Coupons that 'next coupons' needs for a mean interval, against a uniform ladder.

Run: python benchmarks/capacity_frugal.py [--trials 12] [--workers 2]

Target: mean width of the three ceilings' 95 % intervals at most 0.40 mm³/s, 0.6 % noise.
Knees lie between 11 and 15.8 mm³/s.

*Uniform*: every temperature gets an even ladder (7 to 19, or 5 to 25 mm³/s), made finer one
flow at a time (4, 5, 6 … flows, one coupon each) or made of 8 flows with 1, 2, 3 … coupons
each, until the target is met; whichever needs fewer coupons counts. *Next coupons*: 4 flows ×
3 temperatures once, then 3 coupons at a time where the tool says. *Best possible*: the
c-optimal design for a curve whose shape and ceilings are known beforehand and a scatter known
exactly (linear theory), over the same for an even ladder: no design that has to learn the
curve does better.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np
from capacity_truths import BAR_TRUTHS, Array, Truth, soft_delivery, trial
from machine import machine

from beadworth import capacity
from beadworth.trial import Reading

TARGET = 0.40
TEMPERATURES = (205.0, 215.0, 225.0)
LADDERS = ((7.0, 19.0), (5.0, 25.0))
MOST = 150


def ceilings_of(rng: np.random.Generator) -> dict[float, float]:
    shift = rng.uniform(-1.0, 1.0)
    return dict(zip(TEMPERATURES, (12.0 + shift, 13.5 + shift, 14.8 + shift), strict=True))


def mean_width(readings: list[Reading]) -> float:
    """Mean width; infinite while a ceiling is known from one side only."""
    found = capacity.fit(readings).ceilings
    if any(c.bound != "interval" for c in found):
        return float("inf")
    return float(np.mean([c.high - c.low for c in found]))


def uniform(seed: int, truth: Truth, kind: str, ladder: tuple[float, float]) -> int:
    """Coupons a uniform ladder needs, grown in one of two ways."""
    for step in range(4, 45) if kind == "finer" else range(1, 9):
        rng = np.random.default_rng([4, seed])
        ceilings = ceilings_of(rng)
        flows = np.linspace(*ladder, step if kind == "finer" else 8)
        rows = trial(truth, ceilings, flows, 1 if kind == "finer" else step, rng)
        if mean_width(rows) <= TARGET:
            break
    return len(rows)


def adaptive(seed: int, truth: Truth, ladder: tuple[float, float]) -> tuple[int, float]:
    """Coupons until the target, and the share of the intervals that then hold the truth."""
    rng = np.random.default_rng([4, seed])
    ceilings = ceilings_of(rng)
    rows = trial(truth, ceilings, np.linspace(*ladder, 4), 1, rng)
    while mean_width(rows) > TARGET and len(rows) < MOST:
        for c in capacity.next_coupons(rows, 3).coupons:
            ceiling = {c.temperature_c: ceilings[c.temperature_c]}
            rows += trial(truth, ceiling, [c.flow_mm3_s], c.count, rng)
    found = capacity.fit(rows).ceilings
    held = [c.low <= ceilings[c.temperature_c] <= c.high for c in found]
    return len(rows), float(np.mean(held))


def least_possible(name: str, ladder: tuple[float, float]) -> float:
    """Coupons of the best design ÷ those of an even ladder, curve and scatter known (theory)."""
    shapes: dict[str, tuple[Callable[..., Array], tuple[float, ...]]] = {
        "hard limit": (lambda q, c: np.minimum(1.0, 0.98 * c / q), ()),
        "power 1.6 of the excess": (
            lambda q, c, m, a: (
                1 - np.minimum(a * np.maximum(q - c + (0.02 / a) ** (1 / m), 0) ** m, 0.9)
            ),
            (1.6, 0.012),
        ),
        "soft knee, p = 12": (soft_delivery, (12.0,)),
    }
    curve, shape = shapes[name]
    ceilings = (12.0, 13.5, 14.8)
    flows = np.arange(ladder[0], 1.15 * ladder[1], 0.25)
    rows = []
    for i, c in enumerate(ceilings):
        point = np.array([c, *shape])
        for q in flows:
            g = np.zeros(6 + len(shape))
            g[i] = 1.0
            for place, j in zip((3 + i, *range(6, 6 + len(shape))), range(len(point)), strict=True):
                step = np.zeros(len(point))
                step[j] = 1e-5 * point[j]
                up, down = (curve(np.array([q]), *(point + s * step))[0] for s in (1, -1))
                g[place] = (np.log(up) - np.log(down)) / (2 * step[j])
            rows.append(g / 0.006)
    jacobian = np.array(rows)

    def sds(weight: Array) -> tuple[Array, Array]:
        information = (jacobian * weight[:, None]).T @ jacobian
        inverse = np.linalg.inv(information + 1e-9 * np.eye(len(information)))
        return np.sqrt(np.diag(inverse)[3:6]), inverse[3:6]

    even = np.tile((flows <= ladder[1]).astype(float), 3)
    start, _ = sds(even / even.sum())
    weight = np.full(len(jacobian), 1 / len(jacobian))
    for _ in range(3000):  # multiplicative algorithm for a c-optimal design
        sd, rows_of = sds(weight)
        weight *= np.sqrt(((jacobian @ rows_of.T) ** 2 / sd).sum(axis=1))
        weight /= weight.sum()
    best, _ = sds(weight)
    return float((best.mean() / start.mean()) ** 2)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=12)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    print(f"Coupons for a mean interval of {TARGET} mm³/s: {args.trials} trials per truth")
    with ProcessPoolExecutor(args.workers) as pool:
        for ladder in LADDERS:
            table(pool, range(args.trials), ladder)
    print(f"\n{machine('numpy', 'scipy')}")


def table(pool: ProcessPoolExecutor, seeds: range, ladder: tuple[float, float]) -> None:
    """One table: coupons by truth for ladders over one range."""
    print(f"\nLadders from {ladder[0]:g} to {ladder[1]:g} mm³/s\n")
    print(
        "| truth | uniform, finer | uniform, 8 flows replicated | next coupons | of the better "
        "uniform | best possible | intervals that hold |\n|---|---|---|---|---|---|---|"
    )
    finer, again, chosen, least = [], [], [], []
    for name, truth in BAR_TRUTHS.items():
        work = {"truth": truth, "ladder": ladder}
        finer.append(np.mean(list(pool.map(partial(uniform, kind="finer", **work), seeds))))
        again.append(np.mean(list(pool.map(partial(uniform, kind="again", **work), seeds))))
        runs = list(pool.map(partial(adaptive, **work), seeds))
        counts = np.array([n for n, _ in runs])
        chosen.append(counts.mean())
        least.append(least_possible(name, ladder))
        print(
            f"| {name} | {finer[-1]:.1f} | {again[-1]:.1f} | {counts.mean():.1f} ± "
            f"{counts.std(ddof=1) / np.sqrt(len(counts)):.1f} | "
            f"{100 * chosen[-1] / min(finer[-1], again[-1]):.0f} % | {100 * least[-1]:.0f} % | "
            f"{100 * np.mean([h for _, h in runs]):.0f} % |",
            flush=True,
        )
    better = np.minimum(finer, again)
    print(
        f"\nMean of the three ratios: {100 * np.mean(chosen / better):.0f} % of the better uniform "
        f"ladder (best possible {100 * np.mean(least):.0f} %), "
        f"{100 * np.mean(np.array(chosen) / np.array(again)):.0f} % of 8 flows replicated. "
        f"All coupons together: {100 * sum(chosen) / better.sum():.0f} % of the better uniform."
    )


if __name__ == "__main__":
    main()
