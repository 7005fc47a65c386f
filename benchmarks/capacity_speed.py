"""How long a fit, a weigh-in answer and a choice of coupons take, and against what.

Run: OMP_NUM_THREADS=1 python benchmarks/capacity_speed.py

Reference in the same run: one singular value decomposition of a 400 × 400 matrix by numpy, a
yardstick for the machine. 72 readings: 3 temperatures × 8 flows × 3 replicates.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from capacity_truths import MORE_TRUTHS, excess_power, hard_limit, soft_knee, trial
from machine import machine

from beadworth import capacity


def best_ms(work: Callable[[], object], repeats: int = 7) -> tuple[float, float]:
    """Fastest and slowest of some runs, ms, after one to warm up."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(1e3 * (time.perf_counter() - start))
    return min(times), max(times)


def main() -> None:
    ceilings = {205.0: 12.0, 215.0: 13.5, 225.0: 14.8}
    flows = np.linspace(7.0, 19.0, 8)
    matrix = np.random.default_rng(0).standard_normal((400, 400))
    yardstick, _ = best_ms(lambda: np.linalg.svd(matrix))
    print("| what | fastest ms | slowest ms | ÷ yardstick | bar |\n|---|---|---|---|---|")
    print(f"| yardstick: numpy SVD 400 × 400 | {yardstick:.0f} | | 1.0 | |")
    truths = {
        "hard limit": hard_limit,
        "power 1.6": excess_power,
        "soft knee, p = 12": soft_knee(12.0),
        "soft knee, p = 8": MORE_TRUTHS["soft knee, p = 8"],
    }
    for name, truth in truths.items():
        rows = trial(truth, ceilings, flows, 3, np.random.default_rng(1))
        low, high = best_ms(lambda rows=rows: capacity.fit(rows))
        times = f"{low:.0f} | {high:.0f} | {low / yardstick:.1f}"
        print(f"| fit of 72 readings, {name} | {times} | 600 ms |")
    rows = trial(soft_knee(12.0), ceilings, flows, 3, np.random.default_rng(1), odd_share=0.04)
    low, high = best_ms(lambda: capacity.fit(rows))
    print(
        f"| the same with odd coupons | {low:.0f} | {high:.0f} | {low / yardstick:.1f} | 600 ms |"
    )
    many = trial(soft_knee(12.0), ceilings, np.linspace(7.0, 19.0, 20), 5, np.random.default_rng(1))
    low, high = best_ms(lambda: capacity.fit(many), 3)
    print(f"| fit of 300 readings | {low:.0f} | {high:.0f} | {low / yardstick:.1f} | 2000 ms |")
    low, high = best_ms(lambda: capacity.judge_coupon(rows[:-1], rows[-1]))
    print(f"| weigh-in answer after 71 | {low:.0f} | {high:.0f} | {low / yardstick:.1f} | 150 ms |")
    low, high = best_ms(lambda: capacity.next_coupons(rows, 6))
    print(f"| next 6 coupons | {low:.0f} | {high:.0f} | {low / yardstick:.1f} | |")
    print(f"\n{machine('numpy', 'scipy')}")


if __name__ == "__main__":
    main()
