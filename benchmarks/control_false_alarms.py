"""How soon a chart of a check that never changes gives a signal, by the size of its baseline.

Normal readings without any change; limits from the first readings, as the wear log takes them.
Printed: the share of logs with a false signal within the next 30 readings, for each chart and
for both together, and the same once the level has moved by one standard deviation.
"""

from __future__ import annotations

import numpy as np

from beadworth.wear.control import ewma_chart, individuals_chart

RUNS = 1500
AHEAD = 30


def shares(baseline: int, shift: float) -> np.ndarray:
    """Shares of logs that signal: limits; average; both; and with steps and runs as well."""
    rng = np.random.default_rng(3)
    counts = np.zeros(4)
    for _ in range(RUNS):
        good = rng.standard_normal(baseline)
        values = [*good, *(shift + rng.standard_normal(AHEAD))]
        single = individuals_chart(values, baseline=baseline, more_rules=True)
        base = single.baseline
        average = ewma_chart(values, center=base.center, sigma=base.sigma)
        rules = {signal.rule for signal in single.signals if signal.index >= baseline}
        beyond = "beyond a limit" in rules
        drift = any(signal.index >= baseline for signal in average.signals)
        counts += [beyond, drift, beyond or drift, bool(rules) or drift]
    return counts / RUNS


def main() -> None:
    """Print the table."""
    print(f"{RUNS} logs a row, {AHEAD} readings after the baseline; share with a signal")
    print("shift  baseline   limits   average   both   with steps and runs")
    for shift in (0.0, 1.0):
        for baseline in (5, 10, 20, 50):
            limits, average, both, every = shares(baseline, shift)
            print(
                f"{shift:5.1f}  {baseline:8d}   {limits:6.2f}   {average:7.2f}   {both:4.2f}   "
                f"{every:4.2f}"
            )


if __name__ == "__main__":
    main()
