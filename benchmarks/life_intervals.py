"""How often the intervals of a life law hold the truth, by the number of failures.

Lives are drawn from a Weibull law of known shape and scale and watched until the stated count
of failures; what had not failed by then counts as running. Printed: the share of fits whose
95 % interval held the truth, with the drop in log likelihood that Beadworth uses and with half
of chi-square, the usual large-sample one.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.stats import chi2

from beadworth.wear import life

RUNS = 1000
SCALE_H = 400.0


def shares(failures: int, parts: int, shape: float) -> tuple[float, float, float]:
    """Shares held for shape and scale, and the middle ratio of the shape's ends."""
    rng = np.random.default_rng(11)
    shape_held = scale_held = 0
    ratios = []
    for _ in range(RUNS):
        lives = np.sort(rng.weibull(shape, parts)) * SCALE_H
        end = lives[failures - 1]
        found = life.weibull_life(np.minimum(lives, end), lives <= end)
        low, high = found.shape.low or 0.0, found.shape.high or math.inf
        shape_held += low <= shape <= high
        scale_held += (found.scale_h.low or 0.0) <= SCALE_H <= (found.scale_h.high or math.inf)
        ratios.append(high / low)
    return shape_held / RUNS, scale_held / RUNS, float(np.median(ratios))


def main() -> None:
    """Print the table."""
    ours = life._drop
    usual = float(chi2.ppf(0.95, 1)) / 2.0
    life.FEWEST_FAILURES = 2
    print(f"{RUNS} fits a row; 95 % intervals; drawn shape 2.0, scale {SCALE_H:g} h")
    print("failures  parts   this drop: shape  scale  high/low   half chi-square: shape  scale")
    for failures, parts in ((3, 5), (5, 5), (5, 8), (5, 15), (10, 16), (20, 32)):
        life._drop = ours
        shape, scale, ratio = shares(failures, parts, 2.0)
        life._drop = lambda count, confidence: usual
        shape_usual, scale_usual, _ = shares(failures, parts, 2.0)
        print(
            f"{failures:8d}  {parts:5d}   {shape:16.3f}  {scale:5.3f}  {ratio:8.1f}   "
            f"{shape_usual:22.3f}  {scale_usual:5.3f}"
        )


if __name__ == "__main__":
    main()
