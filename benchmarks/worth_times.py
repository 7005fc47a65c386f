"""How far interpolated print times lie from replays at the ceilings in between.

Worth replays each print at the estimate of a ceiling and at both ends of its interval, and
interpolates in the Monte Carlo. This replays the demo's three prints at ceilings in between and
prints the largest error. Usage: python benchmarks/worth_times.py
"""

import time
from dataclasses import replace

import numpy as np
from machine import machine
from scipy.special import ndtri

from beadworth import capacity
from beadworth.demo import LONG_ZONE, STOCK
from beadworth.demo.worth import demo_prints
from beadworth.trial import Reading
from beadworth.worth.times import times_on

HALF = (0.03, 0.1, 0.25)
AT = (-1.9, -1.4, -0.9, -0.4, 0.4, 0.9, 1.4, 1.9)
REACH = float(ndtri(0.975))


def fit_of(flow):
    """A capacity with its knee near a flow at 220 °C."""
    rng = np.random.default_rng(5)
    return capacity.fit(
        [
            Reading(STOCK.name, "PLA", 220.0, float(q), 600.0,
                    1.79 * min(1.0, flow / q) * (1 + 0.002 * float(rng.normal())))
            for q in np.arange(4.0, 26.0, 1.5)
            for _ in range(3)
        ]
    )  # fmt: skip


def largest_error(text, fit, feeds, half):
    """Largest |interpolated − replayed|, as a share of the time and of the swing."""
    (c,) = fit.ceilings
    flow = c.flow_mm3_s
    wide = replace(c, low=flow * (1 - half), high=flow * (1 + half))
    rig = LONG_ZONE.model_copy(update={"name": STOCK.name})
    found = times_on(text, rig, replace(fit, ceilings=(wide,)), feeds)
    worst = 0.0
    for z in AT:
        end = wide.low if z < 0 else wide.high
        there = flow * (end / flow) ** (abs(z) / REACH)
        at = replace(fit, ceilings=(replace(wide, flow_mm3_s=there),))
        replayed = times_on(text, rig, at, feeds).time_s
        worst = max(worst, abs(float(found.at(np.array([z]))[0]) - replayed))
    swing = found.low_s - found.high_s
    return worst / found.time_s, worst / swing if swing > 1e-9 else 0.0, swing / found.time_s


def main():
    print(f"{machine('numpy')}\n")
    fit = fit_of(15.0)
    print(
        "| print | feeds | interval | time moves by | largest error, of the time | of the swing |"
    )
    print("| --- | --- | --: | --: | --: | --: |")
    start = time.perf_counter()
    for name, text in demo_prints().items():
        for feeds in ("as written", "raised"):
            for half in HALF:
                of_time, of_swing, swing = largest_error(text.encode(), fit, feeds, half)
                print(
                    f"| {name} | {feeds} | ± {half:.0%} | {swing:.1%} | {of_time:.3%} | "
                    f"{of_swing:.1%} |"
                )
    print(f"\n{time.perf_counter() - start:.0f} s in all")


if __name__ == "__main__":
    main()
