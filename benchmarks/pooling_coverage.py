"""How often the intervals of pooled trials hold what they say they hold.

python benchmarks/pooling_coverage.py    prints the table of docs/explanation/typical-values.md

Trials are invented and drawn from a seed; nothing here was measured.
"""

from __future__ import annotations

import numpy as np

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


def main() -> None:
    """Print the table."""
    print(f"{RUNS} simulated sets each; u within trials {WITHIN[0]:g} to {WITHIN[1]:g}\n")
    print("| trials | τ between trials | 95 % interval of the mean | 95 % prediction interval |")
    print("| --- | --- | --- | --- |")
    for k in TRIALS:
        for tau in BETWEEN:
            mean, ahead = covered(k, tau)
            print(f"| {k} | {tau:g} | {100 * mean:.0f} % | {100 * ahead:.0f} % |")


if __name__ == "__main__":
    main()
