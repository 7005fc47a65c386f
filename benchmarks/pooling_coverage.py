"""How often the intervals of pooled trials hold what they say they hold.

python benchmarks/pooling_coverage.py    prints the table of docs/explanation/typical-values.md

Trials are invented and drawn from a seed; nothing here was measured.
"""

from __future__ import annotations

import numpy as np

from beadworth.typical.censored import pool_censored
from beadworth.typical.pooling import pool

RUNS = 1500
TRIALS = (3, 4, 6, 10)
BETWEEN = (0.05, 0.2, 0.4)
WITHIN = (0.05, 0.25)


def covered(k: int, tau: float) -> tuple[float, float]:
    """Share of intervals that hold the mean, and a further trial's true value."""
    rng = np.random.default_rng(71)
    mean = ahead = 0
    for _ in range(RUNS):
        u = rng.uniform(*WITHIN, k)
        true = 1.0 + tau * rng.standard_normal(k + 1)
        pooled = pool(true[:k] + u * rng.standard_normal(k), u)
        mean += pooled.low <= 1.0 <= pooled.high
        ahead += pooled.prediction_low <= true[k] <= pooled.prediction_high
    return mean / RUNS, ahead / RUNS


def bounded(k: int, tau: float, runs: int = 200) -> tuple[float, ...]:
    """With ladders that end near the mean: bias and coverage without the bounds, and with them.

    And the share of further trials held with them.
    """
    rng = np.random.default_rng(72)
    rows = []
    while len(rows) < runs:
        u = rng.uniform(0.02, 0.06, k)
        true = tau * rng.standard_normal(k + 1)
        y = true[:k] + u * rng.standard_normal(k)
        ends = rng.uniform(-0.05, 0.15, k)
        seen = y < ends
        if seen.sum() < 3:
            continue
        plain, all_of_them = pool(y[seen], u[seen]), pool_censored(y[seen], u[seen], ends[~seen])
        rows.append(
            (
                plain.mean,
                plain.low <= 0 <= plain.high,
                all_of_them.mean,
                all_of_them.low <= 0 <= all_of_them.high,
                all_of_them.prediction_low <= true[k] <= all_of_them.prediction_high,
            )
        )
    return tuple(np.mean(np.array(rows, dtype=float), axis=0))


def main() -> None:
    """Print the table."""
    print(f"{RUNS} simulated sets each; u within trials {WITHIN[0]:g} to {WITHIN[1]:g}\n")
    print("| trials | τ between trials | 95 % interval of the mean | 95 % prediction interval |")
    print("| --- | --- | --- | --- |")
    for k in TRIALS:
        for tau in BETWEEN:
            mean, ahead = covered(k, tau)
            print(f"| {k} | {tau:g} | {100 * mean:.0f} % | {100 * ahead:.0f} % |")
    print("\n200 sets each, ln(ceiling) 0, ladders that end between −0.05 and 0.15\n")
    print("| trials | τ | left out: bias | holds | as bounds: bias | holds | a further trial |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for k in (5, 8, 15):
        for tau in (0.1, 0.2):
            bias, holds, bias_in, holds_in, further = bounded(k, tau)
            cells = (f"{100 * bias:+.1f} %", f"{100 * holds:.0f} %", f"{100 * bias_in:+.1f} %",
                     f"{100 * holds_in:.0f} %", f"{100 * further:.0f} %")  # fmt: skip
            print(f"| {k} | {tau:g} | {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
