"""The law of the plan's forecast: widths of ceilings over distance of flows and scatter.

Run: python benchmarks/plan_forecast.py [--trials 16] [--workers 2]

Simulated trials of one rig at three temperatures, curves from eight classes
(benchmarks/random_curves.py), even ladders from 7 to 19 mm³/s, one coupon each and a second one at
the lowest flow. The constants of ``beadworth.trial.planning.forecast`` are fitted to the mean
widths in their logarithm; beside each width stands the law as the plan has it. Next coupons are
``capacity_frugal.py``'s.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np
import random_curves
from machine import machine
from scipy.optimize import least_squares

from beadworth import capacity
from beadworth.trial.planning.forecast import relative_width

FLOWS = (6, 8, 12, 18)
SCATTER = (0.003, 0.006, 0.012)
LOWEST, HIGHEST = 7.0, 19.0


def widths(seed: int, count: int, noise: float) -> list[float]:
    """Width ÷ ceiling of each ceiling known from both sides."""
    rng = np.random.default_rng([41, seed])
    name = list(random_curves.CLASSES)[seed % len(random_curves.CLASSES)]
    curve = random_curves.curve(name, random_curves.usual_ceilings(rng), rng)
    rows = random_curves.weigh(curve, np.linspace(LOWEST, HIGHEST, count), 1, rng, noise=noise)
    rows += random_curves.weigh(curve, [LOWEST], 1, rng, noise=noise)
    found = capacity.fit(rows, scatter=noise).ceilings
    return [(c.high - c.low) / c.flow_mm3_s for c in found if c.bound == "interval"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=16)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    settings, found = [], []
    print(f"{args.trials} trials each\n")
    print("| flows | scatter % | width ÷ ceiling | law | ratio |\n|---|---|---|---|---|")
    with ProcessPoolExecutor(args.workers) as pool:
        for count in FLOWS:
            for noise in SCATTER:
                runs = pool.map(partial(widths, count=count, noise=noise), range(args.trials))
                width = float(np.mean([w for run in runs for w in run]))
                step = (HIGHEST - LOWEST) / (count - 1) / 13.4  # the mean ceiling
                settings.append((step, noise))
                found.append(width)
                law = relative_width(step, noise)
                print(
                    f"| {count} | {100 * noise:g} | {width:.4f} | {law:.4f} | {width / law:.2f} |",
                    flush=True,
                )
    step, noise = np.array(settings).T

    def misfit(p: np.ndarray) -> np.ndarray:
        return np.asarray(np.log((p[0] * step + p[1] * noise * step ** p[2]) / found))

    fitted = least_squares(misfit, (0.3, 10.0, 0.3)).x
    print("\nof step {:.3f}, of scatter {:.1f}, power {:.3f}".format(*fitted))
    print(f"\n{machine('numpy', 'scipy')}")


if __name__ == "__main__":
    main()
